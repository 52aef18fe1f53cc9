"""Friction from pulls and tilts, worked by hand."""

from __future__ import annotations

import dataclasses
import datetime
import math

import pytest

from kiosk.shop import FrictionTest

DAY = datetime.date(2026, 11, 20)
BASE = FrictionTest("mdf", "machined", "clean", "lip", "nitrile", "pull", DAY, "07", "swept")
PULL = dataclasses.replace(
    BASE, pulls_n=(430.0, 440.0, 436.0), mass_kg=2.0, cups=4, seal_diameter_mm=68.0, vacuum_kpa=50.0
)
TILT = dataclasses.replace(BASE, method="tilt", angles_deg=(31.0, 31.0, 31.0))


def test_a_pull_on_four_held_cups_worked_by_hand() -> None:
    # 4 cups of 68 mm: 4 x 3631.68 mm2 at 50 kPa = 726.34 N, and 2 kg = 19.61 N: 745.95 N
    assert PULL.pressing_n() == pytest.approx(745.95, abs=0.01)
    assert PULL.repeats.values[0] == pytest.approx(430.0 / 745.95, rel=1e-5)


def test_a_piece_on_unheld_cups_is_pulled_against_its_weight() -> None:
    # 3 kg = 29.42 N; 15 N moves it: 0.5099
    test = dataclasses.replace(BASE, method="weight", mass_kg=3.0, pulls_n=(15.0, 15.0, 15.0))
    assert test.repeats.mean == pytest.approx(0.50986, abs=1e-5)


def test_a_tilt_is_the_tangent_of_its_angle() -> None:
    # the reference value of a tilt test: tan 31 deg = 0.60086
    assert TILT.repeats.mean == pytest.approx(0.60086, abs=5e-6)
    flat = dataclasses.replace(TILT, angles_deg=(45.0, 45.0, 45.0))
    assert flat.repeats.mean == pytest.approx(1.0)


def test_a_shaken_part_is_counted_with_three_quarters() -> None:
    # CTU Code Annex 7 App. 2: sliding friction is 75 % of static.  No scatter: the end is the mean.
    same = dataclasses.replace(PULL, pulls_n=(436.0,) * 3)
    assert same.used == pytest.approx(0.75 * 436.0 / 745.95, rel=1e-5)


def test_a_light_test_of_a_rubber_lip_is_taken_down_further() -> None:
    assert TILT.used == pytest.approx(0.60086 * 0.75 * 0.8, abs=1e-5)
    assert dataclasses.replace(TILT, contact="stop", lip=None).used == pytest.approx(
        0.60086 * 0.75, abs=1e-5
    )
    gentle = dataclasses.replace(PULL, pulls_n=(100.0,) * 3, vacuum_kpa=10.0)
    assert gentle.light
    assert not PULL.light


def test_a_gauge_that_may_show_too_little_is_taken_off() -> None:
    # at 50 kPa shown and 51 there, 14.53 N more press: 745.95 / 760.48
    unsure = dataclasses.replace(PULL, gauge_error_kpa=1.0)
    assert unsure.used / PULL.used == pytest.approx(745.95 / 760.48, rel=1e-5)


def test_the_value_for_the_table_has_the_used_number_as_its_low_end() -> None:
    value = PULL.value()
    assert value.low == PULL.used < PULL.repeats.low_end
    assert (value.typical, value.high) == (PULL.repeats.mean, max(PULL.repeats.values))
    assert value.grade == "A"
    assert value.source == "measured here 2026-11-20 by 07: pull, 3 repeats, spread 2 %"


def test_a_stated_value_can_lower_what_is_used_but_not_raise_it() -> None:
    assert dataclasses.replace(PULL, stated=0.2).used == 0.2
    assert dataclasses.replace(PULL, stated=0.9).used == PULL.used


def test_what_cannot_be_is_refused_in_words() -> None:
    wild = dataclasses.replace(TILT, angles_deg=(70.0, 70.0, 70.0))
    assert "not believed" in str(wild.trouble())
    slippery = dataclasses.replace(TILT, angles_deg=(1.0, 1.0, 1.0))
    assert "no friction is left" in str(slippery.trouble())
    assert TILT.trouble() is None


def test_it_fits_only_what_it_was_measured_on() -> None:
    words = ("mdf", "machined", "clean", "nitrile", "lip")
    assert PULL.fits(*words)
    others = ("beech", "laminate", "dusty", "silicone", "stop")
    for index, other in enumerate(others):
        assert not PULL.fits(*words[:index], other, *words[index + 1 :])
    stop = dataclasses.replace(PULL, contact="stop", lip=None)
    assert stop.fits("mdf", "machined", "clean", "silicone", "stop")
    assert math.isclose(stop.pressing_n(), PULL.pressing_n())
