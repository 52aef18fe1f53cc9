"""The trend against an independent library and closed forms; falls that end by themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from kiosk.interlock import trend as trends
from kiosk.interlock.trend import (
    NEVER,
    TimeLeft,
    Trend,
    came_back_from,
    grow,
    slope_of,
    time_left,
)

EVERY_S = 0.1


def fed(kpas: list[float], trend: Trend | None = None, from_s: float = 100.0) -> Trend:
    trend = Trend() if trend is None else trend
    for number, kpa in enumerate(kpas):
        trend = grow(trend, (from_s + number * EVERY_S, kpa))
    return trend


def line(kpa_per_s: float, seconds: float, kpa: float = 60.0) -> list[float]:
    return [kpa + kpa_per_s * n * EVERY_S for n in range(round(seconds / EVERY_S) + 1)]


@given(st.lists(st.floats(30.0, 90.0), min_size=10, max_size=10, unique=True))
def test_slope_and_bounds_are_those_of_scipy_theilslopes(kpas: list[float]) -> None:
    """scipy.stats.theilslopes with alpha 0.99: the rank interval of P. K. Sen (1968)."""
    found = slope_of(tuple(enumerate(kpas)))
    expected = theilslopes(np.array(kpas), np.arange(10.0), alpha=0.99)
    assert found is not None
    bounds = (found.lowest, found.likely, found.highest)
    assert bounds == pytest.approx((expected.low_slope, expected.slope, expected.high_slope))


def test_three_points_give_no_slope_and_four_do() -> None:
    assert slope_of(tuple((float(n), 60.0 - n) for n in range(3))) is None
    found = slope_of(tuple((float(n), 60.0 - n) for n in range(4)))
    assert found is not None
    assert (found.lowest, found.likely, found.highest) == (-1.0, -1.0, -1.0)


def test_a_line_has_its_slope_and_no_uncertainty() -> None:
    slope = fed(line(-0.3, 12.0)).slope
    assert slope is not None
    assert slope.lowest == pytest.approx(-0.3)
    assert slope.highest == pytest.approx(-0.3)
    left = time_left(slope, 56.0, 50.0, None)
    assert left.likely_s == pytest.approx(20.0)
    assert left.soonest_s == pytest.approx(20.0)
    assert left.latest_s == pytest.approx(20.0)


def test_the_trend_forgets_what_is_older_than_ten_seconds() -> None:
    slope = fed([*line(-1.0, 10.0), *[50.0] * 115]).slope
    assert slope is not None
    assert slope.likely == pytest.approx(0.0)
    trend = fed(line(0.0, 60.0))
    assert len(trend.points) == 10
    assert len(trend.second) <= 10


def test_a_valve_that_chatters_moves_nothing() -> None:
    kpas = line(0.0, 12.0)
    for at in range(3, len(kpas), 10):  # each second 0.3 s are 5 kPa low
        kpas[at : at + 3] = [55.0] * 3
    slope = fed(kpas).slope
    assert slope is not None
    assert (slope.lowest, slope.likely, slope.highest) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("after_s", [2, 4, 5, 6, 8])
def test_one_step_between_level_stretches_is_never_a_sure_fall(after_s: int) -> None:
    rng = np.random.default_rng(4)
    kpas = [60.0 + rng.normal(0.0, 0.1) for _ in range(101)]
    stepped = [kpa - 4.0 * (n >= 10 * after_s) for n, kpa in enumerate(kpas)]
    left = time_left(fed(stepped).slope, 56.0, 50.0, None)
    assert left.latest_s is None or left.latest_s > 60.0


def first_order(rest_kpa: float, time_constant_s: float, seconds: float = 12.0) -> list[float]:
    """From 60 kPa towards ``rest_kpa``."""
    count = round(seconds / EVERY_S) + 1
    return [
        rest_kpa + (60.0 - rest_kpa) * math.exp(-n * EVERY_S / time_constant_s)
        for n in range(count)
    ]


@pytest.mark.parametrize("time_constant_s", [3.0, 6.0, 12.0])
def test_how_much_further_a_first_order_fall_goes_is_its_closed_form(
    time_constant_s: float,
) -> None:
    """What is left of an exponential is its distance to the rest."""
    kpas = first_order(50.0, time_constant_s)
    slope = fed(kpas).slope
    assert slope is not None
    left_kpa = kpas[-11] - 50.0  # the newest point is that of the last whole second
    assert slope.halves_kpa == pytest.approx(left_kpa, rel=0.25, abs=0.05)
    assert slope.moments_kpa == pytest.approx(left_kpa, rel=0.25, abs=0.05)


def test_a_fall_that_ends_above_the_minimum_has_no_latest_time() -> None:
    slope = fed(first_order(50.0, 6.0)).slope
    assert slope is not None
    for needs_kpa, ends in ((47.0, True), (49.5, False)):
        left = time_left(slope, 51.6, needs_kpa, None)
        assert left.likely_s is not None
        assert (left.latest_s is None) is ends, needs_kpa


def test_a_line_does_not_end_by_itself() -> None:
    slope = fed(line(-0.3, 12.0)).slope
    assert slope is not None
    assert slope.halves_kpa > 100.0
    assert slope.moments_kpa > 100.0


@pytest.mark.parametrize("kpa_per_s", [-0.0099, 0.0, 0.5])
def test_what_does_not_fall_leaves_no_time(kpa_per_s: float) -> None:
    assert time_left(fed(line(kpa_per_s, 12.0)).slope, 56.0, 50.0, None) == NEVER


def test_no_time_is_left_at_the_minimum_and_none_is_told_without_a_slope() -> None:
    assert time_left(None, 50.0, 50.0, None) == TimeLeft(0.0, 0.0, 0.0, 0.0)
    assert time_left(None, 50.1, 50.0, None) == NEVER


def test_a_gap_begins_the_slope_again_and_keeps_the_turn() -> None:
    trend = fed([*cycle(), *cycle()])
    again = grow(trend, (1000.0, 60.0))
    assert again == Trend(second=((1000.0, 60.0),), turn=trend.turn)
    short = grow(fed(line(-0.3, 12.0)), (100.0 + 12.0 + 2.0, 56.0))
    assert short.slope is not None


# -- where the hold came back ------------------------------------------------------------------


def cycle(low_kpa: float = 62.0) -> list[float]:
    """A pump shut off at 70 kPa that comes on again at ``low_kpa``."""
    return [*line(-0.4, (70.0 - low_kpa) / 0.4, 70.0), *line(2.0, (70.0 - low_kpa) / 2.0, low_kpa)]


def test_the_level_from_which_the_hold_came_back_is_remembered_for_a_while() -> None:
    trend = fed([*cycle(), *cycle()])
    now_s = trend.turn.at_s
    low_kpa = came_back_from(trend, now_s, 50.0)
    assert low_kpa == pytest.approx(62.0, abs=0.5)
    assert came_back_from(trend, now_s + 900.0, 50.0) == low_kpa
    assert came_back_from(trend, now_s + 900.1, 50.0) is None
    assert came_back_from(trend, now_s, 63.0) is None  # so low it was a warning itself


def test_a_fall_above_that_level_has_no_latest_time_and_one_below_has() -> None:
    slope = fed(line(-0.4, 12.0, 70.0)).slope
    assert time_left(slope, 65.2, 55.0, 62.0).latest_s is None
    assert time_left(slope, 61.1, 55.0, 62.0).latest_s is None
    assert time_left(slope, 60.9, 55.0, 62.0).latest_s == pytest.approx(5.9 / 0.4, rel=0.01)


def test_a_higher_turn_leaves_the_lower_one_standing_until_it_is_old() -> None:
    trend = fed(cycle(60.0))
    low_kpa = came_back_from(trend, 0.0, 0.0)
    assert low_kpa == pytest.approx(60.0, abs=0.5)
    trend = fed(cycle(65.0), trend, 200.0)
    assert came_back_from(trend, 0.0, 0.0) == low_kpa
    trend = fed(cycle(65.0), trend, 2000.0)
    assert came_back_from(trend, 2000.0, 0.0) == pytest.approx(65.0, abs=0.5)


def test_taking_a_part_off_and_drawing_down_again_is_no_coming_back() -> None:
    trend = fed([*line(0.0, 20.0, 70.0), *line(-20.0, 3.4, 70.0), *line(10.0, 6.8, 2.0)])
    assert came_back_from(trend, 0.0, 0.0) is None


@given(st.lists(st.floats(-2.0, 102.0), min_size=1, max_size=400))
def test_any_readings_give_times_that_are_in_order(kpas: list[float]) -> None:
    trend = fed(kpas)
    left = time_left(trend.slope, kpas[-1], 50.0, came_back_from(trend, 140.0, 50.0))
    known = [s for s in (left.soonest_s, left.likely_s, left.latest_s) if s is not None]
    assert known == sorted(known)
    assert all(s >= 0.0 for s in known)


def test_the_numbers_that_the_curves_were_measured_with() -> None:
    """docs/early-warning.md: a change here asks for a new run."""
    assert (trends.POINT_S, trends.POINTS, trends.TURN_S) == (1.0, 10, 900.0)
    assert (trends.HALVES_SHARE, trends.MOMENTS_SHARE) == (0.7, 0.5)
