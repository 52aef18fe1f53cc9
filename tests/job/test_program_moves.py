"""Moves, arcs and cycles against the RS274/NGC manual (NISTIR 6556) and closed forms."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from kiosk.job.gcode import read_program
from kiosk.job.program import Move, MoveKind, Plane, Program, Xyz, program_of

HEAD = "G21 G17 G90 F1000 S18000\nG0 X0 Y0 Z5\n"


def read(text: str, offsets: dict[int, Xyz] | None = None) -> Program:
    return read_program(HEAD + text, "part.nc", offsets or {})


def last(text: str, offsets: dict[int, Xyz] | None = None) -> Move:
    return read(text, offsets).moves[-1]


def ends(program: Program, after: int) -> list[tuple[str, Xyz]]:
    return [
        (move.kind.value, tuple(round(value, 9) for value in move.end))
        for move in program.moves
        if move.line > after
    ]


def test_m4_turns_the_spindle_the_other_way_until_m3() -> None:
    """RS274/NGC (NISTIR 6556), section 3.6.2: M3 clockwise, M4 counter-clockwise."""
    moves = read("G0 X9\nM4\nG1 X1\nM5\nG0 X2\nS9000 M3\nG1 X3").moves
    assert [move.reversed_spindle for move in moves[-3:]] == [True, True, False]
    assert moves[0].reversed_spindle is False


@pytest.mark.parametrize(("code", "is_reversed"), [("M13", False), ("M14", True)])
def test_the_spindle_may_start_with_the_coolant(code: str, is_reversed: bool) -> None:
    """ISO 6983-1, miscellaneous functions (from memory): M13 and M14 are M3 and M4 with coolant."""
    program = read(f"{code}\nG1 X1")
    assert program.moves[-1].reversed_spindle is is_reversed
    assert not program.never_turned


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


# --- modes, frames, tools -----------------------------------------------------------------------


def test_inches_are_25_4_mm_and_feed_goes_with_them() -> None:
    move = last("G20 G1 X1 F10")
    assert move.end[0] == pytest.approx(25.4)
    assert move.feed_mm_min == pytest.approx(254.0)
    assert last("G1 F600\nG20\nX1").feed_mm_min == pytest.approx(600.0)  # a feed once set stays


def test_incremental_moves_add_up() -> None:
    assert last("G91\nG1 X1.5 Y1\nX-0.5 Z-2\nG90 Y7").end == pytest.approx((1.0, 7.0, 3.0))


def test_what_a_sum_of_increments_leaves_over_is_no_move() -> None:
    """0.1 + 0.2 is not 0.3 in binary (IEEE 754)."""
    assert last("G91 G1 X0.1\nX0.2\nG90 G0 X0.3\nG1 X9").start[0] == pytest.approx(0.3)
    assert len(read("G91 G1 X0.1\nX0.2\nG90 G0 X0.3\nG1 X9").moves) == 4


def test_naming_the_place_moves_the_zero_as_the_manual_says() -> None:
    """Section 3.5.18: at X4, G92 x7 shifts by -3; at 7 then, G92 x9 shifts by -5."""
    assert last("G0 X4\nG92 X7\nG1 X8").end[0] == pytest.approx(5.0)
    assert last("G0 X4\nG92 X7\nG92 X9\nG1 X0").end[0] == pytest.approx(-5.0)
    assert last("G0 X4\nG92 X7\nG92.1\nG1 X1").end[0] == pytest.approx(1.0)
    assert last("G0 X4\nG92 X7\nG92.2\nG92.3\nG1 X0").end[0] == pytest.approx(-3.0)
    assert last("G0 X4\nG92 X7\nG92.1\nG92.3\nG1 X0").end[0] == pytest.approx(0.0)


def test_a_local_zero_adds_to_every_work_offset() -> None:
    offsets = {56: (100.0, 50.0, -2.0)}
    assert last("G52 X10 Y1\nG1 X1 Y1 Z0", offsets).end == pytest.approx((11, 2, 0))
    assert last("G52 X10 Y1\nG56 G1 X1 Y1 Z0", offsets).end == pytest.approx((111, 52, -2))
    assert last("G52 X10\nG52 X0 Y0\nG1 X1", offsets).end[0] == pytest.approx(1.0)


def test_inverse_time_gives_each_move_its_own_feed() -> None:
    """Section 3.5.19: F2 asks for half a minute."""
    program = read("G93\nG1 X100 F2\nG2 I10 F4\nG94 G1 X0 F500")
    cuts = [move for move in program.moves if move.cuts]
    assert [cut.seconds() for cut in cuts] == pytest.approx([30.0, 15.0, 12.0])
    assert cuts[1].feed_mm_min == pytest.approx(2 * math.pi * 10 * 4)


def test_dwells_count_in_the_time() -> None:
    assert read("G1 X100 F6000\nG4 P2.5\nG4 X1").dwell_s == pytest.approx(3.5)
    assert read("G1 X100 F6000\nG4 P2.5").seconds == pytest.approx(1.0 + 2.5 + 5 / 20_000 * 60)


def test_a_tool_changes_at_m6_to_the_last_one_named() -> None:
    program = read("T3 M6\nT7\nG1 X1\nM6\nX2\nT3\nX3\nM6 T1\nX4\nM30")
    assert [move.tool for move in program.moves if move.cuts] == [3, 7, 7, 1]
    assert program.tools == (3, 7, 1)
    assert program.assumed == ()


def test_without_any_m6_the_tool_changes_at_t_and_that_is_said() -> None:
    program = read("T3\nG1 X1\nT0\nX2\nT5 X3")
    assert [move.tool for move in program.moves if move.cuts] == [3, None, 5]
    assert [words for words in program.assumed if "T as the tool change" in words]


def test_a_tool_that_never_cuts_is_not_in_use() -> None:
    assert read("T3 M6\nG0 X1\nT4 M6\nG1 X2").tools == (4,)


def test_speed_is_the_last_s_and_none_before_it() -> None:
    program = read_program("G21 G17 G90 F100\nG0 X0 Y0 Z0\nG1 X1\nS900\nX2\nS0 X3", "a.nc", {})
    assert [move.spindle_rpm for move in program.moves if move.cuts] == [None, 900.0, None]


def test_block_delete_is_carried_out_and_said() -> None:
    program = read("/G1 X10\n/2 N5 X20\n/M8\nM2")
    assert program.max_mm == pytest.approx((20, 0, 5))
    assert program.assumed == ("lines that start with / are carried out",)
    assert program.optional_lines == (3, 4)


@pytest.mark.parametrize(
    "line", ["S900", "F5", "X5", "G1", "G91", "M5", "T2", "M98 P5", "M30", "G55"]
)
def test_a_line_with_a_stroke_that_changes_the_cut_is_kept(line: str) -> None:
    text = f"T1 M6\nM3\nG1 X1\n/{line}\nG0 X2\nM30\nO5\nM99"
    program = read(text, {55: (0.0, 0.0, 0.0)})
    assert program.optional_lines == (6,)
    assert program.assumed == ()


@pytest.mark.parametrize("line", ["M7", "M9", "M0", "M48", "G4 P1", "G40", "(S900)", "N5", "H1"])
def test_a_line_with_a_stroke_that_changes_no_cut_is_not(line: str) -> None:
    assert read(f"M3\nG1 X1\n/{line}\nG0 X2").optional_lines == ()


def test_modes_that_the_file_leaves_open_are_named() -> None:
    program = read_program("G0 X0 Y0 Z0 F100\nG1 X1\nG21 G17\nM2", "a.nc", {})
    assert program.assumed == ("G21", "G17", "G90")
    named = read_program("G20 G19\nG91\nG0 X0 Y0 Z0 F100\nG1 X1\nM2", "a.nc", {}).assumed
    assert not set(named) & {"G21", "G17", "G90"}


def test_a_start_that_the_program_never_gave_is_named() -> None:
    program = read_program("G21 G17 G90 G0 X5 F100\nG1 Z-1\nM2", "a.nc", {})
    assert program.assumed == ("Y Z at program zero when the cut on line 2 starts",)


def test_an_end_without_m2_or_m30_is_named() -> None:
    assert read("G1 X1").assumed == (
        "the end of the file as the end of the program, without M2 or M30",
    )
    assert read("G1 X1\nM30").assumed == ()
    assert read_program(f"%\n{HEAD}G1 X1\n%", "a.nc", {}).assumed == ()


def test_a_dwell_of_minutes_is_named() -> None:
    assert "P500 on line 4 in seconds" in read("G1 X1\nG4 P500\nM30").assumed
    assert "P250 on line 3 in seconds" in read("G82 X1 Z-1 R1 P250\nX2\nM30").assumed
    assert read("G82 X1 Z-1 R1 P0.5\nM30").assumed == ()


def test_f_is_the_seconds_of_a_dwell_that_has_no_other_and_no_feed() -> None:
    program = read("G4 F2\nG1 X100\nG4 F900 P1\nG1 X0\nM30")
    assert program.dwell_s == pytest.approx(3.0)
    assert [move.feed_mm_min for move in program.moves if move.cuts] == [1000.0, 900.0]
    assert program.assumed == ("F2 on line 3 in seconds",)


def test_nothing_after_the_end_is_read() -> None:
    assert read("G1 X1\nM30\nG1 X99\nrubbish #1").max_mm == pytest.approx((1, 0, 5))
    assert read_program(f"%\n{HEAD}G1 X1\n%\nG1 X99", "a.nc", {}).max_mm == pytest.approx((1, 0, 5))


def test_text_before_the_first_percent_may_be_comment() -> None:
    program = read_program(f"(from the office)\n%\nO12\n{HEAD}G1 X1\nM30\n%\n", "a.nc", {})
    assert program.cut_length_mm == pytest.approx(1.0)


# --- ways only the machine knows ----------------------------------------------------------------


def test_homing_and_machine_moves_are_left_out() -> None:
    program = read("G1 X10\nG0 Z8\nG28 Z20\nG0 X50 Y50\nG0 Z5\nG1 X60\nG53 G0 Z0\nM30")
    off = [(move.line, move.kind) for move in program.moves if move.kind is MoveKind.RETRACT_OFF]
    assert [line for line, _ in off] == [5, 6, 7, 9]
    assert program.rapid_length_mm == pytest.approx(5 + 3 + 12)  # Z5, Z8, and Z20 on the way home
    assert program.cut_length_mm == pytest.approx(20.0)
    assert program.max_mm == pytest.approx((60.0, 50.0, 5.0))


def test_home_without_axis_words_takes_every_axis_away() -> None:
    program = read("G1 X10\nG28\nG0 X0 Y0 Z5\nG1 X20")
    kinds = [move.kind for move in program.moves if move.line > 3]
    assert kinds == [MoveKind.RETRACT_OFF, MoveKind.RETRACT_OFF, MoveKind.FEED]


def test_the_third_place_of_the_machine_is_named_by_p() -> None:
    off = [move.line for move in read("G1 X10\nG91 G30 P3 Z0\nG90\nM30").moves if not move.cuts]
    assert off == [2, 4]


def test_a_cycle_in_increments_from_the_level_where_it_began_goes_on() -> None:
    """Section 3.5.16: with G98 the tip is back at 5, from where R and Z count again."""
    program = read("G91 G98 G81 X1 Z-4 R-3\nX2\nM30")
    strokes = [(m.start, m.end) for m in program.moves if m.kind is MoveKind.DRILL]
    assert strokes == [((1, 0, 2), (1, 0, -2)), ((3, 0, 2), (3, 0, -2))]


def test_a_cancelled_tool_length_takes_z_away_until_it_is_back() -> None:
    program = read("G43 H1 Z5\nG1 X10\nG49 G0 Z40\nG43 H2 Z5\nG1 X20\nM30")
    assert [m.kind for m in program.moves if m.line in {5, 6}] == [MoveKind.RETRACT_OFF] * 2
    assert program.cut_length_mm == pytest.approx(20.0)


# --- subprograms --------------------------------------------------------------------------------


def test_a_call_repeats_and_nests() -> None:
    text = "M98 P10 L2\nM30\nO10\nM98 P20 L3\nM99\nO20\nG91 G1 X1\nG90\nM99\n"
    program = read(text)
    assert program.cut_length_mm == pytest.approx(6.0)
    assert {move.line for move in program.moves if move.cuts} == {9}


def test_calls_one_after_another_are_not_deep() -> None:
    text = "M98 P10\n" * 30 + "M30\nO10\nG91 G1 X1\nM99"
    assert read(text).cut_length_mm == pytest.approx(30.0)


def test_repeats_may_stand_before_the_number() -> None:
    assert read("M98 P30010\nM30\nO10\nG91 G1 X1\nM99").cut_length_mm == pytest.approx(3.0)
    whole = "M98 P30010\nM30\nO30010\nG91 G1 X7\nM99\nO10\nG91 G1 X1\nM99"
    assert read(whole).cut_length_mm == pytest.approx(7.0)


def test_a_cycle_in_force_drills_at_the_places_of_a_subprogram() -> None:
    program = read("G81 X1 Z-2 R1\nM98 P5\nG80\nM30\nO5\nX2\nX3 Y4\nM99")
    places = [move.end for move in program.moves if move.kind is MoveKind.DRILL]
    assert places == [(1, 0, -2), (2, 0, -2), (3, 4, -2)]


def test_modes_set_in_a_subprogram_stay() -> None:
    assert last("M98 P5\nG1 X1\nM30\n:5\nG91\nG1 X10\nM99").end[0] == pytest.approx(11.0)


def test_a_program_may_end_inside_a_subprogram() -> None:
    program = read("M98 P5\nG1 X99\nO5\nG1 X1\nM30")
    assert program.max_mm == pytest.approx((1, 0, 5))


def test_the_next_o_word_ends_the_main_program() -> None:
    assert read("G1 X1\nO5\nG1 X50\nM99").max_mm == pytest.approx((1, 0, 5))


# --- the whole ----------------------------------------------------------------------------------


def test_a_program_made_of_no_cut_has_no_extents() -> None:
    empty = program_of([Move(MoveKind.RAPID, (0, 0, 0), (3, 4, 0), 1)])
    assert (empty.min_mm, empty.max_mm, empty.cut_length_mm) == (None, None, 0.0)
    assert empty.rapid_length_mm == pytest.approx(5.0)


def test_progress_grows_and_stays_below_the_whole() -> None:
    told: list[float] = []
    lines = "".join(f"G1 X{n % 7}\n" for n in range(20_000))
    read_program(HEAD + lines, "a.nc", {}, told.append)
    assert told == sorted(told)
    assert len(told) >= 4
    assert 0.0 <= told[0] <= told[-1] <= 1.0
