"""Laws of reading: what is written back is the same motion; nothing ends in another error.

The programs are drawn by hypothesis, or are those of the corpus, damaged at random.
"""

from __future__ import annotations

import math
import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_program_corpus import KNOWN, offsets_of, read, text_of

from kiosk.job.gcode import MOST_MISTAKES, read_program
from kiosk.job.gcode_write import write_program
from kiosk.job.program import Move, MoveKind, Program
from kiosk.mistakes import BadInput

FUZZ_QUICK, FUZZ_LONG = 1_000, 10_000
LONGEST_S = 1.0


# --- parse, write, parse ------------------------------------------------------------------------


def motion(program: Program) -> list[Move]:
    """Rapid and cutting moves; ways that only the machine knows are no motion of the program."""
    return [move for move in program.moves if move.kind is not MoveKind.RETRACT_OFF]


def assert_same_motion(first: Program, second: Program) -> None:
    assert len(motion(first)) == len(motion(second))
    for one, two in zip(motion(first), motion(second), strict=True):
        assert one.cuts == two.cuts
        assert (one.centre is None) == (two.centre is None)
        assert math.dist(one.start, two.start) < 1e-8
        assert math.dist(one.end, two.end) < 1e-8
        assert two.length_mm == pytest.approx(one.length_mm, abs=1e-7)
        assert (one.tool, one.spindle_rpm) == (two.tool, two.spindle_rpm)
        assert one.feed_mm_min == two.feed_mm_min
        if one.sweep_rad is not None:
            assert two.plane is one.plane
            assert two.sweep_rad == pytest.approx(one.sweep_rad, abs=1e-6)
    assert second.cut_length_mm == pytest.approx(first.cut_length_mm)
    assert second.rapid_length_mm == pytest.approx(first.rapid_length_mm)
    assert second.seconds == pytest.approx(first.seconds)
    assert second.min_mm == pytest.approx(first.min_mm, abs=1e-6)
    assert second.max_mm == pytest.approx(first.max_mm, abs=1e-6)
    assert second.tools == first.tools


@pytest.mark.parametrize("name", KNOWN)
def test_the_corpus_written_back_is_the_same_motion(name: str) -> None:
    program = read(name)
    assert_same_motion(program, read_program(write_program(program), "again.nc", {}))


def number(low: float, high: float) -> st.SearchStrategy[str]:
    """A coordinate with up to four decimals, as programs have them."""
    return st.integers(round(low * 1e4), round(high * 1e4)).map(lambda n: f"{n / 1e4:.4f}")


def axis_words() -> st.SearchStrategy[str]:
    axis = st.tuples(st.sampled_from("XYZ"), number(-300, 300)).map("".join)
    return st.lists(axis, min_size=1, max_size=3, unique_by=lambda word: word[0]).map(" ".join)


@st.composite
def arc_lines(draw: st.DrawFn) -> str:
    """An arc in a plane of its own, given by increments so that it closes wherever it starts."""
    code, (plane, a, b, normal) = (
        draw(st.sampled_from(["G2", "G3"])),
        draw(st.sampled_from([("G17", 0, 1, 2), ("G18", 2, 0, 1), ("G19", 1, 2, 0)])),
    )
    radius, begin = draw(st.floats(0.5, 200)), draw(st.floats(0, 6.283))
    sweep = draw(st.one_of(st.just(0.0), st.floats(0.05, 6.2)))
    if code == "G2":
        sweep = -sweep
    to_centre = -radius * math.cos(begin), -radius * math.sin(begin)
    step = (
        radius * (math.cos(begin + sweep) - math.cos(begin)),
        radius * (math.sin(begin + sweep) - math.sin(begin)),
    )
    rise = draw(st.one_of(st.just("0"), number(-5, 5)))
    words = f"{'XYZ'[a]}{step[0]:.4f} {'XYZ'[b]}{step[1]:.4f} {'XYZ'[normal]}{rise}"
    centre = f"{'IJK'[a]}{to_centre[0]:.4f} {'IJK'[b]}{to_centre[1]:.4f}"
    return f"{plane} G91 G21 {code} {words} {centre}\nG90"


@st.composite
def cycle_lines(draw: st.DrawFn) -> str:
    cycle = draw(st.sampled_from(["G81", "G82", "G83", "G73", "G85", "G89"]))
    level = draw(st.sampled_from(["G98", "G99"]))
    more = {"G83": " Q2.5", "G73": " Q1.5"}.get(cycle, "")
    more += " P0.25" if cycle in {"G82", "G89"} else ""
    mode = draw(st.sampled_from(["G90", "G91"]))
    bottom = "Z-3" if mode == "G90" else "Z-8"
    where = f"X{draw(number(-300, 300))} Y{draw(number(-300, 300))}"
    more_holes = mode == "G90" and draw(st.booleans())  # in G91 a next R may be refused
    again = f"\nX{draw(number(-300, 300))}" if more_holes else ""
    return f"G17 G21 {mode} {level} {cycle} {where} {bottom} R4{more}{again}\nG80 G90"


SETTINGS = [
    "G20",
    "G21",
    "G91",
    "G90",
    "G55",
    "G54",
    "T1 M6",
    "T22 M6",
    "S12000",
    "S0",
    "F450",
    "M3",
    "M4",
]
lines = st.one_of(
    st.sampled_from(SETTINGS),
    axis_words().map(lambda words: f"G0 {words}"),
    axis_words().map(lambda words: f"G1 {words} F1234.5"),
    arc_lines(),
    cycle_lines(),
    st.just("G93 G1 X1.5 Y2.5 F3\nG94"),
    st.just("G28 Z300\nG90 G21 G0 X0 Y0\nG0 Z9"),
    st.just("G90 G21 G92 X10 Y3\nG1 X0\nG92.1"),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(lines, min_size=1, max_size=25))
def test_parsed_written_and_parsed_again_is_the_same_motion(body: list[str]) -> None:
    text = "\n".join(["G17 F500 M3 G0 X0 Y0 Z20", *body, "G90 G21 G0 Z50", "G1 X1"])
    first = read_program(text, "first.nc", {55: (12.5, -40.0, 3.0)})
    written = write_program(first)
    second = read_program(written, "second.nc", {})
    assert_same_motion(first, second)
    assert write_program(second) == written


# --- damaged programs ---------------------------------------------------------------------------

LETTERS = "XYZIJKRFSTMGNOPQLHDABC0123456789.-+/%()#[];: \t\n\r\x00éE"


def damage(text: str, chance: random.Random) -> str:
    """The text with a few things wrong: letters, digits, lines lost, doubled, swapped, cut off."""
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(text) + 1)
        to = min(len(text), at + chance.choice([1, 1, 1, 2, 5, 30]))
        text = chance.choice(
            [
                text[:at] + text[to:],
                text[:at] + chance.choice(LETTERS) + text[at:],
                text[:at] + chance.choice(LETTERS) + text[at + 1 :],
                text[:at] + text[at:to] * chance.choice([2, 3, 40]) + text[to:],
                text[:at],
                swapped(text, chance),
            ]
        )
    return text


def swapped(text: str, chance: random.Random) -> str:
    rows = text.split("\n")
    one, two = chance.randrange(len(rows)), chance.randrange(len(rows))
    rows[one], rows[two] = rows[two], rows[one]
    return "\n".join(rows)


def outcome(text: str, name: str) -> Program | BadInput:
    try:
        return read_program(text, name, offsets_of(name))
    except BadInput as refused:
        return refused


def assert_read_or_refused(text: str, name: str) -> bool:
    """True when it was read.  Any error but BadInput, and any slowness, fails the test."""
    begun_s = time.process_time()
    found = outcome(text, name)
    assert time.process_time() - begun_s < LONGEST_S
    if isinstance(found, Program):
        assert found.cut_length_mm > 0.0
        assert all(math.isfinite(value) for value in (*(found.min_mm or ()), found.seconds))
        return True
    assert 1 <= len(found.mistakes) <= MOST_MISTAKES
    count = text.count("\n") + text.count("\r") + 1
    for mistake in found.mistakes:
        assert mistake.file == name
        assert mistake.text
        assert 1 <= (mistake.line or 1) <= count
        assert mistake.line is not None or "cuts nothing" in mistake.text
    return False


def run_damaged(count: int, seed: int) -> tuple[int, int]:
    chance = random.Random(seed)
    names = list(KNOWN)
    kept = {name: text_of(name) for name in names}
    read_well = 0
    for _ in range(count):
        name = chance.choice(names)
        read_well += assert_read_or_refused(damage(kept[name], chance), name)
    return read_well, count - read_well


def test_damaged_programs_are_read_or_refused_with_their_line() -> None:
    read_well, refused = run_damaged(FUZZ_QUICK, seed=6983)
    assert read_well > FUZZ_QUICK // 20  # the damage is neither nothing nor everything
    assert refused > FUZZ_QUICK // 4


@pytest.mark.long
def test_many_damaged_programs_are_read_or_refused_with_their_line() -> None:
    read_well, refused = run_damaged(FUZZ_LONG, seed=274)
    assert read_well > FUZZ_LONG // 20
    assert refused > FUZZ_LONG // 4


@settings(max_examples=200, deadline=None)
@given(st.text(st.sampled_from(LETTERS), max_size=120))
def test_any_text_of_these_letters_is_read_or_refused(text: str) -> None:
    assert_read_or_refused(text, "calls")


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=120))
def test_text_of_any_kind_is_refused_or_read(text: str) -> None:
    assert_read_or_refused(text, "calls")
