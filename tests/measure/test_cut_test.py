"""Cutting force from power: published cases back to their k_c, and round trips."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Sequence

import pytest

from kiosk.hold.cutter import Cutter, Engagement, design_k_ref
from kiosk.hold.cutting import cutter_load
from kiosk.hold.materials import Kienzle, Value, materials_from
from kiosk.resources import asset
from kiosk.shop import CutTest
from kiosk.shop.cutting import check_geometry, grained

DAY = datetime.date(2026, 11, 20)
MATERIALS = materials_from(asset("materials.toml").read_text(encoding="utf-8"))


def just(number: float) -> Value:
    return Value(number, number, number, "C", "of the example")


def cut(readings: Sequence[float]) -> CutTest:
    """A cut, as in ``CASES``, with 300 W idle power and no scatter."""
    d, ae, ap, fz, teeth, n, watt = readings
    z = int(teeth)
    return CutTest(
        "mdf", None, "sharp", DAY, "07", "20 C", d, z, ap, ae, fz * z * n, n,
        (300.0 + watt,) * 3, (300.0,),
    )  # fmt: skip


# Published laws of force (VDI 3323 groups; Palubicki, Materials 14 (2021) 2208 for the last; wood
# and MDF exponents common practice) through P = k_c x MRR, chip geometry of Tschaetsch ch. 10 and
# Altintas ch. 2: D, ae, ap mm, fz mm, z, n 1/min, P W -> hm mm, k_c N/mm2.
CASES = {
    "aluminium slot": (6, 6, 2, 0.05, 2, 18000, 596.607, 0.0318310, 1657.24),
    "aluminium side": (12, 3, 5, 0.08, 2, 12000, 868.607, 0.0381972, 1809.60),
    "brass side": (8, 2, 3, 0.05, 2, 8000, 153.515, 0.0238732, 1918.94),
    "MDF slot": (12, 12, 6, 0.3, 2, 18000, 426.938, 0.190986, 32.9427),
    "oak side": (16, 4, 18, 0.25, 2, 18000, 507.558, 0.119366, 46.9961),
    "particleboard slot": (20, 20, 8, 0.4, 2, 18000, 1443.84, 0.254648, 37.6),
}


@pytest.mark.parametrize("name", CASES)
def test_power_goes_back_to_the_force_that_it_came_from(name: str) -> None:
    *readings, chip_mm, k_mpa = CASES[name]
    test = cut(readings)
    assert test.chip_mm == pytest.approx(chip_mm, rel=1e-5)
    assert test.repeats.mean == pytest.approx(k_mpa, rel=1e-5)
    assert test.trouble() is None


@pytest.mark.parametrize(
    ("name", "m", "exact_n", "by_mean_chip_n"),
    [
        # The mean force of a tooth, integrated over the arc and by the mean chip: both published
        # with these cases.  Their ratio goes with arc and exponent alone, not with the feed.
        ("aluminium slot", 0.25, 102.379, 105.503),
        ("aluminium side", 0.25, 333.626, 345.608),
    ],
)
def test_the_reference_is_worked_out_over_the_whole_arc(
    name: str, m: float, exact_n: float, by_mean_chip_n: float
) -> None:
    fine = cut(CASES[name][:7])
    test = dataclasses.replace(fine, feed_mm_min=50.0 * fine.feed_mm_min)  # no chip so thin it rubs
    row = Kienzle(just(1.0), just(m), just(m))
    by_mean_chip = (test.chip_mm / 0.1) ** m
    ratio = test.at_reference(1.0, row) / by_mean_chip
    assert ratio == pytest.approx(by_mean_chip_n / exact_n, rel=1e-4)


def test_a_force_without_an_exponent_is_its_own_reference() -> None:
    test = cut(CASES["particleboard slot"][:7])
    row = Kienzle(just(1.0), just(0.0), just(0.0))
    # the thinnest chips, 0.4 sin(phi) < 0.01 mm, rub: they add 0.03 % to the mean chip
    assert test.at_reference(37.6, row) == pytest.approx(37.6, rel=5e-4)


@pytest.mark.parametrize("width_mm", [2.0, 6.0, 12.0])
@pytest.mark.parametrize("fz_mm", [0.05, 0.15, 0.4])
def test_the_power_of_the_model_comes_back_as_the_k_ref_that_made_it(
    width_mm: float, fz_mm: float
) -> None:
    mdf = MATERIALS["mdf"]
    row = Kienzle(just(45e6), mdf.kc_across.m_thin, mdf.kc_across.m_thick)
    stuff = dataclasses.replace(mdf, kc_along=row, kc_across=row, kr=just(0.0))
    cutter = Cutter("straight", 12e-3, 2, 0.0, 0.0, "sharp")
    feed_mm_min = fz_mm * 2 * 18000
    use = Engagement("side", 6e-3, width_mm / 1e3, feed_mm_min / 60e3, 300.0, False)
    watt = cutter_load(cutter, stuff, use, None).power_w
    test = cut((12.0, width_mm, 6.0, fz_mm, 2, 18000.0, watt))
    assert test.at_reference(test.repeats.mean, row) == pytest.approx(45.0, rel=0.01)


def test_losses_between_meter_and_cutter_are_taken_off_when_known() -> None:
    test = cut(CASES["MDF slot"][:7])
    lossy = dataclasses.replace(test, efficiency=0.8)
    assert lossy.repeats.mean == pytest.approx(0.8 * 32.9427, rel=1e-5)


def test_one_idle_power_or_one_for_each_cut() -> None:
    test = dataclasses.replace(
        cut(CASES["MDF slot"][:7]), powers_w=(700.0, 710.0, 720.0), idle_w=(300.0, 310.0, 320.0)
    )
    assert test.repeats.spread == 0.0
    uneven = dataclasses.replace(test, idle_w=(300.0, 310.0))
    assert check_geometry(uneven) == (("idle_w", "needs one number, or one for each of powers_w"),)


def test_a_cut_that_hardly_shows_and_a_chip_too_thin_are_refused() -> None:
    light = dataclasses.replace(cut(CASES["MDF slot"][:7]), powers_w=(350.0,) * 3)
    assert "adds only 17 %" in str(light.trouble())
    less = dataclasses.replace(light, powers_w=(290.0,) * 3)
    assert "adds only 0 %" in str(less.trouble())
    thin = dataclasses.replace(cut(CASES["MDF slot"][:7]), feed_mm_min=900.0)
    assert "mean chip is 0.016 mm" in str(thin.trouble())


def test_the_table_gets_the_high_end_and_the_mean_of_a_fresh_edge() -> None:
    test = dataclasses.replace(
        cut(CASES["particleboard slot"][:7]), powers_w=(1743.84, 1703.84, 1783.84), edge="used"
    )
    row = MATERIALS["particleboard"].kc_across
    found = test.kienzle(row)
    assert found.k_ref_pa.high == pytest.approx(1e6 * test.used(row))
    # 1.3: what the model puts on a used edge, taken off a cut that was made with one
    assert found.k_ref_pa.typical * 1.3 == pytest.approx(
        1e6 * test.at_reference(test.repeats.mean, row)
    )
    assert (found.m_thin, found.m_thick, found.k_ref_pa.grade) == (row.m_thin, row.m_thick, "A")
    # a job with the same edge counts with the high end, one with a blunt edge with more
    assert design_k_ref(found, "used") == found.k_ref_pa.high
    assert design_k_ref(found, "blunt") == pytest.approx(found.k_ref_pa.typical * 1.6)


def test_a_stated_value_can_raise_what_is_used_but_not_lower_it() -> None:
    test = cut(CASES["MDF slot"][:7])
    row = MATERIALS["mdf"].kc_across
    assert dataclasses.replace(test, stated=900.0).used(row) == 900.0
    assert dataclasses.replace(test, stated=1.0).used(row) == test.allowed(row)


def test_a_slot_never_counts_as_along_the_grain() -> None:
    slot = dataclasses.replace(cut(CASES["oak side"][:7]), material="oak", grain="along")
    assert check_geometry(slot) == ()  # 4 mm of 16 mm: a narrow side cut
    wide = dataclasses.replace(slot, width_mm=4.5)
    assert [key for key, _ in check_geometry(wide)] == ["grain"]
    too_wide = dataclasses.replace(slot, width_mm=17.0)
    assert [key for key, _ in check_geometry(too_wide)] == ["width_mm", "grain"]


def test_wood_has_a_grain_and_sheets_have_none() -> None:
    assert grained(MATERIALS["oak"])
    assert not grained(MATERIALS["pmma"])
    assert not grained(MATERIALS["particleboard"])
