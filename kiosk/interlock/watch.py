"""What of the hold has stood long enough to act on.

What withholds acts on the time that has passed; what permits acts on the time that samples have
covered.  Every delay has its least number of samples beside it, so that a gauge that slows down
makes a judgement later, never sooner.  What takes every gauge to show needs that number from each:
gauges answer on lines of their own, and their samples need not come in the same step.
"""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.interlock import delays
from kiosk.interlock.measure import GaugeNow, Seen, at_part
from kiosk.interlock.timer import IDLE, Timer
from kiosk.interlock.window import falls_fast
from kiosk.limits import (
    CLEAR_HOLD_S,
    COLLAPSE_MS,
    COLLAPSE_SAMPLES,
    FALL_BELOW_RATIO,
    GAUGES_APART_KPA,
    GAUGES_APART_S,
    GAUGES_APART_SHARE,
    GAUGES_LOSS_KPA,
    GAUGES_LOSS_S,
    LOSS_SAMPLES,
    START_HOLD_S,
    TIME_LEFT_BELOW_RATIO,
    TIME_LEFT_CLEAR_S,
    VENTED_S,
    WARN_SAMPLES,
    Limits,
)


@dataclass(frozen=True, slots=True)
class Warnings:
    """Memory of the two warnings in the cut."""

    low: Timer = IDLE
    low_over: Timer = IDLE
    falling: Timer = IDLE
    falling_over: Timer = IDLE
    is_low: bool = False
    is_falling: bool = False


QUIET = Warnings()


@dataclass(frozen=True, slots=True)
class Watch:
    """Memory of the hold: since when what stands."""

    start: Timer = IDLE
    loss: Timer = IDLE
    collapse: Timer = IDLE
    apart: Timer = IDLE
    far_apart: Timer = IDLE
    vented: Timer = IDLE
    warnings: Warnings = QUIET


@dataclass(frozen=True, slots=True)
class Hold:
    """What stands long enough."""

    start_held: bool
    lost: bool  # under the loss ratio
    collapsed: bool  # far under it, or falling fast
    far_apart: bool  # two gauges, in the cut
    agree: bool
    warns_low: bool
    warns_falling: bool
    vented: bool
    loss_timed: bool  # the delay of a loss runs

    @property
    def loses(self) -> bool:
        """Whether this is a loss in the cut."""
        return self.lost or self.collapsed or self.far_apart

    @property
    def warns(self) -> bool:
        """Whether a warning stands."""
        return self.warns_low or self.warns_falling


def watch_on(
    watch: Watch, seen: Seen, now_s: float, limits: Limits, watched: bool | None
) -> tuple[Watch, Hold]:
    """Memory and judgement after one more look.  ``watched``: warnings count in this state; None
    leaves them as they stand.
    """
    at_s, each = _newest_s(seen.gauges, now_s), _news_of_each(seen.gauges)
    part = at_part(seen.gauges)
    ratio = seen.ratio
    start_level = seen.fresh and ratio is not None and ratio >= limits.start_ratio
    vented = seen.vacuum_kpa is not None and seen.vacuum_kpa < limits.vented_kpa
    far = seen.apart_kpa is not None and seen.apart_kpa > GAUGES_LOSS_KPA
    after = Watch(
        start=watch.start.run(start_level, each, at_s),
        loss=_under(watch.loss, seen, limits.loss_ratio, at_s),
        collapse=_under(watch.collapse, seen, limits.collapse_ratio, at_s),
        apart=watch.apart.run(_are_apart(seen), each, at_s),
        far_apart=watch.far_apart.run(far, each, at_s),
        vented=watch.vented.run(vented, _news_of_each(part), _newest_s(part, now_s)),
        warnings=_warnings(watch.warnings, seen, now_s, limits, watched),
    )
    return after, _judged(after, seen, now_s, limits)


def _good_s(gauges: tuple[GaugeNow, ...]) -> list[float]:
    return [gauge.window.good_s for gauge in gauges if gauge.window.good_s is not None]


def _newest_s(gauges: tuple[GaugeNow, ...], now_s: float) -> float:
    return max(_good_s(gauges), default=now_s)


def _covered_s(gauges: tuple[GaugeNow, ...], now_s: float) -> float:
    """The time up to which samples of every gauge are there."""
    return min(_good_s(gauges), default=now_s)


def _news_of_each(gauges: tuple[GaugeNow, ...]) -> tuple[int, ...]:
    return tuple(1 if gauge.window.new else 0 for gauge in gauges)


def _under(timer: Timer, seen: Seen, limit: float, at_s: float) -> Timer:
    """R under a limit.  While a plan is there but no value, what stood goes on standing."""
    if seen.ratio is None and seen.minimum_kpa is not None:
        return timer
    below = seen.ratio is not None and seen.ratio < limit
    return timer.run(below, _news_under(seen, limit), at_s)


def _news_under(seen: Seen, limit: float) -> tuple[int]:
    """New samples in this step that show R under the limit, of whichever gauge."""
    low = [g for g in seen.gauges if g.ratio is not None and g.ratio < limit]
    return (sum(_news_of_each(tuple(low))),)


def _are_apart(seen: Seen) -> bool:
    if seen.apart_kpa is None:
        return False
    largest = max(g.vacuum_kpa for g in seen.gauges if g.vacuum_kpa is not None)
    return seen.apart_kpa > max(GAUGES_APART_KPA, GAUGES_APART_SHARE * largest)


def _warnings(
    before: Warnings, seen: Seen, now_s: float, limits: Limits, watched: bool | None
) -> Warnings:
    ratio, likely_s, latest_s = seen.ratio, seen.left.likely_s, seen.left.latest_s
    if watched is False:
        return QUIET
    if watched is None or ratio is None:
        return before
    at_s, each = _newest_s(seen.gauges, now_s), _news_of_each(seen.gauges)
    short = latest_s is not None and latest_s < limits.time_left_s
    falls = short and ratio < TIME_LEFT_BELOW_RATIO
    back = ratio >= limits.clear_ratio
    calm = back and (likely_s is None or likely_s > TIME_LEFT_CLEAR_S)
    low = before.low.run(ratio < limits.warn_ratio, _news_under(seen, limits.warn_ratio), at_s)
    low_over = before.low_over.run(back, each, at_s)
    falling = before.falling.run(falls, (max(each),), at_s)
    falling_over = before.falling_over.run(calm, each, at_s)
    is_low = _stands(before.is_low, low, low_over, now_s, limits)
    is_falling = _stands(before.is_falling, falling, falling_over, now_s, limits)
    return Warnings(low, low_over, falling, falling_over, is_low, is_falling)


def _stands(before: bool, on: Timer, over: Timer, now_s: float, limits: Limits) -> bool:
    if on.full(limits.warn_s, WARN_SAMPLES, now_s):
        return True
    return before and not over.full(CLEAR_HOLD_S, WARN_SAMPLES, now_s)


def _judged(watch: Watch, seen: Seen, now_s: float, limits: Limits) -> Hold:
    part = at_part(seen.gauges)
    near = seen.ratio is not None and seen.ratio < FALL_BELOW_RATIO
    falls = near and any(falls_fast(gauge.window) for gauge in seen.gauges)
    deep = watch.collapse.full(COLLAPSE_MS / 1000.0, COLLAPSE_SAMPLES, now_s)
    return Hold(
        start_held=watch.start.full(
            START_HOLD_S, delays.START_SAMPLES, _covered_s(seen.gauges, now_s)
        ),
        lost=watch.loss.full(limits.loss_ms / 1000.0, LOSS_SAMPLES, now_s),
        collapsed=deep or falls,
        far_apart=watch.far_apart.full(GAUGES_LOSS_S, delays.APART_SAMPLES, now_s),
        agree=_agree(watch, seen, now_s),
        warns_low=watch.warnings.is_low,
        warns_falling=watch.warnings.is_falling,
        loss_timed=any(t != IDLE for t in (watch.loss, watch.collapse, watch.far_apart)),
        vented=watch.vented.full(VENTED_S, delays.VENTED_SAMPLES, _covered_s(part, now_s)),
    )


def _agree(watch: Watch, seen: Seen, now_s: float) -> bool:
    """One gauge has nothing to disagree with; two must both be known."""
    if len(seen.gauges) < 2:
        return bool(seen.gauges)
    apart = watch.apart.full(GAUGES_APART_S, delays.APART_SAMPLES, now_s)
    return seen.apart_kpa is not None and not apart
