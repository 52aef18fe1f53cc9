"""Arcs and drilling cycles against the RS274/NGC manual (NISTIR 6556) and closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from test_program_moves import ends, last, read

from kiosk.job.program import MoveKind, Plane, Xyz

# --- arcs ---------------------------------------------------------------------------------------


def test_centre_form_example_of_the_manual() -> None:
    """Section 3.5.3.2: from (7, 7), centre (10, 11), radius 5; clockwise from -126.87 to 90."""
    arc = last("G0 X7 Y7 Z9\nG17 G2 x 10 y 16 i 3 j 4 z 9")
    assert arc.centre == pytest.approx((10.0, 11.0, 9.0))
    assert arc.radius_mm == pytest.approx(5.0)
    assert math.degrees(arc.sweep_rad or 0.0) == pytest.approx(-143.130102, abs=1e-6)
    assert arc.length_mm == pytest.approx(12.490458, abs=1e-6)


# Section 3.5.3.1, "G17 G2 x 10 y 15 r 20 z 5" from (0, 0, 5); centre from the two circles of
# radius 20 through both ends, chord sqrt(325), half angle asin(sqrt(325) / 40).
HALF_RAD = math.asin(math.sqrt(325.0) / 40.0)


@pytest.mark.parametrize(
    ("code", "radius", "centre", "sweep"),
    [
        ("G2", 20, (19.855069, -2.403379), -2 * HALF_RAD),
        ("G3", 20, (-9.855069, 17.403380), 2 * HALF_RAD),
        ("G2", -20, (-9.855069, 17.403380), 2 * HALF_RAD - 2 * math.pi),
        ("G3", -20, (19.855069, -2.403379), 2 * math.pi - 2 * HALF_RAD),
    ],
)
def test_radius_form_example_of_the_manual(
    code: str, radius: int, centre: tuple[float, float], sweep: float
) -> None:
    arc = last(f"G17 {code} x 10 y 15 r {radius} z 5")
    assert arc.centre is not None
    assert arc.centre[:2] == pytest.approx(centre, abs=2e-6)
    assert arc.sweep_rad == pytest.approx(sweep)
    assert arc.length_mm == pytest.approx(20.0 * abs(sweep))


@pytest.mark.parametrize("code", ["G2", "G3"])
@pytest.mark.parametrize("radius", [20, -20])
def test_radius_and_centre_forms_agree(code: str, radius: int) -> None:
    by_radius = last(f"{code} X10 Y15 R{radius}")
    assert by_radius.centre is not None
    i, j = by_radius.centre[0], by_radius.centre[1]
    by_centre = last(f"{code} X10 Y15 I{i:.9f} J{j:.9f}")
    assert by_centre.sweep_rad == pytest.approx(by_radius.sweep_rad)
    assert by_centre.length_mm == pytest.approx(by_radius.length_mm)


def test_absolute_centres_count_from_the_program_zero() -> None:
    relative = last("G0 X7 Y7\nG2 X10 Y16 I3 J4")
    absolute = last("G0 X7 Y7\nG90.1 G2 X10 Y16 I10 J11")
    assert absolute.centre == pytest.approx(relative.centre)
    shifted = last("G55 G0 X7 Y7\nG90.1 G2 X10 Y16 I10 J11", {55: (100.0, 0.0, 0.0)})
    assert shifted.centre == pytest.approx((110.0, 11.0, 5.0))
    back = last("G0 X7 Y7\nG90.1\nG91.1 G2 X10 Y16 I3 J4")
    assert back.centre == pytest.approx(relative.centre)


def test_a_full_circle_needs_no_axis_words() -> None:
    circle = last("G3 I10")
    assert circle.sweep_rad == pytest.approx(2 * math.pi)
    assert circle.length_mm == pytest.approx(2 * math.pi * 10)
    assert circle.extents() == (
        pytest.approx((0.0, -10.0, 5.0), abs=1e-9),
        pytest.approx((20.0, 10.0, 5.0), abs=1e-9),
    )


def test_a_helix_is_as_long_as_its_unrolled_hypotenuse() -> None:
    helix = last("G2 I-8 Z-1")
    assert helix.length_mm == pytest.approx(math.hypot(2 * math.pi * 8, 6.0))
    # the lead angle's closed form: length = rise / sin(atan(rise / (2 pi r)))
    assert helix.length_mm == pytest.approx(6.0 / math.sin(math.atan(6.0 / (2 * math.pi * 8))))


@pytest.mark.parametrize(
    ("text", "low_normal"),
    [
        ("G18 G2 X20 I10", "z"),
        ("G18 G3 X20 I10", ""),
        ("G19 G3 Y20 J10", "z"),
        ("G19 G2 Y20 J10", ""),
    ],
)
def test_other_planes_turn_as_seen_from_the_end_of_their_normal(text: str, low_normal: str) -> None:
    """Section 4.3.6.1: in ZX the first axis is Z, so that G2 from X0 to X20 dips below."""
    low, high = last(text).extents()
    assert (low[2], high[2]) == pytest.approx((-5.0, 5.0) if low_normal else (5.0, 15.0))


@pytest.mark.parametrize("error_mm", [1.0, 0.1, 0.01, 0.001])
def test_chords_stay_within_the_error_and_on_the_arc(error_mm: float) -> None:
    arc = last("G2 X10 Y15 R-20 Z1")
    points = arc.points(error_mm)
    assert (points[0], points[-1]) == (arc.start, arc.end)
    assert arc.centre is not None
    for point in points:
        assert math.dist(point[:2], arc.centre[:2]) == pytest.approx(20.0)
    chords = [math.dist(a[:2], b[:2]) for a, b in pairwise(points)]
    sagittas = [20.0 - math.sqrt(400.0 - 0.25 * chord * chord) for chord in chords]
    assert max(sagittas) <= error_mm * (1 + 1e-9)
    assert max(sagittas) > 0.2 * error_mm or len(points) < 12


def test_the_normal_axis_of_a_helix_goes_evenly() -> None:
    helix = last("G3 I10 Z1")
    points = helix.points(0.05)
    heights = [point[2] for point in points]
    assert heights == pytest.approx([5.0 - 4.0 * n / (len(points) - 1) for n in range(len(points))])


def test_points_of_a_line_are_its_ends_and_the_error_must_be_positive() -> None:
    line = last("G1 X3 Y4")
    assert line.points(0.1) == [line.start, line.end]
    with pytest.raises(ValueError, match="chord_error_mm"):
        line.points(0.0)


def test_extents_of_an_arc_are_those_of_many_points_on_it() -> None:
    """Independent of quadrants: the arc's own equation sampled at 100001 angles."""
    arc = last("G2 X-9 Y7 R11 Z2")
    assert arc.centre is not None
    assert arc.sweep_rad is not None
    begin = math.atan2(arc.start[1] - arc.centre[1], arc.start[0] - arc.centre[0])
    angles = [begin + arc.sweep_rad * n / 100_000 for n in range(100_001)]
    across = [arc.centre[0] + 11.0 * math.cos(angle) for angle in angles]
    up = [arc.centre[1] + 11.0 * math.sin(angle) for angle in angles]
    low, high = arc.extents()
    assert low == pytest.approx((min(across), min(up), 2.0), abs=1e-8)
    assert high == pytest.approx((max(across), max(up), 5.0), abs=1e-8)


# --- drilling cycles ----------------------------------------------------------------------------


def test_first_drilling_example_of_the_manual() -> None:
    """Section 3.5.16.2, example 1: from (1, 2, 3), G90 G81 G98 X4 Y5 Z1.5 R2.8."""
    program = read("G0 X1 Y2 Z3\nG90 G81 G98 X4 Y5 Z1.5 R2.8")
    assert ends(program, 3) == [
        ("rapid", (4, 5, 3)),
        ("rapid", (4, 5, 2.8)),
        ("drill", (4, 5, 1.5)),
        ("rapid", (4, 5, 3)),
    ]


def test_second_drilling_example_of_the_manual() -> None:
    """Section 3.5.16.2, example 2: from (1, 2, 3), G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3."""
    program = read("G0 X1 Y2 Z3\nG91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")
    expected: list[tuple[str, Xyz]] = [("rapid", (1, 2, 4.8))]
    for x, y in ((5, 7), (9, 12), (13, 17)):
        expected += [("rapid", (x, y, 4.8)), ("drill", (x, y, 4.2)), ("rapid", (x, y, 4.8))]
    assert ends(program, 3) == expected


def test_holes_are_counted_by_k_as_by_l() -> None:
    """K on many controls (common practice, no source), L in RS274/NGC."""
    by_k, by_l = (read(f"G91 G81 G98 X4 Y5 Z-0.6 R1.8 {letter}3") for letter in "KL")
    assert by_k.moves == by_l.moves


def test_return_level_is_r_with_g99_and_the_initial_level_with_g98() -> None:
    low = read("G99 G81 X1 Z-2 R1\nX2\nG98 X3")
    assert [move.end[2] for move in low.moves if move.kind is MoveKind.RAPID][-1] == 5.0
    assert ends(low, 3)[-1] == ("rapid", (3, 0, 5))
    assert ("rapid", (1, 0, 1)) in ends(low, 2)
    assert ("rapid", (1, 0, 5)) in ends(low, 2)  # on the way in, before the hole
    assert ends(low, 2).count(("rapid", (1, 0, 5))) == 1


def test_depth_r_and_peck_hold_until_the_cycle_is_cancelled() -> None:
    program = read("G83 X1 Z-7 R1 Q3\nX2\nX3 Z-1\nG80\nG0 Z9")
    strokes = [(move.end[0], move.end[2]) for move in program.moves if move.kind is MoveKind.DRILL]
    assert strokes == [(1, -2), (1, -5), (1, -7), (2, -2), (2, -5), (2, -7), (3, -1)]
    assert sum(m.length_mm for m in program.moves if m.kind is MoveKind.DRILL) == 8 + 8 + 2


@pytest.mark.parametrize(
    ("cycle", "strokes_mm", "dwell_s"),
    [
        ("G81 X1 Z-4 R1", [5], 0.0),
        ("G82 X1 Z-4 R1 P0.6", [5], 0.6),
        ("G83 X1 Z-4 R1 Q2", [2, 2, 1], 0.0),
        ("G73 X1 Z-4 R1 Q2", [2, 2, 1], 0.0),
        ("G84 X1 Z-4 R1", [5, 9], 0.0),  # in, and out at feed to the initial level, 5
        ("G85 X1 Z-4 R1", [5, 9], 0.0),
        ("G86 X1 Z-4 R1 P1", [5], 1.0),
        ("G88 X1 Z-4 R1 P2", [5], 2.0),
        ("G89 X1 Z-4 R1 P3", [5, 9], 3.0),
        ("G87 X1 Z-4 R1 I0.5 J0 K-1", [3, 3], 0.0),  # up from -4 to -1 and down again
    ],
)
def test_strokes_and_dwells_of_each_cycle(
    cycle: str, strokes_mm: list[float], dwell_s: float
) -> None:
    """Sections 3.5.16.2 to 3.5.16.10."""
    program = read(cycle)
    strokes = [m.length_mm for m in program.moves if m.kind is MoveKind.DRILL]
    assert strokes == pytest.approx(strokes_mm)
    assert program.dwell_s == pytest.approx(dwell_s)
    assert program.moves[-1].end == pytest.approx((1, 0, 5))


def test_chip_breaking_stays_in_the_hole_and_pecking_leaves_it() -> None:
    """Rapid moves: 1 across, 4 down to R, 9 out; G83 goes out to 5 and back twice more."""
    assert read("G73 X1 Z-4 R1 Q2").rapid_length_mm == pytest.approx(5 + 1 + 4 + 9)
    assert read("G83 X1 Z-4 R1 Q2").rapid_length_mm == pytest.approx(5 + 1 + 4 + 9 + 2 * (6 + 8))


def test_a_cycle_after_other_motion_has_an_initial_level_of_its_own() -> None:
    program = read("G81 X1 Z-2 R1\nG80\nG0 Z12\nG81 X2 Z-2 R1\nG0 Z3\nG81 X3 Z-2 R1")
    assert [move.end[2] for move in program.moves if move.line in {3, 6, 8}][3::4] == [5, 12, 3]


def test_back_boring_goes_in_and_out_beside_the_axis() -> None:
    """Section 3.5.16.8, steps 1 to 11."""
    assert ends(read("G87 X9 Y10 Z-4 R5 I0.5 J0 K-1"), 2) == [
        ("rapid", (9, 10, 5)),
        ("rapid", (9.5, 10, 5)),
        ("rapid", (9.5, 10, -4)),
        ("rapid", (9, 10, -4)),
        ("drill", (9, 10, -1)),
        ("drill", (9, 10, -4)),
        ("rapid", (9.5, 10, -4)),
        ("rapid", (9.5, 10, 5)),
        ("rapid", (9, 10, 5)),
    ]


def test_cycles_drill_along_the_normal_of_their_plane() -> None:
    program = read("G18 G81 X4 Z3 Y-1 R2")
    stroke = next(move for move in program.moves if move.kind is MoveKind.DRILL)
    assert (stroke.start, stroke.end) == ((4, 2, 3), (4, -1, 3))
    assert stroke.plane is Plane.ZX
