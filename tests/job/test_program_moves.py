"""Moves, modes and subprograms against the RS274/NGC manual (NISTIR 6556) and closed forms."""

from __future__ import annotations

import math

import pytest

from kiosk.job.gcode import read_program
from kiosk.job.program import Move, MoveKind, Program, Xyz, program_of

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
