"""Pins, part-round cups, roller lifters and spoil boards; distances and areas by hand.

The test site has seats every 100 mm from (50, 50), cups of 60 mm seal and 64 mm outside, 2 mm
margin, and the part lies with its corner at the origin: 400 x 300 x 20 mm.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from shapely import Point as ShapelyPoint
from shapely import Polygon, box

from kiosk.job.footprint import cut_circle, edge_cup
from kiosk.job.plan import Plan, SeatState
from kiosk.mistakes import BadInput
from kiosk.site import Special
from tests.job.jobs import HEAD, JOB, SITE, codes, plan_of

SLOT_AT_Y = "G0 X-20. Y{y} Z5.\nG1 Z-{depth} F3000\nG1 X420.\nG0 Z5.\nM30\n"


def special(kind: str, **keys: object) -> str:
    return "[[special]]\n" + _lines(kind, keys)


def pin(kind: str = "pin", **keys: object) -> str:
    return "\n[[pin]]\n" + _lines(kind, keys)


def _lines(kind: str, keys: dict[str, object]) -> str:
    rows = [f'kind = "{kind}"']
    rows += [f"{key} = {value!r}".replace("'", '"') for key, value in keys.items()]
    return "\n".join(rows) + "\n"


def state_of(plan: Plan, name: str) -> tuple[SeatState, str]:
    seat = next(seat for seat in plan.seats if seat.name == name)
    return seat.state, seat.why


def text_of(plan: Plan, code: str) -> str:
    return next(f.text for f in plan.findings if f.code == code)


# -- part-round cups -----------------------------------------------------------------------


@pytest.mark.parametrize(("radius", "cut"), [(30.0, 0.0), (30.0, 12.0), (40.0, 39.0), (25.0, 5.0)])
def test_a_cut_circle_has_the_area_and_centroid_of_its_shape(radius: float, cut: float) -> None:
    """Against shapely's polygon of 40 000 corners cut off straight."""
    shape = ShapelyPoint(0, 0).buffer(radius, quad_segs=10_000)
    left = shape.intersection(box(-99.0, -99.0, cut, 99.0))
    area, off = cut_circle(radius, cut)
    assert area == pytest.approx(left.area, rel=1e-6)
    assert -off == pytest.approx(left.centroid.x, abs=1e-5)


def test_half_a_circle_has_the_handbook_s_area_and_centroid() -> None:
    """Half a circle: area pi r^2 / 2, centroid 4 r / (3 pi) from the centre (handbook tables)."""
    assert cut_circle(30.0, 0.0) == pytest.approx((math.pi * 450.0, 40.0 / math.pi))


@pytest.mark.parametrize("angle", [0.0, 30.0, -120.0])
def test_the_flat_side_turns_against_the_part(angle: float) -> None:
    """A flat towards grid +y seen from a part turned by a: at 90 - a degrees of the part."""
    row = Special("edge_cup", "A1", seal_diameter_mm=60.0, outer_diameter_mm=64.0, cut_mm=10.0,
                  flat_deg=90.0)  # fmt: skip
    seen = edge_cup((100.0, 50.0), row, angle)
    area, off = cut_circle(30.0, 10.0)
    turn = math.radians(90.0 - angle)
    assert seen.seal_radius_mm == pytest.approx(math.sqrt(area / math.pi))
    assert seen.hold == pytest.approx((100.0 - off * math.cos(turn), 50.0 - off * math.sin(turn)))
    # the lip is 2 mm outside the seal: nothing further than 12 mm towards the flat side
    assert isinstance(seen.shape, Polygon)
    corners = np.array(seen.shape.exterior.coords) - (100.0, 50.0)
    assert float((corners @ (math.cos(turn), math.sin(turn))).max()) == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("x_mm", "usable"),
    # A1 at x 50, flat towards the left edge, 12 mm off with the lip, and 2 mm margin: 14 mm
    [(0.0, True), (35.99, True), (36.01, False)],
)
def test_a_part_round_cup_goes_nearer_to_an_edge_than_a_whole_one(
    tmp_path: Path, x_mm: float, usable: bool
) -> None:
    row = special("edge_cup", seat="A1", seal_diameter_mm=60.0, cut_mm=10.0, flat_deg=180.0)
    site = SITE + row.replace("cut_mm", "outer_diameter_mm = 64.0\ncut_mm")
    plan = plan_of(tmp_path, JOB.replace("x_mm = 0.0", f"x_mm = {x_mm}"), site=site)
    state, why = state_of(plan, "A1")
    assert (state is SeatState.UP) is usable
    if not usable:
        assert why == "not wholly under the blank"
    assert state_of(plan, "B1")[0] is (SeatState.UP if x_mm < 16.0 else SeatState.BLOCKED)


def test_a_part_round_cup_holds_less_than_a_whole_one(tmp_path: Path) -> None:
    """With one cup up, the minimum goes with 1 / area where weight and moments stay alike."""
    job = JOB.replace('"auto"', '["A2", "B2", "C2"]').replace("surface", "mass_kg = 2.0\nsurface")
    whole = plan_of(tmp_path, job)
    rows = "".join(
        special("edge_cup", seat=seat, seal_diameter_mm=60.0, cut_mm=0.0, flat_deg=0.0)
        for seat in ("A2", "B2", "C2")
    )
    half = plan_of(tmp_path, job, site=SITE + rows)
    assert whole.model_kpa is not None
    assert half.model_kpa is not None
    assert half.model_kpa > 1.5 * whole.model_kpa


# -- pins ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "code"), [("pin", "pin_under_cutter"), ("pin_drawing_back", None)]
)
def test_a_fixed_pin_under_the_cutter_refuses_the_job(
    tmp_path: Path, kind: str, code: str | None
) -> None:
    """The cutter (radius 5) trims the edge at y 0; the pin (radius 4) touches it at y -4."""
    program = HEAD + SLOT_AT_Y.format(y=-4.5, depth=20.3)
    plan = plan_of(tmp_path, JOB + pin(kind, x_mm=100.0, y_mm=-4.0), program)
    assert ("pin_under_cutter" in codes(plan)) is (code is not None)
    if code:
        assert plan.refused
        assert "Line 6 runs the cutter over the pin at x 100, y -4 mm" in text_of(plan, code)


@pytest.mark.parametrize(
    ("y_mm", "told"),
    # pin rim at y 0; the cut's near edge at y - 5 must be 10 mm clear of it
    [(14.9, True), (15.1, False)],
)
def test_a_fixed_pin_at_a_cut_edge_is_a_warning(tmp_path: Path, y_mm: float, told: bool) -> None:
    program = HEAD + SLOT_AT_Y.format(y=y_mm, depth=20.3)
    plan = plan_of(tmp_path, JOB + pin(x_mm=100.0, y_mm=-4.0), program)
    assert ("fixed_pin_at_cut_edge" in codes(plan)) is told
    assert ("fixed_pin_at_cut_edge" in plan.warnings) is told


def test_a_cut_above_the_part_s_top_meets_no_pin(tmp_path: Path) -> None:
    program = HEAD + SLOT_AT_Y.format(y=-4.5, depth=1.0).replace("Z-1.0", "Z0.5")
    job = JOB + "[[load]]\nat_mm = [10.0, 10.0, 20.0]\nforce_n = [40.0, 0.0, 0.0]\n"
    plan = plan_of(tmp_path, job + pin(x_mm=100.0, y_mm=-4.0), program)
    assert not {"pin_under_cutter", "fixed_pin_at_cut_edge"} & codes(plan)


def test_a_rapid_below_the_top_meets_a_pin_too(tmp_path: Path) -> None:
    program = HEAD + "G0 X-20. Y-4.5 Z-15.\nG0 X420.\nG0 Z5. Y150.\nG1 Z-2. F3000\nG0 Z5.\nM30\n"
    plan = plan_of(tmp_path, JOB + pin(x_mm=100.0, y_mm=-4.0), program)
    assert "Line 5 runs" in text_of(plan, "pin_under_cutter")


@pytest.mark.parametrize(
    ("y_mm", "tolerance", "words"),
    [
        (-4.9, "", None),
        (-5.1, "", "is off the pin at x 100, y -5 mm by 1.1 mm"),
        (-2.9, "", "overlaps the pin at x 100, y -3 mm by 1.1 mm"),
        (30.0, "", "overlaps the pin at x 100, y 30 mm by 34.0 mm"),
        (-5.1, "\npin_tolerance_mm = 1.2", None),
    ],
)
def test_a_part_must_touch_its_own_pins(
    tmp_path: Path, y_mm: float, tolerance: str, words: str | None
) -> None:
    job = JOB.replace("angle_deg = 0.0", f"angle_deg = 0.0{tolerance}")
    plan = plan_of(tmp_path, job + pin("pin_drawing_back", x_mm=100.0, y_mm=y_mm))
    assert ("part_off_pins" in codes(plan)) is (words is not None)
    if words:
        assert words in text_of(plan, "part_off_pins")
        assert "part_off_pins" in plan.warnings


def test_pins_stay_on_the_grid_when_the_part_is_turned(tmp_path: Path) -> None:
    """Turned by 90 degrees about the origin the part lies left of x 0: a pin at x 4 touches it."""
    job = JOB.replace("angle_deg = 0.0", "angle_deg = 90.0").replace("x_mm = 0.0", "x_mm = 300.0")
    plan = plan_of(tmp_path, job + pin(x_mm=304.0, y_mm=100.0))
    assert "part_off_pins" not in codes(plan)
    assert plan.pins == ((304.0, 100.0),)


def test_a_pin_on_a_seat_takes_it(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB + pin("pin_drawing_back", seat="B2"))
    assert state_of(plan, "B2") == (SeatState.BLOCKED, "a locating pin stands here")
    assert (150.0, 150.0) in plan.pins
    site = plan_of(tmp_path, site=SITE + special("pin_drawing_back", seat="B2"))
    assert state_of(site, "B2") == (SeatState.BLOCKED, "a locating pin stands here")


# The part lies from (0, 0) to (400, 300); the rim of each pin is 4 mm from its centre.
AT_AN_EDGE = [
    (100.0, -4.9, None),  # touches, within 1 mm
    (100.0, -10.0, "is off the pin at x 100, y -10 mm by 6.0 mm"),
    (100.0, -63.9, "is off the pin at x 100, y -64 mm by 59.9 mm"),
    (100.0, -64.1, None),  # more than 60 mm from its rim: not meant
    (100.0, 2.0, "overlaps the pin at x 100, y 2 mm by 6.0 mm"),
    (100.0, 0.0, "overlaps the pin at x 100, y 0 mm by 4.0 mm"),  # its centre on the edge
    (200.0, 150.0, None),  # far inside
    (-20.0, -20.0, None),  # beyond a corner: it locates nothing
    (-2.0, -20.0, None),
    (2.0, -20.0, "is off the pin at x 2, y -20 mm by 16.0 mm"),
    (700.0, 700.0, None),
]


@pytest.mark.parametrize(("x_mm", "y_mm", "words"), AT_AN_EDGE)
def test_a_pin_of_the_site_counts_where_it_stands_at_an_edge_and_the_job_names_none(
    tmp_path: Path, x_mm: float, y_mm: float, words: str | None
) -> None:
    site = SITE + special("pin_drawing_back", x_mm=x_mm, y_mm=y_mm)
    plan = plan_of(tmp_path, site=site)
    assert ("part_off_pins" in plan.warnings) is (words is not None)
    if words:
        assert words in text_of(plan, "part_off_pins")
    own = plan_of(tmp_path, JOB + pin("pin_drawing_back", x_mm=200.0, y_mm=-4.0), site=site)
    assert "part_off_pins" not in codes(own)


def test_all_pins_that_the_part_misses_are_told_in_one_warning(tmp_path: Path) -> None:
    """A part laid at x 30, y 24 where the pins want its corner at 20, 20."""
    rows = ((130.0, 16.0), (460.0, 16.0), (16.0, 130.0))
    site = SITE + "".join(special("pin_drawing_back", x_mm=x, y_mm=y) for x, y in rows)
    job = JOB.replace("400.0", "500.0").replace("\nx_mm = 0.0", "\nx_mm = 30.0")
    plan = plan_of(tmp_path, job.replace("y_mm = 0.0", "y_mm = 24.0"), site=site)
    assert [f.text for f in plan.findings if f.code == "part_off_pins"] == [
        "The part is off the pin at x 130, y 16 mm by 4.0 mm, is off the pin at x 460, y 16 mm by "
        "4.0 mm, is off the pin at x 16, y 130 mm by 10.0 mm. Check placement and pins."
    ]
    right = job.replace("x_mm = 30.0", "x_mm = 20.0").replace("y_mm = 0.0", "y_mm = 20.0")
    assert "part_off_pins" not in codes(plan_of(tmp_path, right, site=site))


def test_a_round_part_touches_pins_of_the_site_anywhere_round_it(tmp_path: Path) -> None:
    """A disc of radius 200 about (200, 200): a pin at 45 degrees is at its edge all the same."""
    turns = [math.radians(n) for n in range(360)]
    ring = [[200.0 + 200.0 * math.cos(t), 200.0 + 200.0 * math.sin(t)] for t in turns]
    start, end = JOB.index("outline = "), JOB.index("thickness_mm")
    job = JOB[:start] + f"outline = {ring}\n" + JOB[end:]
    for far, off in ((204.0, False), (210.0, True)):
        at = 200.0 + far * math.sqrt(0.5)
        site = SITE + special("pin_drawing_back", x_mm=round(at, 3), y_mm=round(at, 3))
        assert ("part_off_pins" in codes(plan_of(tmp_path, job, site=site))) is off


def test_a_pin_on_a_seat_that_is_not_there_is_told_at_its_line(tmp_path: Path) -> None:
    text = JOB + pin(seat="Z9")
    line = text.splitlines().index('seat = "Z9"') + 1
    with pytest.raises(BadInput, match=rf'^t\.job\.toml:{line}: seat "Z9" is not in the grid of'):
        plan_of(tmp_path, text)


# -- lifters and boards --------------------------------------------------------------------


def test_a_lifter_under_the_part_asks_to_be_down(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, site=SITE + special("roller_lifter", seat="B1"))
    assert state_of(plan, "B1") == (SeatState.BLOCKED, "a roller lifter sits here")
    assert "B1: see that they are down" in text_of(plan, "roller_lifters")
    beside = plan_of(tmp_path, site=SITE + special("roller_lifter", seat="D6"))
    assert "roller_lifters" not in codes(beside)


BOARD = {"seats": ["A1", "A2"], "lift_mm": 20.0, "material": "plastic"}


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        ({}, set()),
        ({"lift_mm": 18.0}, {"board_height"}),
        ({"lift_mm": 22.5}, {"board_height"}),
        ({"material": "particleboard"}, {"board_porous"}),
        ({"material": "particleboard", "face": "laminate"}, set()),
        ({"material": "mdf", "lift_mm": 12.0}, {"board_porous", "board_height"}),
        ({"seats": ["D6"], "material": "mdf", "lift_mm": 12.0}, set()),  # not under the part
    ],
)
def test_a_spoil_board_takes_its_seats_and_is_judged(
    tmp_path: Path, keys: dict[str, object], expected: set[str]
) -> None:
    plan = plan_of(tmp_path, site=SITE + special("board", **{**BOARD, **keys}))
    assert {"board_height", "board_porous"} & codes(plan) == expected
    if "seats" not in keys:
        assert state_of(plan, "A1") == (SeatState.BLOCKED, "a spoil board stands here")
    assert expected <= set(plan.warnings)


def test_the_difference_in_height_is_told(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, site=SITE + special("board", **{**BOARD, "lift_mm": 22.5}))
    assert "is 2.5 mm higher than the cups" in text_of(plan, "board_height")
