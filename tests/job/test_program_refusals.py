"""What a program says that is not understood is refused with its line, all of it at once."""

from __future__ import annotations

import pytest

from kiosk.job.gcode import read_program
from kiosk.mistakes import BadInput, Mistake

HEAD = "G21 G17 G90 F1000 S18000\nG0 X0 Y0 Z5\n"


def mistakes(text: str, head: str = HEAD) -> tuple[Mistake, ...]:
    with pytest.raises(BadInput) as caught:
        read_program(head + text, "jobs/part.nc", {55: (1.0, 2.0, 3.0)})
    assert {mistake.file for mistake in caught.value.mistakes} == {"jobs/part.nc"}
    return caught.value.mistakes


@pytest.mark.parametrize(
    ("line", "words"),
    [
        # codes
        ("G41 D1 X5", "G41 cutter compensation is not worked out"),
        ("G42 X5", "G42 cutter compensation"),
        ("G41 D0 X5", "G41 cutter compensation"),
        ("G41 D0\nX5\nD1", "D sets the radius of G41 or G42"),
        ("G5 X1", "G5 is not known"),
        ("G12.5 X1", "G12.5 is not known"),
        ("G5.1 X1 Q1", "G5.1 is not known"),
        ("G5.1", "G5.1 is not known"),
        ("G8 P1 Z2", "G8 is not known"),
        ("G50.1 X0", "G50.1 is not known"),
        ("G67 P1", "G67 is not known"),
        ("G67 G4 P2", "G67 is not known"),
        ("G28 P2 Z9", "nothing on the line uses P"),
        ("G1.25 X1", "G1.25 is no known code"),
        ("G-1 X1", "G-1 is no known code"),
        ("G10 L2 P1 X0", "[program.offsets]"),
        ("G16", "polar"),
        ("G51 X2", "scaling"),
        ("G68 X0 Y0 R30", "rotation"),
        ("G95 F0.1", "feed per revolution"),
        ("G38.2 Z-5", "probing"),
        ("G65 P9000", "macro"),
        ("G59.1", "G54 to G59"),
        ("G56 X1", "give G56 = [x, y, z] under [program.offsets]"),
        ("M21", "M21 is not known"),
        ("M3.5", "M3.5 must be a whole number"),
        ("G0 G1 X1", "G0 and G1 exclude each other"),
        ("G90 G91 X1", "G90 and G91 exclude each other"),
        ("G1 G1 X1", "exclude each other"),
        ("M3 M5", "M3 and M5 exclude each other"),
        ("M3 M14", "M3 and M14 exclude each other"),
        # words
        ("#1=5", "variables and expressions"),
        ("G1 X#1", "variables and expressions"),
        ("G1 X[1+2]", "variables and expressions"),
        ("IF X1 GOTO 10", "macro statements"),
        ("WHILE", "macro statements"),
        ("G1 X", "X has no number"),
        ("G1 X-", "X has no number"),
        ("G1 X1 Y-", "Y has no number in Y-: write one, such as Y10, or take it out"),
        ("G1 Z-9.X F2000", "X has no number in Z-9.X"),
        ("N10 G1 (deep) Z-9.X F2000", "X has no number in Z-9.X"),
        ("G1 X1.2.3", "X1.2.3 cannot be read: write one number with one point"),
        ("G1 X1,5", "X1,5 cannot be read: write one number with one point"),
        ("G1 Y29O.", "Y29O. cannot be read: write the digit 0 in place of the letter O"),
        ("n7 g1 y2o0.5 f300", "Y2O0.5 cannot be read: write the digit 0"),
        ("G1 XO Y5", "XO cannot be read: write the digit 0"),
        ("G1 X-O.5", "X-O.5 cannot be read: write the digit 0"),
        ("GO X5", "GO cannot be read: write the digit 0"),
        ("G1 X5 F3OOO", "F3OOO cannot be read: write the digit 0"),
        ("G1 X5 O5", "O does not belong here: a program's number stands first"),
        ("N5 GOTO 10", "macro statements"),
        ("G1 X1 / Y2", "'/' does not belong here"),
        ("G1 X12345678901", "more than nine digits"),
        ("12.5 G1 X1", "12.5 stands without its letter"),
        ("G1 X1 (a)\n 5", "5 stands without its letter"),
        ("G1 X1 X2", "X stands twice"),
        ("G1 X1 A90", "axis A is not read"),
        ("G1 X1 Q3", "nothing on the line uses Q"),
        ("G1 X1 R3", "nothing on the line uses R"),
        ("G0 X1 N10", "nothing on the line uses N"),
        ("N10.5 G1 X1", "N is no line number"),
        ("P5", "nothing on the line uses P"),
        ("G1 X1 (never closed", "not closed"),
        ("G1 X1) Y2", "without its ("),
        ("G1 Xé", "is no NC character"),
        ("G1 X\u0661", "is no NC character"),  # an Arabic-Indic digit one
        ("G1 X1\x00\nX2", "does not belong here"),
        ("G1 X1\x1a\nX2", "does not belong here"),
        ("%PROGRAM", "% stands alone"),
        # motion
        ("G80\nX5", "axis words without a motion code"),
        ("G1 X900000", "further than 100 m"),
        ("G2 X10 Y10", "the arc has no centre"),
        ("G90.1 G2 X10 Y10 I5", "the arc has no centre"),
        ("G2 X10 I5 R5", "not both"),
        ("G2 X10 Y0 I4", "starts 4.0000 mm from its centre and ends 6.0000 mm"),
        ("G2 X10 R4", "does not reach"),
        ("G2 R5", "must end elsewhere"),
        ("G2 X0 Y0 R5", "must end elsewhere"),
        ("G2 X10 I0 J0", "no radius"),
        ("G2 X10 I5 K1", "K does not lie in plane XY"),
        ("G3 X1 R-99999999", "more than 100 m"),
        ("G1 X5 F0", "F must be more than 0"),
        ("G1 X5 F-3", "F must be more than 0"),
        ("S-5", "S must not be negative"),
        ("T1.5 M6", "T1.5 must be a whole number"),
        ("M6", "M6 without a tool"),
        ("G93 G1 X5\nX6", "needs an F on every cutting line"),
        ("G4", "G4 needs P"),
        ("G4 P-1", "G4 needs P"),
        ("G92", "G92 needs an axis word"),
        ("G52", "G52 needs an axis word"),
        ("G52 X1\nG92 X0", "G52 together with G92"),
        ("G53", "G53 needs an axis word"),
        ("G81 X1 Z-1 R1\nG53 Z0", "G53 needs G0 or G1"),
        ("G28 Z9\nG1 X5", "only the machine knows"),
        ("G53 G0 Z0\nG81 X1 Z-1 R1", "only the machine knows"),
        ("G43 H1\nG49 Z50\nG1 X5", "only the machine knows"),
        ("G28\nG92 X0", "names a place only the machine knows"),
        # drilling cycles
        ("G81 Z-1 X1", "G81 needs R"),
        ("G81 R1 X1", "G81 needs Z"),
        ("G81 R1", "G81 needs X, Y or Z"),
        ("G83 X1 Z-1 R1", "G83 needs Q"),
        ("G83 X1 Z-1 R1 Q0", "must be more than 0"),
        ("G83 X1 Z-1 R1 Q0.0001", "pecks"),
        ("G81 X1 Z2 R1", "above R"),
        ("G81 X1 Z-1 R1 L0", "L0 is no count"),
        ("G81 X1 Z-1 R1 K0", "K0 is no count"),
        ("G81 X1 Z-1 R1 L2 K2", "L and K both count"),
        ("G81 X1 Z-1 R1 L1.5", "L1.5 must be a whole number"),
        ("G82 X1 Z-1 R1 P-1", "must not be negative"),
        ("G87 X1 Z-1 R1", "G87 needs I, J and K"),
        ("G81 X1 Z-1 R1\nG91 X2", "Z and R of the cycle stand in G90 and hold in G91"),
        ("G81 X1 Z-1 R1\nG91 X2 Z-4", "R of the cycle stand"),
        ("G91 G81 X1 Z-4 R-1\nG90 X5", "Z and R of the cycle stand in G91 and hold in G90"),
        ("G91 G99 G81 X1 Z-4 R-1\nX2", "the next R counts from the tip"),
        ("G91 G98 G81 X1 Z-4 R2\nX2", "the next R counts from the tip"),
        ("G93\nG81 X1 Z-1 R1 F1", "does not go with inverse time"),
        # subprograms
        ("M98", "M98 needs P"),
        ("G4 P5 M98\nM30\nO5\nM99", "a line of its own"),
        ("G82 X1 Z-1 R1 P5\nX2 M98 P5 L2\nM30\nO5\nM99", "a line of its own"),
        ("M98 P77", "subprogram O77 is not in the file"),
        ("M99", "M99 outside a subprogram"),
        ("M98 P5 L0\nM30\nO5\nM99", "L0 is no count of calls"),
        ("M98 P5\nM30\nO5\nM98 P5\nM99", "calls go more than 10 deep"),
        ("M98 P5\nM30\nO5\nG1 X1", "subprogram O5 has no M99"),
        ("M98 P5\nM30\nO5\nG1 X1\nO6\nG1 X2\nM99", "subprogram O5 has no M99"),
        ("M98 P5 L9999\nM30\nO5\n" + "G91 G1 X0.001\nX-0.001\n" * 20 + "M99", "calls repeat"),
        ("G1 X5\nM30\nO5\nM99\nO5\nM99", "O5 is there twice"),
    ],
)
def test_what_is_not_understood_is_refused_in_words(line: str, words: str) -> None:
    told = mistakes(line)
    assert any(words in mistake.text for mistake in told), told


@pytest.mark.parametrize("before", [0, 1, 7])
def test_the_line_is_that_of_the_file(before: int) -> None:
    text = "\r\n" * before + "G1 X1\r\n(a comment)\r\nG41 X2\r\nX3\r\nG2 X9\r\nM30"
    lines = [mistake.line for mistake in mistakes(text)]
    assert lines == [2 + before + 3, 2 + before + 5]


def test_a_mistake_in_a_subprogram_has_its_own_line_once() -> None:
    told = mistakes("M98 P5 L4\nM30\nO5\nG91 G1 X1\nM47\nM99")
    assert [(mistake.line, "M47" in mistake.text) for mistake in told] == [(7, True)]


def test_d_is_refused_from_g41_until_g40() -> None:
    told = mistakes("G41 D0\nG1 X1\nD1\nG40\nD2\nG1 X2\nM30")
    assert [mistake.line for mistake in told] == [3, 5]


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("M3\nG1 X1\nM5\nG1 X2\nX3", [6]),
        ("M3\nG1 X1\nM5\nG1 X2\nM3\nX3\nM5\nX4", [6, 10]),
        ("G1 X1\nM3\nG1 X2", [3]),
        ("M4\nM19\nG81 X1 Z-1 R1", [5]),
        ("M3\nM5\nG2 X10 R5", [5]),
        ("M98 P5\nM30\nO5\nM3\nG1 X1\nM5\nG1 X2\nM99", [9]),
    ],
)
def test_a_cut_by_a_spindle_that_stands_is_refused(text: str, lines: list[int]) -> None:
    """RS274/NGC (NISTIR 6556), 3.6.2: M5 stops the spindle until M3 or M4."""
    told = mistakes(text)
    assert [mistake.line for mistake in told] == lines
    assert {mistake.text for mistake in told} == {
        "a cut while the spindle stands: write M3, or M4, before it"
    }


def test_mistakes_come_by_their_lines_whenever_they_are_found() -> None:
    told = mistakes("M3\nG1 X1\nM5\nG1 X2\nG16\nM30")
    assert [mistake.line for mistake in told] == [6, 7]


@pytest.mark.parametrize("text", ["M3\nG1 X1\nM5\nG0 X5", "M3 S900 G1 X5", "M5\nM3\nG1 X5"])
def test_rapid_moves_may_follow_m5_and_cuts_m3(text: str) -> None:
    """RS274/NGC (NISTIR 6556), table 8: the spindle starts before the motion of its line."""
    program = read_program(HEAD + text, "a.nc", {})
    assert program.moves[-1].end == pytest.approx((5.0, 0.0, 5.0))
    assert not program.never_turned


def test_one_mistake_does_not_make_the_next_line_wrong() -> None:
    told = mistakes("G1 X10 Y0 Q1\nG2 X20 Y0 I5\nG3 X30 I5\nM30")
    assert [mistake.line for mistake in told] == [3]


def test_at_most_twenty_mistakes_are_told() -> None:
    assert [m.line for m in mistakes("G41 X1\n" * 500)] == list(range(3, 23))


@pytest.mark.parametrize("text", ["0\nSECTION\n9\nHEADER\n" * 9, "key = 1\n" * 30])
def test_a_file_of_which_no_line_can_be_read_is_told_once(text: str) -> None:
    """A drawing and a job file, under the program's name."""
    (told,) = mistakes(text, head="")
    assert told.line == 1
    assert told.text.endswith("none of the lines so far can be read: is it an NC program?")


def test_a_cut_before_any_feed_is_refused_once() -> None:
    told = mistakes("G21 G90 G17\nG0 X0 Y0 Z0\nG1 X1\nG81 X1 Z-1 R1\nM30", head="")
    assert [(m.line, "before any feed" in m.text) for m in told] == [(3, True)]


def test_axis_words_before_any_motion_code_are_refused() -> None:
    told = mistakes("G21 G17 G90 F100\nX5\nM30", head="")
    assert [(m.line, "without a motion code" in m.text) for m in told] == [(2, True)]


@pytest.mark.parametrize("text", ["", "\n\n", "%\n%\n", "(nothing)", "G21 G90\nG0 X5\nM30"])
def test_a_file_that_cuts_nothing_is_refused_as_a_whole(text: str) -> None:
    told = mistakes(text, head="")
    assert [(mistake.line, "cuts nothing" in mistake.text) for mistake in told] == [(None, True)]


def test_a_program_without_end_is_stopped() -> None:
    told = mistakes("M98 P1 L9999\nM30\nO1\nM98 P2 L9999\nM99\nO2\nG91 G1 X1\nX-1\nM99")
    assert len(told) == 1
    assert "calls repeat more than" in told[0].text


@pytest.mark.parametrize(
    "text",
    [
        "G40 G49 G54 G94 G98 G64 G97 G69 G50 G15 X5",
        "G61\nG61.1\nG80\nG0 X5",
        "G64 P0.02\nG64 P0.02 Q0.01\nX5",
        "G9 X3\nG60 X5",
        "G5 P10000\nG5.1 Q1\nG8 P1\nG5.1 Q0\nG40.1\nX5",
        "G13.1 G50.1 G67 G40 G49\nX5",
        "X5\n\x1a",
        "X5\n\x00\x00\r\n\x00",
        "G0 X3 G80 G40\nG1 X5",
        "G71 X5",
        "M7\nM8\nM9\nM48\nM49\nM19\nM1\nM0\nX5",
        "H1 D1 X5",
        "G40 D0 X5",
        "G2 I2.5 K0\nG1 X5",
        "X5 ; (not closed here, for it is a comment already",
        "X5 (G41 #1 [ ; within (and deeper) )",
    ],
)
def test_what_changes_nothing_is_let_through(text: str) -> None:
    program = read_program(f"{HEAD}G1 X1\n{text}", "a.nc", {})
    assert program.moves[-1].end == pytest.approx((5.0, 0.0, 5.0))


def test_a_byte_order_mark_or_the_nul_of_a_tape_is_no_character_of_the_program() -> None:
    program = read_program(f"\ufeff\x00\x00{HEAD}G1 X5", "a.nc", {})
    assert program.cut_length_mm == pytest.approx(5.0)
