"""Slopes against independent libraries, and samples that must not count."""

from __future__ import annotations

from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from interlock_site import kpa_of
from scipy.stats import theilslopes

from kiosk.interlock import delays
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.interlock.timer import IDLE, Timer, is_young, reached
from kiosk.interlock.window import Window, falls_fast, is_noisy, look, robust_slope, slope
from kiosk.limits import Limits

LIMITS = Limits()
AIR_KPA = 100.0

marks = st.lists(
    st.tuples(
        st.floats(0.0, 30.0).map(lambda t: round(t, 3)), st.floats(0.0, 90.0, allow_nan=False)
    ),
    min_size=2,
    max_size=60,
    unique_by=lambda mark: mark[0],
).map(sorted)


def fed(values: list[tuple[float, float]], limits: Limits = LIMITS) -> Window:
    window = Window()
    for at_s, kpa in values:
        window = look(window, Reading(kpa, kpa, at_s), at_s, AIR_KPA, limits)
    return window


def line(kpa_per_s: float, seconds: float, every_s: float = 0.05, kpa: float = 60.0) -> list:
    count = round(seconds / every_s) + 1
    return [(10.0 + every_s * n, kpa + kpa_per_s * every_s * n) for n in range(count)]


@given(marks)
def test_the_slope_is_that_of_numpy_polyfit(values: list[tuple[float, float]]) -> None:
    times, kpas = np.array(values).T
    expected = np.polyfit(times - times[0], kpas, 1)[0]
    found = slope(values)
    assert found is not None
    scale = max(1.0, abs(expected), np.ptp(kpas) / np.ptp(times))
    assert found == pytest.approx(expected, abs=1e-6 * scale)


@given(marks)
def test_the_robust_slope_is_that_of_scipy_theilslopes(values: list[tuple[float, float]]) -> None:
    times, kpas = np.array(values).T
    found = robust_slope(tuple(values))
    assert found == pytest.approx(theilslopes(kpas, times).slope, rel=1e-9, abs=1e-9)


def test_a_slope_needs_two_times() -> None:
    assert slope([]) is None
    assert slope([(1.0, 5.0)]) is None
    assert slope([(1.0, 5.0), (1.0, 6.0)]) is None
    assert robust_slope(((1.0, 5.0),)) is None
    assert slope([(1.0, 5.0), (3.0, 4.0)]) == -0.5


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 20.0, 50.0, 100.0])
@pytest.mark.parametrize("kpa_per_s", [-0.2, 0.3, -3.0])
def test_all_three_slopes_of_a_straight_line_are_its_slope(
    rate_hz: float, kpa_per_s: float
) -> None:
    window = fed(line(kpa_per_s, 8.0, 1.0 / rate_hz))
    assert window.slope_kpa_per_s == pytest.approx(kpa_per_s)
    assert window.settling_kpa_per_s == pytest.approx(kpa_per_s)
    assert window.fast_kpa_per_s == pytest.approx(kpa_per_s)


def test_the_windows_cover_their_times_and_no_more() -> None:
    """After a corner, the settling slope is the new one exactly when 3 s have passed."""
    steep = line(2.0, 10.0)
    flat = [(steep[-1][0] + 0.05 * (n + 1), steep[-1][1]) for n in range(60)]
    assert fed(steep + flat).settling_kpa_per_s == pytest.approx(0.0, abs=1e-9)
    assert fed(steep + flat[:-2]).settling_kpa_per_s != pytest.approx(0.0, abs=1e-6)


def test_settling_needs_its_whole_time_closely_covered() -> None:
    assert fed(line(0.0, 2.9)).settling_kpa_per_s is None
    assert fed(line(0.0, 3.0)).settling_kpa_per_s == 0.0
    assert fed(line(0.0, 2.95, 0.4)).settling_kpa_per_s is None  # 7 samples are too few
    gap = [mark for mark in line(0.0, 6.0) if not 13.0 < mark[0] < 13.7]
    assert fed(gap).settling_kpa_per_s is None


def test_settling_time_is_that_of_the_site() -> None:
    longer = Limits(settle_s=20.0)
    assert fed(line(0.1, 19.0), longer).settling_kpa_per_s is None
    assert fed(line(0.1, 21.0), longer).settling_kpa_per_s == pytest.approx(0.1)


def test_memory_does_not_grow() -> None:
    for every_s in (0.001, 0.01, 0.05):
        window = fed(line(0.0, 7.0, every_s))
        assert len(window.long) <= 125
        assert len(window.short) <= 30


# -- the fast fall -----------------------------------------------------------------------------


def test_the_fast_fall_needs_250_ms_and_3_samples() -> None:
    fall = line(-11.0, 0.2)
    assert not falls_fast(fed(fall))
    assert falls_fast(fed(line(-11.0, 0.25)))
    assert not falls_fast(fed(line(-9.9, 0.25)))
    assert not falls_fast(fed(line(-11.0, 0.3, 0.3)))  # two samples
    assert falls_fast(fed(line(-11.0, 0.6, 0.3)))


def test_one_wild_sample_is_no_fall_wherever_it_comes() -> None:
    for place in range(6):
        values = line(0.0, 2.0)
        at_s, kpa = values[-1 - place]
        values[-1 - place] = (at_s, kpa - 25.0)
        for upto in range(len(values) - 6, len(values) + 1):
            assert not falls_fast(fed(values[:upto]))


@pytest.mark.parametrize("rate_hz", [8.0, 10.0, 12.0, 14.0, 16.0, 20.0, 50.0])
@pytest.mark.parametrize("wild_kpa", [-25.0, -5.0, 25.0])
def test_one_wild_sample_of_a_slow_gauge_is_no_fall(rate_hz: float, wild_kpa: float) -> None:
    values = line(0.0, 3.0, 1.0 / rate_hz)
    at_s, kpa = values[-15]
    values[-15] = (at_s, kpa + wild_kpa)
    for upto in range(len(values) - 15, len(values) + 1):
        assert not falls_fast(fed(values[:upto])), upto


@pytest.mark.parametrize("rate_hz", [10.0, 20.0])
@pytest.mark.parametrize("kpa_per_s", [12.0, 20.0, 40.0])
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.75])
def test_a_fall_is_caught_within_its_window_and_two_samples(
    rate_hz: float, kpa_per_s: float, phase: float
) -> None:
    """The fall begins anywhere between two samples; at 12 kPa/s 2.5 kPa take 0.21 s by itself."""
    every_s, began_s = 1.0 / rate_hz, 12.0 + phase / rate_hz
    times = [10.0 + every_s * n for n in range(round(3.0 * rate_hz))]
    values = [(t, 60.0 - kpa_per_s * max(0.0, t - began_s)) for t in times]
    caught_s = next(t for n, (t, _) in enumerate(values) if falls_fast(fed(values[: n + 1])))
    assert caught_s - began_s <= 0.25 + 2.0 * every_s + 1e-9


def test_a_step_is_a_fall_only_when_it_is_larger_than_the_rate_allows() -> None:
    """10 kPa/s over 250 ms are 2.5 kPa."""
    for drop, falls in ((2.4, False), (2.7, True)):
        found = []
        values = line(0.0, 1.0)
        for _ in range(5):
            values.append((values[-1][0] + 0.05, 60.0 - drop))
            found.append(falls_fast(fed(values)))
        assert any(found) is falls


# -- what must not count -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kpa", "why"),
    [
        (nan, Why.BROKEN),
        (inf, Why.BROKEN),
        (-inf, Why.BROKEN),
        (-2.001, Why.OUT_OF_RANGE),
        (AIR_KPA + 2.001, Why.OUT_OF_RANGE),
        (1e9, Why.OUT_OF_RANGE),
    ],
)
def test_a_doubtful_value_never_becomes_a_value(kpa: float, why: Why) -> None:
    before = fed(line(0.0, 1.0))
    after = look(before, Reading(kpa, kpa, 11.05), 11.05, AIR_KPA, LIMITS)
    assert (after.vacuum_kpa, after.good_s) == (before.vacuum_kpa, before.good_s)
    assert after.good_s is not None
    assert (after.fault, after.new, after.taken_s) == (why, False, 11.05)


@pytest.mark.parametrize("kpa", [-2.0, 0.0, AIR_KPA + 2.0])
def test_values_at_the_edge_of_the_plausible_count(kpa: float) -> None:
    window = look(Window(), Reading(kpa, kpa, 1.0), 1.0, AIR_KPA, LIMITS)
    assert (window.vacuum_kpa, window.fault, window.new) == (kpa, None, True)


@pytest.mark.parametrize("taken_s", [nan, inf, 5.0, 9.0, 11.0 + delays.FUTURE_S + 0.01])
def test_a_late_result_or_one_dated_ahead_changes_nothing(taken_s: float) -> None:
    before = fed(line(0.0, 1.0))
    after = look(before, Reading(20.0, 20.0, taken_s), 11.0, AIR_KPA, LIMITS)
    assert (after.vacuum_kpa, after.good_s, after.taken_s) == (60.0, before.good_s, before.taken_s)
    assert not after.new


def test_the_same_sample_twice_counts_once() -> None:
    sample = Reading(50.0, 50.0, 1.0)
    once = look(Window(), sample, 1.0, AIR_KPA, LIMITS)
    twice = look(once, sample, 1.05, AIR_KPA, LIMITS)
    assert once.new
    assert not twice.new
    assert twice.long == once.long
    assert look(twice, None, 1.1, AIR_KPA, LIMITS) is twice


def test_a_fault_takes_no_value_away_and_a_value_takes_the_fault_away() -> None:
    window = fed(line(0.0, 1.0))
    window = look(window, Fault(Why.SILENT, "", 11.05), 11.05, AIR_KPA, LIMITS)
    assert (window.vacuum_kpa, window.fault) == (60.0, Why.SILENT)
    assert window.age_s(11.05) == pytest.approx(0.05)
    window = look(window, Reading(61.0, 61.0, 11.1), 11.1, AIR_KPA, LIMITS)
    assert (window.vacuum_kpa, window.fault) == (61.0, None)


def test_age_is_unknown_before_the_first_value_and_when_it_is_dated_ahead() -> None:
    assert Window().age_s(5.0) is None
    window = fed([(10.0, 60.0)])
    assert window.age_s(10.0) == 0.0
    assert window.age_s(9.95) == 0.0
    assert window.age_s(9.0) is None
    assert not is_young(window.age_s(nan), 0.5)


def test_two_large_jumps_within_a_second_are_noise() -> None:
    calm = line(0.0, 1.0)
    one = [*calm, (11.05, 25.0)]
    two = [*one, (11.10, 60.0)]
    assert not is_noisy(fed(one), 11.05)
    assert is_noisy(fed(two), 11.10)
    assert is_noisy(fed(two), 12.04)
    assert not is_noisy(fed(two), 12.06)
    slow = [*calm, (11.2, 25.0), (11.4, 60.0)]
    assert not is_noisy(fed(slow), 11.4)  # 30 kPa in 0.15 s is a valve, not noise
    small = [*calm, (11.05, 30.1), (11.10, 60.0)]
    assert not is_noisy(fed(small), 11.10)


# -- timers ------------------------------------------------------------------------------------


def test_a_timer_needs_both_its_time_and_its_samples() -> None:
    timer = IDLE
    assert not timer.full(0.0, 0, 5.0)
    timer = timer.run(True, (1,), 1.0)
    assert timer == Timer(1.0, (1,))
    assert not timer.full(1.0, 2, 5.0)
    timer = timer.run(True, (1,), 2.0)
    assert timer == Timer(1.0, (2,))
    assert timer.full(1.0, 2, 2.0)
    assert not timer.full(1.0, 2, 1.99)
    assert timer.run(True, (0,), 3.0) == timer
    assert timer.run(False, (1,), 3.0) == IDLE


def test_a_timer_of_two_needs_its_samples_from_each() -> None:
    timer = IDLE.run(True, (1, 0), 1.0)
    for news in ((1, 0), (1, 0), (0, 1)):
        timer = timer.run(True, news, 2.0)
    assert timer == Timer(1.0, (3, 1))
    assert not timer.full(1.0, 2, 9.0)
    assert timer.run(True, (0, 1), 2.0).full(1.0, 2, 2.0)


def test_without_samples_nothing_has_stood() -> None:
    assert not Timer(1.0, ()).full(0.0, 1, 5.0)
    with pytest.raises(ValueError, match="zip"):
        Timer(1.0, (1,)).run(True, (1, 0), 2.0)


def test_a_time_that_is_not_a_number_is_never_up_and_never_young() -> None:
    assert not reached(nan, 1.0)
    assert not is_young(nan, 1.0)
    assert not is_young(None, 1.0)
    assert reached(0.1 + 0.05, 0.15)
    assert not is_young(0.1 + 0.4, 0.5)


def test_the_world_of_the_stories_shows_r_1_at_the_required_vacuum() -> None:
    assert kpa_of(1.0) == 43.0
