"""Repeats: their ends by SciPy's Student distribution, their spread by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kiosk.shop.repeats import LEAST, MOST, STUDENT_95, Repeats


@pytest.mark.parametrize("count", range(LEAST, MOST + 1))
def test_the_students_points_are_those_of_scipy(count: int) -> None:
    assert STUDENT_95[count] == pytest.approx(stats.t.ppf(0.95, count - 1), abs=5.1e-4)


def test_there_is_a_point_for_every_allowed_number_of_repeats() -> None:
    assert set(STUDENT_95) == set(range(LEAST, MOST + 1))


def test_three_repeats_worked_by_hand() -> None:
    # 0.60, 0.62, 0.64: mean 0.62, s = 0.02, t = 2.920: 0.62 -+ 2.920 x 0.02 / sqrt(3) = 0.03372
    found = Repeats((0.60, 0.62, 0.64))
    assert found.mean == pytest.approx(0.62)
    assert found.spread == pytest.approx(0.04 / 0.62)
    assert found.low_end == pytest.approx(0.58628, abs=1e-5)
    assert found.high_end == pytest.approx(0.65372, abs=1e-5)


def test_the_ends_are_scipys_one_sided_limits_when_no_repeat_is_worse() -> None:
    values = (1.0, 1.1, 0.95, 1.02)
    error = stats.sem(values)
    low, high = stats.t.interval(0.90, 3, loc=sum(values) / 4, scale=error)
    assert Repeats(values).low_end == pytest.approx(min(low, 0.95), rel=1e-4)
    assert Repeats(values).high_end == pytest.approx(max(high, 1.1), rel=1e-4)


@given(st.lists(st.floats(0.1, 10.0), min_size=LEAST, max_size=MOST))
def test_the_ends_are_never_inside_the_worst_repeat(values: list[float]) -> None:
    found = Repeats(tuple(values))
    assert found.low_end <= min(values)
    assert found.high_end >= max(values)
    assert found.low_end - found.mean == pytest.approx(0, abs=max(values) * math.sqrt(20) * 3)


@pytest.mark.parametrize(
    ("values", "missing", "scattered", "words"),
    [
        ((1.0,), 2, False, "3 at least"),
        ((1.0,) * 21, 0, False, "20 at most"),
        ((1.0, 1.0, 1.15), 0, False, None),  # spread 0.15 / 1.05 = 14 %
        ((1.0, 1.0, 1.2), 2, False, "measure 2 more"),  # 0.2 / 1.067 = 19 %
        ((1.0, 1.0, 1.2, 1.1), 1, False, "measure 1 more"),
        ((1.0, 1.0, 1.2, 1.1, 1.1), 0, False, None),
        ((1.0, 1.0, 1.4), 2, True, "find what differs"),  # 0.4 / 1.133 = 35 %
        ((1.0, 1.0, 1.0, 1.0, 1.4), 0, True, "find what differs"),  # 0.4 / 1.08 = 37 %
    ],
)
def test_wide_spread_asks_for_more_and_wider_is_refused(
    values: tuple[float, ...], missing: int, scattered: bool, words: str | None
) -> None:
    found = Repeats(values)
    assert (found.missing, found.scattered) == (missing, scattered)
    trouble = found.trouble()
    assert (trouble is None) if words is None else (trouble is not None and words in trouble)
