"""Vacuum supply and bending in a plan, against hand-worked balances and beam theory."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy.optimize import brentq

from kiosk.job.plan import Plan
from tests.job.jobs import HEAD, JOB, SITE, codes, plan_of

PUMP = "[pump]\ncurve = [[0.0, 40.0], [90.0, 0.0]]\n"
PIPE = "[[pipe]]\nlength_m = 8.0\nbore_mm = 20.0\nfittings_k = 6.0\n"
TIGHT = JOB.replace('underside = "machined"', 'underside = "laminate"')


def gauge(role: str) -> str:
    return (
        f'[[gauge]]\nname = "{role}"\nrole = "{role}"\nkind = "register"\n'
        'address = "modbus-tcp://10.0.0.9:502"\nlayout = "vacuum-int32-Pa"\nerror_kpa = 1.0\n'
    )


def test_the_expected_vacuum_balances_pump_lips_and_lowered_seats(tmp_path: Path) -> None:
    """Worked apart: linear pump curve, 12 lips of 60 mm, 12 holes of 0.3 mm in the lowered seats.

    Choked orifice m = 0.6847315 Cd A p / sqrt(R T), Cd 0.8 (isentropic flow, gamma 1.4); lips
    q = 3.95e-10 m2/(Pa s) x length x (p1^2 - p2^2) / (2 p1); all as free air at 101325 Pa.
    """
    air, rt = 101325.0, 287.05 * 293.15

    def surplus(vacuum: float) -> float:
        pumped = 40.0 / 3600.0 * (1.0 - vacuum / 90e3)
        lips = 3.95e-10 * 12 * math.pi * 0.060 * (air**2 - (air - vacuum) ** 2) / (2.0 * air)
        area = 12 * math.pi * 0.3e-3**2 / 4.0
        holes = 0.6847315 * 0.8 * area * air / math.sqrt(rt) * rt / air
        return pumped - lips - holes

    expected = brentq(surplus, 60e3, 90e3) / 1e3
    plan = plan_of(tmp_path, TIGHT, site=SITE + PUMP)
    assert plan.predicted_kpa == pytest.approx(expected, rel=1e-4)


def test_a_board_that_lets_air_through_lowers_what_the_gauge_reads(tmp_path: Path) -> None:
    tight, open_ = (plan_of(tmp_path, job, site=SITE + PUMP) for job in (TIGHT, JOB))
    assert tight.predicted_kpa is not None
    assert open_.predicted_kpa is not None
    assert open_.predicted_kpa < tight.predicted_kpa - 1.0


def test_pipes_make_the_drop_of_a_pump_gauge_and_none_of_a_table_gauge(tmp_path: Path) -> None:
    site = SITE + PUMP + PIPE + gauge("pump") + gauge("table")
    plan = plan_of(tmp_path, site=site)
    drops = {row.gauge: row.drop_kpa for row in plan.allowances}
    along_kpa = drops["pump"] - drops["table"]
    assert along_kpa > 0.05
    alone = plan_of(tmp_path, site=SITE + PUMP + PIPE + gauge("pump"))
    assert alone.drop_kpa == drops["pump"]
    assert alone.predicted_kpa == pytest.approx((plan.predicted_kpa or 0.0) + along_kpa)
    assert not {"no_pump", "assumed_gauge_error"} & codes(plan)


def test_pipes_that_end_at_the_table_leave_the_drop_to_the_cups_assumed(tmp_path: Path) -> None:
    """Else a site file that says more of its pipes would ask for less vacuum."""
    bare = plan_of(tmp_path, site=SITE + gauge("table"))
    piped = plan_of(tmp_path, site=SITE + PUMP + PIPE + gauge("table"))
    assert piped.drop_kpa == bare.drop_kpa == 2.0
    assert "assumed_drop" in codes(bare) & codes(piped)
    told = (SITE + PUMP + PIPE + gauge("table")).replace(
        "[air]", "branch_length_m = 0.2\nbranch_bore_mm = 12.0\n[air]", 1
    )
    plan = plan_of(tmp_path, site=told)
    assert plan.drop_kpa < 0.1
    assert "assumed_drop" not in codes(plan)


def test_a_stated_drop_counts_where_it_is_greater(tmp_path: Path) -> None:
    site = SITE + PUMP + PIPE + gauge("table") + "[limits]\ndrop_kpa = 4.0\n"
    assert plan_of(tmp_path, site=site).drop_kpa == 4.0


def test_the_passage_to_a_cup_is_part_of_the_drop(tmp_path: Path) -> None:
    passage = "branch_length_m = 2.0\nbranch_bore_mm = 3.0\n[air]"
    site = (SITE + PUMP + PIPE + gauge("table")).replace("[air]", passage, 1)
    assert plan_of(tmp_path, site=site).drop_kpa > 0.01


def test_a_pump_too_weak_for_the_job_refuses_it(tmp_path: Path) -> None:
    weak = "[pump]\ncurve = [[0.0, 40.0], [24.0, 0.0]]\n"
    plan = plan_of(tmp_path, site=SITE + weak)
    assert plan.verdict == "does not hold"
    assert plan.start_kpa is not None
    assert plan.predicted_kpa is not None
    assert plan.start_kpa > plan.predicted_kpa
    assert "start_above_pump" in codes(plan)


def test_no_expectation_is_above_the_local_air(tmp_path: Path) -> None:
    high = SITE.replace("altitude_m = 0.0", "altitude_m = 4000.0")
    plan = plan_of(tmp_path, TIGHT, site=high + "[pump]\ncurve = [[0.0, 400.0], [100.0, 0.0]]\n")
    assert plan.predicted_kpa is not None
    assert plan.predicted_kpa < plan.air_kpa < 62.0  # ISO 2533: 61.6 kPa at 4000 m


# -- bending -------------------------------------------------------------------------------

STRIP = """\
[part]
outline = [[0.0, 0.0], [400.0, 0.0], [400.0, 70.0], [0.0, 70.0]]
thickness_mm = {thickness}
material = "aluminium_6082"
underside = "machined"
surface = "clean"
"""


def strip(folder: Path, thickness_mm: float, cups: str = '["A1", "A4"]') -> Plan:
    head = f'format = 1\nid = "S"\ntitle = "Strip"\ncups_up = {cups}\n'
    load = "[[load]]\nat_mm = [200.0, 35.0, 0.0]\nforce_n = [0.0, 0.0, -100.0]\n"
    place = "[placement]\ny_mm = 15.0\n"
    return plan_of(folder, head + STRIP.format(thickness=thickness_mm) + place + load)


def test_a_strip_on_two_cups_bends_like_a_beam(tmp_path: Path) -> None:
    """100 N in the middle of a strip 70 x 8 mm on cups 300 mm apart.

    F L^3 / (48 E I) with E 68 GPa (the low value) for knife edges; rings of 30 mm radius and
    their springs (5e5 N/m each) change the span, so between bounds of span 240 and 360 mm.
    """
    plan = strip(tmp_path, 8.0)
    assert plan.flex is not None
    second_moment = 70.0 * 8.0**3 / 12.0
    low, high = (100.0 * span**3 / (48.0 * 68e3 * second_moment) for span in (240.0, 360.0))
    springs = 100.0 / (2.0 * 500.0)
    assert low < plan.flex.deflection_mm < high + springs
    assert plan.flex.at_mm == pytest.approx((200.0, 35.0))


def test_a_thin_strip_is_over_the_limit_and_the_cure_is_named(tmp_path: Path) -> None:
    plan = strip(tmp_path, 3.0)
    (finding,) = [f for f in plan.findings if f.code == "flex_over_limit"]
    assert finding.severity == "warning"
    assert plan.flex is not None
    assert plan.flex.cups == ("A2", "A3")
    assert finding.text.endswith("Seats A2 A3 up too would hold it there.")
    assert "flex_over_limit" not in codes(strip(tmp_path, 3.0, '["A1", "A2", "A3", "A4"]'))
    assert "flex_over_limit" in codes(strip(tmp_path, 3.0, '["A1", "A3", "A4"]'))


def test_a_strip_that_gives_more_than_a_metre_is_warned_of_and_not_passed_over(
    tmp_path: Path,
) -> None:
    """The same strip of 0.2 mm: even clamped, by F L^3 / (192 E I) at the shorter span, 2.3 m; no
    part stays up so, and the number ends at 1 m.
    """
    second_moment = 70.0 * 0.2**3 / 12.0
    assert 100.0 * 240.0**3 / (192.0 * 68e3 * second_moment) > 2000.0
    plan = strip(tmp_path, 0.2)
    (finding,) = [f for f in plan.findings if f.code == "flex_over_limit"]
    assert "gives 1 m or more under the cutter at x 200" in finding.text
    assert plan.flex is not None
    assert plan.flex.deflection_mm == 1000.0
    assert "no_flex" not in codes(plan)


def test_bending_never_changes_the_minimum(tmp_path: Path) -> None:
    """The same strip with another limit: the same minimum, another finding."""
    program = HEAD + "G0 X50. Y50. Z5.\nG1 Z-4. F3000\nG1 X350. F3000\nG0 Z5.\nM30\n"
    strict = plan_of(tmp_path, JOB + "deflection_limit_mm = 0.001\n", program)
    loose = plan_of(tmp_path, JOB + "deflection_limit_mm = 5.0\n", program)
    assert strict.minimum_kpa == loose.minimum_kpa
    assert "flex_over_limit" in codes(strict)
    assert "flex_over_limit" not in codes(loose)


def test_without_a_force_along_z_nothing_is_said_of_bending(tmp_path: Path) -> None:
    text = JOB[: JOB.index("[program]")]
    plan = plan_of(
        tmp_path, text + "[[load]]\nat_mm = [9.0, 9.0, 0.0]\nforce_n = [9.0, 0.0, 0.0]\n"
    )
    assert plan.flex is None
    assert "no_flex" in codes(plan)


# -- pieces and pockets ----------------------------------------------------------------------

PLATE = """\
[part]
outline = [[0.0, 0.0], [{length}, 0.0], [{length}, 70.0], [0.0, 70.0]]
thickness_mm = 4.0
material = "aluminium_6082"
underside = "machined"
surface = "clean"
[placement]
y_mm = 15.0
[program]
file = "t.nc"
z_zero = "top"
"""
HEADED = 'format = 1\nid = "S"\ntitle = "Strip"\ncups_up = {cups}\n'
CUTTER = JOB[JOB.index("[[tool]]") : JOB.index("[hold]")]
PARTING = "G0 X245. Y-20. Z5.\nG1 Z-4.2 F300\nG1 Y90.\nG0 Z5.\n"
BORING = "G0 X225. Y35. Z5.\nG1 Z-1. F300\nG0 Z5.\n"


def plate(folder: Path, length_mm: float, cups: str, cutting: str) -> Plan:
    text = HEADED.format(cups=cups) + PLATE.format(length=length_mm) + CUTTER
    return plan_of(folder, text, HEAD + cutting + "M30\n")


def test_a_piece_that_comes_free_bends_on_its_own_cups(tmp_path: Path) -> None:
    """Parted at 240, the left piece hangs over from its last cup; whole, the next one bears it."""
    cups = '["A1", "A2", "A4"]'
    parted = plate(tmp_path, 400.0, cups, PARTING + BORING).flex
    alone = plate(tmp_path, 240.0, '["A1", "A2"]', BORING).flex
    whole = plate(tmp_path, 400.0, cups, BORING).flex
    assert parted is not None
    assert alone is not None
    assert whole is not None
    assert parted.deflection_mm > 1.5 * whole.deflection_mm
    near = plate(tmp_path, 240.0, '["A1", "A2"]', BORING + PARTING.replace("245.", "248.")).flex
    assert near is not None
    assert parted.deflection_mm >= 0.98 * near.deflection_mm


def test_the_map_has_the_worst_place_and_none_worse(tmp_path: Path) -> None:
    cups = '["A1", "A2", "A4"]'
    flex = plate(tmp_path, 400.0, cups, PARTING + BORING).flex
    assert flex is not None
    assert max(place[2] for place in flex.places) == pytest.approx(flex.deflection_mm, abs=1e-3)
    assert (*(round(mm, 1) for mm in flex.at_mm), round(flex.deflection_mm, 3)) in flex.places
    assert 3 <= len(flex.places) <= 256


def test_a_pocket_makes_a_part_softer_and_a_hole_hardly(tmp_path: Path) -> None:
    cups, drill = '["A1", "A4"]', "G0 X200. Y35. Z5.\nG1 Z-1. F300\nG0 Z5.\n"
    rows = "".join(f"G0 X150. Y{y}. Z5.\nG1 Z-2. F300\nG1 X250.\nG0 Z5.\n" for y in range(0, 75, 5))
    plain, holed, pocketed = (
        plate(tmp_path, 400.0, cups, cutting).flex
        for cutting in (BORING, BORING + drill, BORING + rows)
    )
    assert plain is not None
    assert holed is not None
    assert pocketed is not None
    assert holed.deflection_mm < 1.15 * plain.deflection_mm
    assert pocketed.deflection_mm > 2.0 * plain.deflection_mm
