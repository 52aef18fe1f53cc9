"""Which seats hold the part and why the others do not; distances by hand.

The test site has seats every 100 mm from (50, 50) and cups of 64 mm outside with 2 mm margin: a
seat needs 34 mm of solid material around it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.plan import Plan, SeatState
from tests.job.jobs import HEAD, JOB, SITE, codes, plan_of

ALL_TWELVE = {f"{row}{column}" for row in "ABC" for column in range(1, 5)}


def up(plan: Plan) -> set[str]:
    return {seat.name for seat in plan.seats if seat.state is SeatState.UP}


def blocked(plan: Plan) -> dict[str, str]:
    return {seat.name: seat.why for seat in plan.seats if seat.state is SeatState.BLOCKED}


def test_all_seats_wholly_under_the_part_go_up(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    assert up(plan) == ALL_TWELVE
    assert blocked(plan) == {}
    down = {seat.name for seat in plan.seats if seat.state is SeatState.DOWN}
    assert down == {f"{row}{n}" for row in "ABC" for n in (5, 6)} | {f"D{n}" for n in range(1, 7)}


@pytest.mark.parametrize(
    ("x_mm", "usable"),
    # A1 is 50 mm from the left edge; 34 mm are needed: the part may move right by 16 mm
    [(0.0, True), (15.99, True), (16.01, False)],
)
def test_a_cup_needs_its_outer_ring_and_margin_under_the_part(
    tmp_path: Path, x_mm: float, usable: bool
) -> None:
    plan = plan_of(tmp_path, JOB.replace("x_mm = 0.0", f"x_mm = {x_mm}"))
    assert ("A1" in up(plan)) is usable
    if not usable:
        assert blocked(plan)["A1"] == "not wholly under the blank"


@pytest.mark.parametrize(
    ("y_mm", "blocks"),
    # A1 to A4 lie at y 50; the cut takes 5 mm to each side: 34 + 5 = 39 mm from the seat
    [(89.01, False), (88.99, True)],
)
def test_a_through_cut_near_a_cup_blocks_it_and_is_named(
    tmp_path: Path, y_mm: float, blocks: bool
) -> None:
    program = HEAD + f"G0 X20. Y{y_mm} Z5.\nG1 Z-20. F3000\nG1 X380.\nG0 Z5.\nM30\n"
    plan = plan_of(tmp_path, JOB, program)
    told = {name: why for name, why in blocked(plan).items() if name.startswith("A")}
    expected = {f"A{n}": "under a through-cut, line 6" for n in range(1, 5)} if blocks else {}
    assert told == expected


def test_a_pocket_that_is_not_through_blocks_nothing(tmp_path: Path) -> None:
    program = HEAD + "G0 X20. Y50. Z5.\nG1 Z-19.4 F3000\nG1 X380.\nG0 Z5.\nM30\n"
    assert up(plan_of(tmp_path, JOB, program)) == ALL_TWELVE


def test_an_opening_blocks_the_seats_under_it(tmp_path: Path) -> None:
    hole = (
        "openings = [[[120.0, 120.0], [180.0, 120.0], [180.0, 180.0], [120.0, 180.0]]]\n"
        "thickness_mm"
    )
    plan = plan_of(tmp_path, JOB.replace("thickness_mm", hole, 1))
    assert blocked(plan) == {"B2": "over an opening"}


def test_a_seat_under_an_offcut_is_blocked_with_the_line_that_frees_it(tmp_path: Path) -> None:
    """A cut at x = 100 with 10 mm: columns 1 and 2 keep 45 mm; the smaller piece comes off."""
    program = HEAD + "G0 X100. Y-20. Z5.\nG1 Z-20.3 F3000\nG1 Y320.\nG0 Z5.\nM30\n"
    plan = plan_of(tmp_path, JOB, program)
    assert blocked(plan) == dict.fromkeys(
        ("A1", "B1", "C1"), "under an offcut that comes free at line 6"
    )
    assert "loose_offcut" in codes(plan)
    assert "line 6" in next(f.text for f in plan.findings if f.code == "loose_offcut")


def test_only_the_seats_that_are_asked_for_go_up(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB.replace('"auto"', '["A1", "A4", "C2"]'))
    assert up(plan) == {"A1", "A4", "C2"}
    assert blocked(plan) == {}


@pytest.mark.parametrize("name", ["D1", "A5"])
def test_a_seat_beside_the_part_that_is_asked_for_refuses_the_job(
    tmp_path: Path, name: str
) -> None:
    plan = plan_of(tmp_path, JOB.replace('"auto"', f'["A1", "B2", "C3", "{name}"]'))
    assert plan.verdict == "does not hold"
    assert "blocked_cup_asked" in codes(plan)


def test_a_part_beside_every_seat_has_no_cups_and_no_minimum(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB.replace("x_mm = 0.0", "x_mm = 5000.0"))
    assert up(plan) == set()
    assert "no_cups" in codes(plan)
    assert (plan.verdict, plan.model_kpa, plan.start_kpa) == ("does not hold", None, None)


def test_zones_hold_every_seat_once_up_or_down(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    assert [zone.name for zone in plan.zones] == ["A", "B", "C", "D"]
    assert plan.zones[0].up == ("A1", "A2", "A3", "A4")
    assert plan.zones[0].down == ("A5", "A6")
    names = [name for zone in plan.zones for name in (*zone.up, *zone.down)]
    assert sorted(names) == sorted(seat.name for seat in plan.seats)


SPECIALS = """
[[special]]
kind = "roller_lifter"
seat = "B1"
[[special]]
kind = "edge_cup"
seat = "A5"
seal_diameter_mm = 30.0
outer_diameter_mm = 32.0
[[special]]
kind = "spacer_disc"
seat = "C1"
[[special]]
kind = "pin"
x_mm = -6.0
y_mm = 80.0
"""


def test_special_rows_of_the_site_are_honoured(tmp_path: Path) -> None:
    """A5 at x 450 needs 18 mm with the small cup: the part must reach x 468."""
    text = JOB.replace("400.0", "470.0")
    plan = plan_of(tmp_path, text, site=SITE + SPECIALS)
    assert blocked(plan)["B1"] == "a roller lifter sits here"
    assert {"A5"} <= up(plan)
    assert "B5" not in up(plan)
    assert plan.pins == ((-6.0, 80.0),)
    assert "spacer_discs" in codes(plan)
