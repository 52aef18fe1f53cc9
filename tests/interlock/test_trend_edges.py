"""The trend of a gauge, each of its numbers exactly, and against closed forms and scipy.

The numbers are our own choice (common practice, no source), by the curves of
docs/early-warning.md.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import exp, inf, sinh

import numpy as np
import pytest
from scipy.stats import theilslopes

from kiosk.interlock.trend import (
    Mark,
    Slope,
    TimeLeft,
    Trend,
    Turn,
    came_back_from,
    grow,
    slope_of,
    time_left,
)

# -- points and slope --------------------------------------------------------------------------


def test_a_second_becomes_one_point_and_a_gap_over_2_s_begins_anew() -> None:
    trend = grow(grow(Trend(), (100.0, 60.0)), (100.9, 62.0))
    assert (trend.second, trend.points) == (((100.0, 60.0), (100.9, 62.0)), ())
    point = grow(trend, (101.0, 65.0))
    assert (point.second, point.points) == (((101.0, 65.0),), ((100.45, 61.0),))
    assert grow(trend, (102.9, 65.0)).points == ((100.45, 61.0),)
    gone = grow(replace(trend, turn=Turn(edge_kpa=5.0)), (102.901, 65.0))
    assert gone == Trend(second=((102.901, 65.0),), turn=Turn(edge_kpa=5.0))


@pytest.mark.parametrize("count", range(4, 11))
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_slope_and_bounds_of_few_points_are_those_of_scipy(count: int, seed: int) -> None:
    """scipy.stats.theilslopes with alpha 0.99: the rank interval of P. K. Sen (1968)."""
    kpa = np.random.default_rng(seed).uniform(50.0, 70.0, count)
    found = slope_of(tuple(enumerate(kpa.tolist())))
    expected = theilslopes(kpa, np.arange(float(count)), alpha=0.99)
    assert found is not None
    assert (found.lowest, found.likely, found.highest) == pytest.approx(
        (expected.low_slope, expected.slope, expected.high_slope)
    )


# -- how much further it falls -----------------------------------------------------------------


def first_order(time_constant_s: float, count: int) -> tuple[Mark, ...]:
    """30 kPa that die away towards 40 kPa."""
    return tuple((float(n), 40.0 + 30.0 * exp(-n / time_constant_s)) for n in range(count))


@pytest.mark.parametrize("time_constant_s", [1.0, 3.0, 8.0, 40.0])
@pytest.mark.parametrize("count", [5, 9, 10])
def test_two_moments_of_a_first_order_fall_give_what_is_left(
    time_constant_s: float, count: int
) -> None:
    """A chord of 3 s of an exponential stands for its middle but for (2 T / 3) sinh(1.5 s / T)."""
    slope = slope_of(first_order(time_constant_s, count))
    left_kpa = 30.0 * exp(-(count - 1) / time_constant_s)
    chord = 2.0 * time_constant_s / 3.0 * sinh(1.5 / time_constant_s)
    assert slope is not None
    assert slope.moments_kpa == pytest.approx(left_kpa * chord, rel=1e-6)


@pytest.mark.parametrize("time_constant_s", [1.0, 3.0, 8.0, 40.0])
@pytest.mark.parametrize("count", [4, 5, 9, 10])
def test_two_halves_of_a_first_order_fall_give_what_is_left(
    time_constant_s: float, count: int
) -> None:
    """The slopes of two halves are in the ratio that the time between them makes."""
    points, half = first_order(time_constant_s, count), count // 2
    slope = slope_of(points)
    newer = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(points[-half:], 2)]
    left_kpa = -np.median(newer) * time_constant_s * exp(-(half - 1) / 2.0 / time_constant_s)
    assert slope is not None
    assert slope.halves_kpa == pytest.approx(left_kpa, rel=1e-6)


def shaped(*slopes: float) -> Slope:
    """Ten points whose steps are these: the first five seconds, the others."""
    kpa = [60.0]
    for n in range(9):
        kpa.append(kpa[-1] + slopes[n >= 4])
    slope = slope_of(tuple((float(n), value) for n, value in enumerate(kpa)))
    assert slope is not None
    return slope


@pytest.mark.parametrize(
    ("early", "late", "left_kpa"),
    [(0.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (-1.0, 0.0625, 0.0), (1.0, 0.5, 0.0),
     (-1.0, -1.0, inf), (-1.0, -2.0, inf), (0.0, -1.0, inf), (1.0, -1.0, inf)],
)  # fmt: skip
def test_what_does_not_fall_has_nothing_left_and_what_does_not_slow_down_has_no_end(
    early: float, late: float, left_kpa: float
) -> None:
    slope = shaped(early, late)
    assert (slope.halves_kpa, slope.moments_kpa) == (left_kpa, left_kpa)


# -- where the hold came back ------------------------------------------------------------------


def turned(turn: Turn, kpa: float) -> Turn:
    """After a point at 99 s."""
    return grow(Trend(second=((99.0, kpa),), turn=turn), (100.0, kpa)).turn


@pytest.mark.parametrize(
    ("kpa", "after"),
    [
        (61.0, Turn(False, 61.0)),
        (60.0, Turn(False, 60.0)),
        (58.5, Turn(False, 60.0)),
        (58.499, Turn(True, 58.499, 60.0)),
    ],
)
def test_a_fall_begins_more_than_1_5_kpa_below_the_highest(kpa: float, after: Turn) -> None:
    assert turned(Turn(False, 60.0), kpa) == after


@pytest.mark.parametrize(
    ("kpa", "after"),
    [
        (49.0, Turn(True, 49.0, 60.0)),
        (50.0, Turn(True, 50.0, 60.0)),
        (51.5, Turn(True, 50.0, 60.0)),
        (51.501, Turn(False, 51.501, low_kpa=50.0, at_s=99.0)),
    ],
)
def test_it_ends_more_than_1_5_kpa_above_the_lowest(kpa: float, after: Turn) -> None:
    assert turned(Turn(True, 50.0, 60.0), kpa) == after


@pytest.mark.parametrize(("before_kpa", "back"), [(100.0, False), (99.0, True)])
def test_a_part_taken_off_is_no_coming_back(before_kpa: float, back: bool) -> None:
    """Down to half of what it was, or deeper."""
    after = turned(Turn(True, 50.0, before_kpa), 60.0)
    assert (after.falling, after.edge_kpa) == (False, 60.0)
    assert after.low_kpa == (50.0 if back else None)


@pytest.mark.parametrize(
    ("known_kpa", "known_s", "low_kpa"),
    [
        (49.5, 98.0, 50.0), (49.499, 98.0, 49.499), (55.0, 98.0, 50.0),
        (40.0, -801.0, 40.0), (40.0, -801.001, 50.0), (None, 98.0, 50.0),
    ],
)  # fmt: skip
def test_a_lower_turn_that_is_known_stands_for_15_minutes(
    known_kpa: float | None, known_s: float, low_kpa: float
) -> None:
    """As low again, to half a kPa, counts as that level."""
    after = turned(Turn(True, 50.0, 60.0, known_kpa, known_s), 55.0)
    assert (after.falling, after.edge_kpa, after.low_kpa) == (False, 55.0, low_kpa)
    assert after.at_s == (known_s if low_kpa == known_kpa else 99.0)


@pytest.mark.parametrize(
    ("low_kpa", "at_s", "found"),
    [(50.0, 0.0, 50.0), (49.999, 0.0, None), (60.0, 0.0, 60.0), (60.0, -0.001, None),
     (None, 0.0, None)],
)  # fmt: skip
def test_it_is_asked_for_above_a_level_and_for_15_minutes(
    low_kpa: float | None, at_s: float, found: float | None
) -> None:
    trend = Trend(turn=Turn(low_kpa=low_kpa, at_s=at_s))
    assert came_back_from(trend, 900.0, 50.0) == found


# -- time left ---------------------------------------------------------------------------------

STEADY = Slope(-0.5, -1.0, -0.25, inf, inf)


def test_time_left_is_what_is_above_over_the_slope() -> None:
    assert time_left(STEADY, 60.0, 50.0, None) == TimeLeft(10.0, 20.0, 40.0, 20.0)
    assert time_left(STEADY, 50.0, 50.0, None) == TimeLeft(0.0, 0.0, 0.0, 0.0)
    assert time_left(None, 60.0, 50.0, None) == TimeLeft()


@pytest.mark.parametrize(
    ("newest", "present"),
    [(-0.7499, -0.5), (-0.75, -0.75), (-3.0, -3.0), (0.0, -0.5), (2.0, -0.5)],
)
def test_a_fall_that_just_began_is_the_present_one_when_it_is_clearly_steeper(
    newest: float, present: float
) -> None:
    """By 0.25 kPa/s; it moves what is shown and none of what is judged."""
    slope = replace(STEADY, newest=newest)
    assert slope.present == present
    left = time_left(slope, 60.0, 50.0, None)
    assert left == TimeLeft(10.0, 20.0, 40.0, 10.0 / -present)


def test_the_newest_slope_is_that_of_the_last_three_seconds() -> None:
    """Level, then 3 kPa/s: of the ten points the median still says level, or little."""
    slope = slope_of(tuple((float(n), 80.0 - 3.0 * max(n - 7, 0)) for n in range(10)))
    assert slope is not None
    assert slope.newest == pytest.approx(-2.0)  # from 80 at 6 s to 74 at 9 s
    assert slope.likely == 0.0
    assert slope.present == slope.newest


@pytest.mark.parametrize(("slope", "left_s"), [(-0.01, 1000.0), (-0.0099, None), (0.01, None)])
def test_a_fall_slower_than_a_hundredth_gives_no_time(slope: float, left_s: float | None) -> None:
    left = time_left(Slope(slope, slope, slope, inf, inf), 60.0, 50.0, None)
    expected = None if left_s is None else pytest.approx(left_s)
    assert (left.soonest_s, left.likely_s, left.latest_s) == (expected, expected, expected)


@pytest.mark.parametrize(
    ("back_kpa", "sure"), [(None, True), (61.0, True), (60.999, False), (55.0, False)]
)
def test_above_the_level_of_a_turn_no_fall_is_sure(back_kpa: float | None, sure: bool) -> None:
    """From 60 kPa on."""
    left = time_left(STEADY, 60.0, 50.0, back_kpa)
    assert left.latest_s == (40.0 if sure else None)
    assert (left.soonest_s, left.likely_s) == (10.0, 20.0)


@pytest.mark.parametrize(
    ("halves_kpa", "moments_kpa", "sure"),
    [
        (7.0, inf, True), (6.999, inf, False), (inf, 5.0, True), (inf, 4.999, False),
        (7.0, 5.0, True), (6.0, 4.0, False),
    ],
)  # fmt: skip
def test_a_fall_that_dies_away_in_time_is_not_sure(
    halves_kpa: float, moments_kpa: float, sure: bool
) -> None:
    """10 kPa above: 0.7 of it by the halves, 0.5 by the moments."""
    slope = replace(STEADY, halves_kpa=halves_kpa, moments_kpa=moments_kpa)
    assert time_left(slope, 60.0, 50.0, None).latest_s == (40.0 if sure else None)
