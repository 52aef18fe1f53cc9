"""What stands long enough, at each limit exactly: the limits of docs/interlock.md.

A limit that says "under" or "over" does not count what lies on it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from kiosk.interlock.facts import GaugeSetting
from kiosk.interlock.measure import GaugeNow, Seen
from kiosk.interlock.trend import NEVER, TimeLeft
from kiosk.interlock.watch import Hold, Watch, watch_on
from kiosk.interlock.window import Window
from kiosk.limits import Limits

STEP_S = 0.05
TABLE, PUMP = (GaugeSetting(name, name, 1.0, 20.0) for name in ("table", "pump"))


def seen(at_s: float, *, new: bool = True, **what: Any) -> Seen:
    """One gauge that shows a value, or two of which the other shows ``other_kpa``."""
    ratio, kpa, left = what.get("ratio", 1.5), what.get("kpa", 50.0), what.get("left", NEVER)
    window = Window(taken_s=at_s, good_s=at_s, vacuum_kpa=kpa, new=new)
    gauge = GaugeNow(TABLE, window, 0.0, kpa, ratio, 43.0, left)
    gauges: tuple[GaugeNow, ...] = (gauge,)
    if "other_kpa" in what:
        gauges = (gauge, GaugeNow(PUMP, window, 0.0, what["other_kpa"], 2.0, 46.0, NEVER))
    return Seen(
        gauges=gauges,
        deciding=gauge,
        minimum_kpa=what.get("minimum_kpa", 40.0),
        ratio=ratio,
        valid=True,
        fresh=what.get("fresh", True),
        apart_kpa=what.get("apart_kpa"),
        left=left,
        vacuum_kpa=kpa,
    )


def over(
    seconds: float, watch: Watch | None = None, watched: bool | None = True, **what: Any
) -> tuple[Watch, Hold]:
    """So long a look every 50 ms, each with a new sample, from 100 s on or after ``watch``."""
    watch, begin_s = (Watch(), 100.0) if watch is None else (watch, 200.0)
    for number in range(round(seconds / STEP_S) + 1):
        at_s = begin_s + number * STEP_S
        watch, hold = watch_on(watch, seen(at_s, **what), at_s, Limits(), watched)
    return watch, hold


@pytest.mark.parametrize(
    ("flag", "what", "stands"),
    [
        ("start_held", {"ratio": 1.15}, True),
        ("start_held", {"ratio": 1.149}, False),
        ("start_held", {"ratio": 1.5, "fresh": False}, False),
        ("start_held", {"ratio": None}, False),
        ("lost", {"ratio": 1.0}, False),
        ("lost", {"ratio": 0.999}, True),
        ("collapsed", {"ratio": 0.7}, False),
        ("collapsed", {"ratio": 0.699}, True),
        ("warns_low", {"ratio": 1.07}, False),
        ("warns_low", {"ratio": 1.069}, True),
        ("warns_falling", {"ratio": 1.2, "left": TimeLeft(30.0, 40.0, 45.0)}, False),
        ("warns_falling", {"ratio": 1.2, "left": TimeLeft(30.0, 40.0, 44.9)}, True),
        ("warns_falling", {"ratio": 1.2, "left": TimeLeft(30.0, 40.0, None)}, False),
        ("warns_falling", {"ratio": 1.3, "left": TimeLeft(30.0, 40.0, 44.9)}, False),
        ("warns_falling", {"ratio": 1.299, "left": TimeLeft(30.0, 40.0, 44.9)}, True),
        ("vented", {"kpa": 2.0}, False),
        ("vented", {"kpa": 1.999}, True),
        ("far_apart", {"apart_kpa": 10.0, "other_kpa": 60.0}, False),
        ("far_apart", {"apart_kpa": 10.001, "other_kpa": 60.001}, True),
        ("far_apart", {"apart_kpa": None, "other_kpa": 90.0}, False),
        ("agree", {"apart_kpa": 3.0, "other_kpa": 53.0}, True),
        ("agree", {"apart_kpa": 3.001, "other_kpa": 53.001}, False),
        ("agree", {"apart_kpa": 4.0, "other_kpa": 100.0}, True),
        ("agree", {"apart_kpa": 4.001, "other_kpa": 100.0}, False),
        ("agree", {"apart_kpa": None, "other_kpa": 53.0}, False),
    ],
)
def test_each_limit_is_where_it_is_said_to_be(
    flag: str, what: dict[str, Any], stands: bool
) -> None:
    """For 10 s, longer than any delay."""
    assert getattr(over(10.0, **what)[1], flag) is stands


def test_a_fall_counts_only_near_the_minimum() -> None:
    """10 kPa/s, seen in 250 ms, under R = 1.30."""
    marks = tuple((100.0 + n * STEP_S, 60.0 - n * 1.0) for n in range(6))
    window = Window(100.25, 100.25, 55.0, new=True, short=marks, fast_kpa_per_s=-20.0)
    for ratio, collapsed in ((1.3, False), (1.299, True)):
        gauge = GaugeNow(TABLE, window, 0.0, 55.0, ratio, 43.0, NEVER)
        look = Seen(gauges=(gauge,), deciding=gauge, minimum_kpa=40.0, ratio=ratio, valid=True)
        assert watch_on(Watch(), look, 100.25, Limits(), True)[1].collapsed is collapsed


@pytest.mark.parametrize(
    ("what", "over_it"),
    [
        ({"ratio": 1.1}, True),
        ({"ratio": 1.099}, False),
        ({"ratio": 1.2, "left": TimeLeft(80.0, 90.0, None)}, True),
        ({"ratio": None}, False),
    ],
)
def test_a_low_hold_is_over_from_the_level_that_clears_it(
    what: dict[str, Any], over_it: bool
) -> None:
    watch, hold = over(3.0, ratio=1.0)
    assert hold.warns_low
    assert over(6.0, watch, **what)[1].warns_low is not over_it


@pytest.mark.parametrize(
    ("ratio", "likely_s", "over_it"),
    [(1.2, 90.0, False), (1.2, 90.1, True), (1.2, None, True), (1.099, 90.1, False)],
)
def test_a_fall_is_over_when_the_time_left_is_long_and_the_level_clear(
    ratio: float, likely_s: float | None, over_it: bool
) -> None:
    watch, hold = over(3.0, ratio=1.2, left=TimeLeft(20.0, 30.0, 40.0))
    assert hold.warns_falling
    after = over(6.0, watch, ratio=ratio, left=TimeLeft(None, likely_s, None))[1]
    assert after.warns_falling is not over_it


@pytest.mark.parametrize("ratio", [1.0, 0.999])
def test_the_delay_of_a_loss_does_not_run_at_the_limit(ratio: float) -> None:
    assert over(1.0, ratio=ratio)[1].loss_timed is (ratio < 1.0)


def test_a_delay_begins_with_what_it_delays() -> None:
    """Not with a hold just at the limit, nor with gauges of which one is not known."""
    watch, _ = over(30.0, ratio=1.07)
    assert not over(1.0, watch, ratio=1.06)[1].warns
    watch, hold = over(30.0, apart_kpa=None, other_kpa=53.0)
    assert not hold.agree
    assert over(2.0, watch, apart_kpa=8.0, other_kpa=58.0)[1].agree
    assert not over(3.0, watch, apart_kpa=8.0, other_kpa=58.0)[1].agree


def test_warnings_go_on_as_they_stand_or_are_none_where_they_are_not_watched() -> None:
    watch, _ = over(3.0, ratio=1.0)
    assert over(10.0, watch, None, ratio=1.5)[1].warns
    assert not over(0.0, watch, False, ratio=1.0)[1].warns
    assert not over(10.0, None, None, ratio=1.0)[1].warns


def test_a_loss_goes_on_while_no_value_comes_and_ends_with_the_plan() -> None:
    watch, hold = over(0.1, ratio=0.9)
    assert (hold.lost, hold.loss_timed) == (False, True)
    silent = over(0.0, watch, ratio=None, new=False)
    assert silent[1].loss_timed
    assert not over(0.0, watch, ratio=None, minimum_kpa=None)[1].loss_timed


@pytest.mark.parametrize(("samples", "lost"), [(2, False), (3, True)])
def test_a_loss_needs_three_samples_that_show_it(samples: int, lost: bool) -> None:
    """Over 1 s; the looks between bring nothing new."""
    watch = Watch()
    for number in range(21):
        at_s = 100.0 + number * STEP_S
        look = seen(at_s, new=number < samples, ratio=0.9)
        watch, hold = watch_on(watch, look, at_s, Limits(), True)
    assert hold.lost is lost


def test_a_sample_of_a_gauge_above_the_limit_is_none_of_the_loss() -> None:
    """Two gauges on lines of their own: only the low one's samples count."""
    low = GaugeNow(TABLE, Window(100.0, 100.0, 38.0, new=False), 0.0, 38.0, 0.9, 43.0, NEVER)
    watch = Watch()
    for number in range(41):
        at_s = 100.0 + number * STEP_S
        window = Window(at_s, at_s, 46.0, new=True)
        for ratio in (1.0, None):
            high = GaugeNow(PUMP, window, 0.0, 46.0, ratio, 46.0, NEVER)
            look = Seen(gauges=(low, high), deciding=low, minimum_kpa=40.0, ratio=0.9, valid=True)
            watch, hold = watch_on(watch, look, at_s, Limits(), True)
    assert not hold.lost


@pytest.mark.parametrize(("apart_s", "collapsed"), [(0.045, False), (0.05, True)])
def test_a_collapse_needs_two_samples_50_ms_apart(apart_s: float, collapsed: bool) -> None:
    watch = Watch()
    for at_s in (100.0, 100.0 + apart_s):
        watch, hold = watch_on(watch, seen(at_s, ratio=0.6), at_s, Limits(), True)
    assert hold.collapsed is collapsed


def test_what_permits_counts_up_to_where_samples_cover_it() -> None:
    """The newest sample is half a second old."""
    watch, _ = watch_on(Watch(), seen(99.5), 100.0, Limits(), True)
    assert watch.start.since_s == 99.5


@pytest.mark.parametrize(("low", "falling"), [(True, False), (False, True), (False, False)])
def test_either_warning_warns(low: bool, falling: bool) -> None:
    hold = replace(over(0.0)[1], warns_low=low, warns_falling=falling)
    assert hold.warns is (low or falling)
