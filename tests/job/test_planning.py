"""From files to a verdict: closed forms, laws of placement, findings, digest."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kiosk.hold.cutter import Cutter, Engagement
from kiosk.hold.cutting import cutter_load
from kiosk.hold.materials import materials_from
from kiosk.job.plan import Plan, SeatState, from_json
from kiosk.job.planning import make_plan
from kiosk.limits import CEILING_SHARE
from kiosk.site import load_site
from kiosk.units import air_pressure_kpa
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, ROOT, SITE, SLOT, codes, plan_of

NO_PROGRAM = JOB[: JOB.index("[program]")] + "[hold]\nfriction = 0.5\nsafety_factor = 2.0\n"
FOUR = NO_PROGRAM.replace('"auto"', '["A1", "A4", "C1", "C4"]')


def load(at: str, force: str, more: str = "") -> str:
    return f"[[load]]\nat_mm = {at}\nforce_n = {force}\n{more}\n"


def weightless(text: str) -> str:
    return text.replace("thickness_mm", "mass_kg = 0.001\nthickness_mm", 1)


def test_a_pull_through_the_middle_at_the_seals_needs_its_force_over_friction_and_area(
    tmp_path: Path,
) -> None:
    """Four cups 60 mm, mu 0.5, 2 x 300 N in their middle at z 0: p = 600 / (0.5 x 4 x A)."""
    text = weightless(FOUR) + load("[200.0, 150.0, 0.0]", "[300.0, 0.0, 0.0]")
    area_m2 = 4.0 * math.pi * 0.030**2
    plan = plan_of(tmp_path, text)
    assert plan.model_kpa == pytest.approx(600.0 / (0.5 * area_m2) / 1e3, rel=2e-3)
    assert plan.governed_by is not None
    assert plan.governed_by.mode == "slip"
    assert plan.governed_by.force_n == (300.0, 0.0, 0.0)


def test_a_pull_straight_up_needs_its_force_over_area(tmp_path: Path) -> None:
    text = weightless(FOUR) + load("[200.0, 150.0, 20.0]", "[0.0, 0.0, 500.0]")
    plan = plan_of(tmp_path, text)
    area_m2 = 4.0 * math.pi * 0.030**2
    assert plan.model_kpa == pytest.approx(1000.0 / area_m2 / 1e3, rel=2e-3)
    assert plan.governed_by is not None
    assert plan.governed_by.mode == "lift"


def test_the_weight_helps_by_what_it_presses(tmp_path: Path) -> None:
    """10 kg press with 98.07 N: p = (1000 - 98.07) / A for a pull straight up of 2 x 500 N."""
    text = FOUR.replace("thickness_mm", "mass_kg = 10.0\nthickness_mm", 1)
    plan = plan_of(tmp_path, text + load("[200.0, 150.0, 20.0]", "[0.0, 0.0, 500.0]"))
    area_m2 = 4.0 * math.pi * 0.030**2
    assert plan.model_kpa == pytest.approx((1000.0 - 98.0665) / area_m2 / 1e3, rel=2e-3)


def test_levels_follow_from_the_minimum(tmp_path: Path) -> None:
    """required = minimum + drop + error, start = 1.15 x minimum + drop + error, by hand."""
    text = weightless(FOUR) + load("[200.0, 150.0, 20.0]", "[0.0, 0.0, 300.0]")
    plan = plan_of(tmp_path, text)
    minimum = plan.minimum_kpa
    assert minimum is not None
    assert minimum > 20.0
    assert minimum == plan.model_kpa
    assert (plan.drop_kpa, plan.gauge_error_kpa) == (2.0, 1.0)
    assert plan.required_kpa == pytest.approx(minimum + 3.0)
    assert plan.start_kpa == pytest.approx(1.15 * minimum + 3.0)
    assert plan.ceiling_kpa == pytest.approx(0.8 * 101.325)
    assert {"assumed_gauge_error", "assumed_drop", "no_pump"} <= codes(plan)


def test_a_light_load_leaves_the_floor_to_decide(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, FOUR + load("[200.0, 150.0, 20.0]", "[10.0, 0.0, 0.0]"))
    assert plan.model_kpa is not None
    assert plan.model_kpa < 20.0
    assert plan.minimum_kpa == 20.0
    assert plan.governed_by is not None
    assert plan.governed_by.mode == "floor"
    assert plan.verdict == "holds"


def test_any_direction_is_never_easier_than_the_given_one(tmp_path: Path) -> None:
    given_way = FOUR + load("[350.0, 20.0, 20.0]", "[0.0, 400.0, 0.0]")
    fixed = plan_of(tmp_path, given_way).model_kpa
    free = plan_of(tmp_path, given_way + "any_direction = true\n").model_kpa
    assert fixed is not None
    assert free is not None
    assert free >= fixed * 0.999


@pytest.mark.parametrize("height_m", [0.0, 1500.0, 3000.0])
def test_the_ceiling_is_a_share_of_the_local_air(tmp_path: Path, height_m: float) -> None:
    site = SITE.replace("altitude_m = 0.0", f"altitude_m = {height_m}")
    text = FOUR + load("[200.0, 150.0, 0.0]", "[200.0, 0.0, 0.0]")
    plan = plan_of(tmp_path, text, site=site)
    assert plan.ceiling_kpa == pytest.approx(CEILING_SHARE * air_pressure_kpa(height_m))


def test_a_start_level_above_the_ceiling_refuses_the_job(tmp_path: Path) -> None:
    """The same pull: 71.7 kPa to start, below 80 % of the air at the sea, above it at 3000 m."""
    text = weightless(FOUR) + load("[200.0, 150.0, 20.0]", "[0.0, 0.0, 338.0]")
    assert plan_of(tmp_path, text).verdict == "holds"
    high = plan_of(tmp_path, text, site=SITE.replace("altitude_m = 0.0", "altitude_m = 3000.0"))
    assert high.verdict == "does not hold"
    assert "start_above_air" in codes(high)


# -- laws ----------------------------------------------------------------------------------

LOADS = load("[30.0, 40.0, 20.0]", "[150.0, 60.0, 40.0]", "torque_nm = 2.0") + load(
    "[380.0, 280.0, 20.0]", "[-90.0, 120.0, 20.0]"
)


def moved(x_mm: float, y_mm: float, angle_deg: float) -> tuple[str, str]:
    """Job and site with the part and every seat turned and moved together."""
    turn = math.radians(angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    rows = [
        (f"{row}{n + 1}", 50.0 + 100.0 * n, 50.0 + 100.0 * m)
        for m, row in enumerate("ABC")
        for n in range(4)
    ]
    seats = "".join(
        f'[[grid.seat]]\nname = "{name}"\nx_mm = {cos * x - sin * y + x_mm!r}\n'
        f"y_mm = {sin * x + cos * y + y_mm!r}\n"
        for name, x, y in rows
    )
    begin, end = SITE.index("[grid]"), SITE.index("[cup]")
    site = SITE[:begin] + '[grid]\npattern = "list"\n' + seats + SITE[end:]
    job = NO_PROGRAM.replace("y_mm = 0.0", f"y_mm = {y_mm!r}")
    job = job.replace("\nx_mm = 0.0", f"\nx_mm = {x_mm!r}")
    return job.replace("angle_deg = 0.0", f"angle_deg = {angle_deg!r}") + LOADS, site


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    x_mm=st.floats(-3000.0, 3000.0).map(lambda v: round(v, 3)),
    y_mm=st.floats(-3000.0, 3000.0).map(lambda v: round(v, 3)),
    angle_deg=st.floats(-359.0, 359.0).map(lambda v: round(v, 3)),
)
def test_turning_and_moving_part_and_grid_together_changes_no_number(
    tmp_path: Path, x_mm: float, y_mm: float, angle_deg: float
) -> None:
    still = plan_of(tmp_path, NO_PROGRAM + LOADS)
    text, site = moved(x_mm, y_mm, angle_deg)
    plan = plan_of(tmp_path, text, site=site)
    assert plan.model_kpa == pytest.approx(still.model_kpa, rel=1e-3)
    assert plan.governed_by is not None
    assert still.governed_by is not None
    assert plan.governed_by.at_mm == still.governed_by.at_mm
    assert {s.name for s in plan.seats if s.state is SeatState.UP} == {
        s.name for s in still.seats if s.state is SeatState.UP
    }


@pytest.mark.parametrize("angle_deg", [90.0, 180.0, 270.0])
def test_a_program_on_the_grid_axes_meets_the_part_where_it_lies(
    tmp_path: Path, angle_deg: float
) -> None:
    """A slot along grid x at y 150 cuts the turned part along its own axes, in closed form."""
    places = {90.0: (350.0, 0.0), 180.0: (400.0, 300.0), 270.0: (0.0, 400.0)}
    x_mm, y_mm = places[angle_deg]
    text = JOB.replace("\nx_mm = 0.0", f"\nx_mm = {x_mm}").replace("y_mm = 0.0", f"y_mm = {y_mm}")
    text = text.replace("angle_deg = 0.0", f"angle_deg = {angle_deg}")
    text = text.replace('frame = "part"', 'frame = "grid"')
    facts = plan_of(tmp_path, text).program
    assert facts is not None
    assert facts.min_mm is not None
    assert facts.max_mm is not None
    # grid (x, 150), x from -20 to 420, seen from the part
    expected = {
        90.0: ((150.0, -70.0), (150.0, 370.0)),
        180.0: ((-20.0, 150.0), (420.0, 150.0)),
        270.0: ((250.0, -20.0), (250.0, 420.0)),
    }[angle_deg]
    assert facts.min_mm[:2] == pytest.approx(expected[0], abs=1e-6)
    assert facts.max_mm[:2] == pytest.approx(expected[1], abs=1e-6)
    assert (facts.min_mm[2], facts.max_mm[2]) == (15.0, 25.0)


def test_a_program_in_the_part_frame_turns_with_the_part(tmp_path: Path) -> None:
    turned = JOB.replace("angle_deg = 0.0", "angle_deg = 30.0")
    assert plan_of(tmp_path, turned).program == plan_of(tmp_path, JOB).program


def test_the_zero_of_the_program_moves_its_cuts(tmp_path: Path) -> None:
    text = JOB.replace("origin_mm = [0.0, 0.0]", "origin_mm = [7.0, -3.0]")
    text = text.replace('z_zero = "top"', 'z_zero = "underside"')
    facts = plan_of(tmp_path, text, SLOT.replace("Z-5.", "Z15.").replace("Z5.", "Z25.")).program
    assert facts is not None
    assert facts.min_mm == pytest.approx((-13.0, 147.0, 15.0))
    assert facts.max_mm == pytest.approx((427.0, 147.0, 25.0))


def test_leaving_out_inner_places_of_a_load_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The thinned cases of a whole program against all of them."""
    thinned = plan_of(tmp_path, JOB, ZIGZAG)
    monkeypatch.setattr("kiosk.job.cases._corners_of", lambda layer, tips: layer.tolist())
    whole = plan_of(tmp_path, JOB, ZIGZAG)
    assert whole.load_cases > 2 * thinned.load_cases
    assert thinned.model_kpa == pytest.approx(whole.model_kpa, rel=1e-3)


ZIGZAG = (
    HEAD
    + "G0 X30. Y30. Z5.\nG1 Z-4. F2000\n"
    + "".join(
        f"G1 X{370 if n % 2 == 0 else 30}. F4000\nG1 Y{30 + 10 * (n + 1)}.\n" for n in range(24)
    )
    + "G0 Z5.\nM30\n"
)


def test_a_slot_reaches_the_cutting_model_in_si_units(tmp_path: Path) -> None:
    """10 mm cutter, 5 mm deep, 3000 mm/min, 18000 rev/min: 0.05 m/s and 300 rev/s by hand."""
    material = materials_from((ROOT / "assets" / "materials.toml").read_text())["mdf"]
    cutter = Cutter("upcut", 0.010, 2, math.radians(30.0), 0.0, "used")
    expected = cutter_load(cutter, material, Engagement("slot", 0.005, None, 0.05, 300.0, False))
    governed = plan_of(tmp_path).governed_by
    assert governed is not None
    assert math.hypot(*governed.force_n[:2]) == pytest.approx(expected.lateral_n, rel=1e-6)
    assert governed.torque_nm == pytest.approx(expected.torque_nm, rel=1e-6)
    assert governed.tip_mm[2] == 15.0
    assert governed.at_mm[2] == pytest.approx(15.0 + 1e3 * expected.centroid_m, abs=1e-6)
    assert governed.line == 6


# -- pieces --------------------------------------------------------------------------------

PART = HEAD + "G0 X{x}. Y-20. Z5.\nG1 Z-20.3 F3000\nG1 Y320.\nG0 Z5.\nM30\n"
KEEP_BOTH = JOB.replace("thickness_mm", "keep = [[20.0, 20.0], [390.0, 20.0]]\nthickness_mm", 1)


def test_a_kept_piece_left_without_a_cup_refuses_the_job(tmp_path: Path) -> None:
    """Cut at x 310: the right piece is 85 mm wide, from 315; column 4 at 350 has 35 mm: usable.
    Cut at x 340: column 4 is under the cut and the right piece has no cup at all."""
    plan = plan_of(tmp_path, KEEP_BOTH, PART.format(x=340))
    assert plan.verdict == "does not hold"
    (finding,) = [f for f in plan.findings if f.code == "kept_piece_cannot_hold"]
    assert "on no cup" in finding.text
    assert "line 6" in finding.text


def test_a_kept_piece_holds_on_its_own_cups_only(tmp_path: Path) -> None:
    """The right piece on column 4 alone needs more than the blank on twelve."""
    alone = plan_of(tmp_path, KEEP_BOTH, PART.format(x=310))
    uncut = plan_of(tmp_path, KEEP_BOTH, PART.format(x=310).replace("Z-20.3", "Z-19."))
    assert alone.model_kpa is not None
    assert uncut.model_kpa is not None
    assert alone.model_kpa > 1.5 * uncut.model_kpa


# -- findings ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("program", "code"),
    [
        (HEAD + "G0 X900. Y900. Z5.\nG1 Z-5. F900\nG1 X950.\nM30\n", "outside_blank"),
        (HEAD + "G0 X900. Y900. Z5.\nG1 Z-5. F900\nG1 X950.\nM30\n", "no_load"),
        (HEAD + "G0 X50. Y90. Z5.\nG0 Z-5.\nG1 X90. F900\nG0 Z5.\nM30\n", "rapid_in_material"),
        (HEAD + "G0 X-50. Y90. Z5.\nG1 Z-41. F900\nG1 X20.\nM30\n", "cut_into_table"),
        (SLOT.replace("G21 G17 G90 G94 G54\n", ""), "program_modes_assumed"),
    ],
)
def test_a_program_that_cannot_be_meant_is_remarked_on(
    tmp_path: Path, program: str, code: str
) -> None:
    assert code in codes(plan_of(tmp_path, JOB, program))
    assert code not in codes(plan_of(tmp_path, JOB, SLOT))


def test_the_one_tool_of_a_job_is_meant_when_the_program_names_none(tmp_path: Path) -> None:
    unnamed = SLOT.replace("T1 M6\n", "")
    plan = plan_of(tmp_path, JOB, unnamed)
    assert "tool_assumed" in codes(plan)
    assert plan.model_kpa == plan_of(tmp_path, JOB, SLOT).model_kpa
    assert [tool.number for tool in plan.tools] == [1]


def test_a_blank_that_is_cut_away_altogether_has_no_cups(tmp_path: Path) -> None:
    rows = "".join(f"G1 Y{y}.\nG1 X{x}.\n" for y, x in ((0, 60), (6, 0), (12, 60), (18, 0)))
    text = JOB.replace("400.0", "60.0").replace("300.0", "18.0")
    program = HEAD + "G0 X0. Y0. Z5.\nG1 Z-21. F2000\n" + rows + "G0 Z5.\nM30\n"
    plan = plan_of(tmp_path, text, program)
    assert plan.keeps == ()
    assert "no_cups" in codes(plan)


def test_a_load_beside_the_part_is_remarked_on(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, FOUR + load("[900.0, 0.0, 0.0]", "[1.0, 0.0, 0.0]"))
    assert "load_off_part" in codes(plan)


def test_refusals_come_first_and_notes_last(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, KEEP_BOTH, PART.format(x=340))
    order = [("refuse", "warning", "note").index(f.severity) for f in plan.findings]
    assert order == sorted(order)
    assert plan.refused


# -- the plan as a whole -------------------------------------------------------------------


def test_the_digest_changes_with_every_file_it_is_made_from(tmp_path: Path) -> None:
    plans = [
        plan_of(tmp_path),
        plan_of(tmp_path, JOB + "# a remark\n"),
        plan_of(tmp_path, JOB, SLOT + "(a remark)\n"),
        plan_of(tmp_path, site=SITE + "# a remark\n"),
    ]
    assert len({plan.digest for plan in plans}) == 4
    assert plan_of(tmp_path).digest == plans[0].digest


@pytest.mark.parametrize("job", sorted(path.name for path in DEMO_JOBS.glob("*.job.toml")))
def test_a_demonstration_plan_survives_the_wire(job: str) -> None:
    plan = make_plan(DEMO_JOBS / job, load_site(DEMO_SITE))
    assert from_json(plan.to_json()) == plan
    assert len(plan.to_json()) < 4 * 1024 * 1024


def demo(name: str) -> Plan:
    return make_plan(DEMO_JOBS / f"{name}.job.toml", load_site(DEMO_SITE))


@pytest.mark.parametrize("name", ["shelf-rail", "cover-panel"])
def test_two_demonstration_jobs_hold_with_sensible_numbers(name: str) -> None:
    plan = demo(name)
    assert plan.verdict == "holds"
    assert plan.start_kpa is not None
    assert 35.0 <= plan.start_kpa <= 65.0
    assert 8 <= sum(seat.state is SeatState.UP for seat in plan.seats) <= 17
    assert "loose_offcut" in plan.warnings


def test_the_third_demonstration_job_is_refused_for_its_small_piece() -> None:
    plan = demo("bracket-pair")
    assert plan.verdict == "does not hold"
    refusals = [f for f in plan.findings if f.severity == "refuse"]
    assert [f.code for f in refusals] == ["kept_piece_cannot_hold"]
    assert "on 2 cups" in refusals[0].text


def test_progress_rises_and_ends_near_one(tmp_path: Path) -> None:
    plan_of(tmp_path)
    told: list[float] = []
    make_plan(
        tmp_path / "t.job.toml",
        load_site(tmp_path / "x.site.toml"),
        lambda share, _: told.append(share),
    )
    assert told == sorted(told)
    assert told[0] == 0.0
    assert 0.9 <= told[-1] <= 1.0


def test_one_row_of_allowances_for_each_gauge_and_the_table_decides(tmp_path: Path) -> None:
    gauges = "".join(
        f'[[gauge]]\nname = "{name}"\nrole = "{name}"\n'
        f'address = "modbus-tcp://10.0.0.9:502?unit=1"\nkind = "register"\n'
        f'layout = "vacuum-int32-Pa"\nerror_kpa = {error}\n'
        for name, error in (("pump", 2.5), ("table", 0.8))
    )
    plan = plan_of(tmp_path, site=SITE + gauges + "[limits]\ndrop_kpa = 3.0\n")
    assert [row.gauge for row in plan.allowances] == ["table", "pump"]
    assert (plan.drop_kpa, plan.gauge_error_kpa) == (3.0, 0.8)
    assert not {"assumed_gauge_error", "assumed_drop"} & codes(plan)
