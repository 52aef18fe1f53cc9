"""Programs whose lengths, extents, times and tools were worked out by hand, in known.toml."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from kiosk.job.gcode import read_program
from kiosk.job.program import Program

PROGRAMS = Path(__file__).parent / "programs"
KNOWN: dict[str, dict[str, Any]] = tomllib.loads((PROGRAMS / "known.toml").read_text())


def text_of(name: str) -> str:
    return (PROGRAMS / f"{name}.nc").read_bytes().decode()


def offsets_of(name: str) -> dict[int, tuple[float, float, float]]:
    rows = KNOWN[name].get("offsets", {})
    return {int(key[1:]): (row[0], row[1], row[2]) for key, row in rows.items()}


def read(name: str) -> Program:
    return read_program(text_of(name), f"{name}.nc", offsets_of(name))


def test_every_program_of_the_corpus_has_a_row_and_every_row_a_program() -> None:
    assert {path.stem for path in PROGRAMS.glob("*.nc")} == set(KNOWN)


@pytest.mark.parametrize("name", KNOWN)
def test_lengths_are_those_worked_out_by_hand(name: str) -> None:
    program, known = read(name), KNOWN[name]
    assert program.cut_length_mm == pytest.approx(known["cut_length_mm"], abs=2e-5)
    assert program.rapid_length_mm == pytest.approx(known["rapid_length_mm"], abs=2e-5)


@pytest.mark.parametrize("name", KNOWN)
def test_extents_are_those_worked_out_by_hand(name: str) -> None:
    program, known = read(name), KNOWN[name]
    assert program.min_mm == pytest.approx(known["min_mm"], abs=2e-6)
    assert program.max_mm == pytest.approx(known["max_mm"], abs=2e-6)


@pytest.mark.parametrize("name", KNOWN)
def test_time_from_feeds_is_that_worked_out_by_hand(name: str) -> None:
    assert read(name).seconds == pytest.approx(KNOWN[name]["seconds"], rel=1e-5)


@pytest.mark.parametrize("name", KNOWN)
def test_tools_come_in_order_of_use(name: str) -> None:
    assert read(name).tools == tuple(KNOWN[name]["tools"])


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
@pytest.mark.parametrize("name", KNOWN)
def test_line_ends_change_nothing_and_lines_are_those_of_the_file(name: str, ending: str) -> None:
    lines = text_of(name).replace("\r\n", "\n")
    moves = read_program(lines.replace("\n", ending), name, offsets_of(name)).moves
    assert moves == read(name).moves
    assert max(move.line for move in moves) <= lines.count("\n") + 1


def test_an_untidy_copy_of_a_program_is_the_same_motion() -> None:
    tidy = [(move.kind, move.start, move.end, move.feed_mm_min) for move in read("rectangle").moves]
    untidy = [(move.kind, move.start, move.end, move.feed_mm_min) for move in read("untidy").moves]
    assert untidy == tidy


def test_a_slower_rapid_rate_takes_longer_by_the_rapid_length() -> None:
    program = read("rectangle")
    # 61 mm at 6000 mm/min are 0.61 s, at 20000 mm/min 0.183 s
    assert program.seconds_at(6000.0) == pytest.approx(6.683 - 0.183 + 0.61)


def test_the_corpus_leaves_open_only_what_it_is_seen_to_leave_open() -> None:
    assert {name: read(name).assumed for name in KNOWN if read(name).assumed} == {
        "engrave": ("G17", "G90"),
    }


def test_the_corpus_starts_its_spindle_and_has_no_strokes_but_where_it_is_seen() -> None:
    assert not [name for name in KNOWN if read(name).never_turned]
    strokes = {name: read(name).optional_lines for name in KNOWN if read(name).optional_lines}
    assert strokes == {"untidy": (7,)}
