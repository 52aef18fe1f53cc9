"""Numbers as words: never claim that a level is reached before it is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.screen.show import numbers
from kiosk.words import load

WORDS = load()


def digits(text: str) -> int:
    return int("".join(ch for ch in text if ch.isdigit()))


@given(st.floats(0.0, 3.0), st.floats(1.05, 1.5))
def test_r_never_reads_as_reached_while_it_is_below(ratio: float, level: float) -> None:
    if ratio < level - 1e-6 and round(level * 100) == pytest.approx(level * 100):
        assert digits(numbers.percent(WORDS, ratio)) < round(level * 100)


@given(st.floats(0.0, 100.0), st.floats(20.0, 90.0))
def test_a_gauge_at_the_shown_level_is_at_the_level(vacuum: float, level: float) -> None:
    if digits(numbers.measured(WORDS, vacuum)) >= digits(numbers.level(WORDS, level)):
        assert vacuum >= level - 2e-6


def test_a_whole_level_stays_whole() -> None:
    assert numbers.level(WORDS, 61.0000000001) == "61\u00a0kPa"
    assert numbers.percent(WORDS, 1.15) == "115"


def test_a_need_is_rounded_up_and_a_value_down() -> None:
    assert (numbers.level(WORDS, 39.1), numbers.level(WORDS, 34.4)) == (
        "40\u00a0kPa",
        "35\u00a0kPa",
    )
    assert (numbers.measured(WORDS, 39.9), numbers.percent(WORDS, 1.149)) == ("39\u00a0kPa", "114")


def test_unknown_is_two_dashes_never_nought() -> None:
    assert "-" in numbers.percent(WORDS, None)
    assert not any(ch.isdigit() for ch in numbers.measured(WORDS, None))


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ([], ""),
        (["4"], "4"),
        (["1", "10"], "1 and 10"),
        (["3", "4", "5", "6", "7", "8", "9"], "3 to 9"),
        (["3", "4", "5", "7", "8", "9"], "3 to 5 and 7 to 9"),
        (["1", "2", "6", "10"], "1, 2, 6 and 10"),
    ],
)
def test_seats_are_said_as_a_person_says_them(names: list[str], said: str) -> None:
    assert numbers.spoken(WORDS, names).replace("\u00a0", " ") == said


def test_time_left_is_rounded_down() -> None:
    assert numbers.duration(WORDS, 59.9) == "59\u00a0s"
    assert numbers.duration(WORDS, 179.0) == "2\u00a0min"
