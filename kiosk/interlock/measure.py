"""The hold against the plan: R of every gauge, and what has stood long enough to act on.

R = (measured - gauge error - drop to the worst cup) / minimum.  Each gauge has its own drop and
error, and the lower R counts.  What withholds acts on the time that has passed; what permits
acts on the time that samples have covered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isfinite

from kiosk.interlock import delays
from kiosk.interlock.facts import GaugeSetting, PlanFacts, SiteFacts
from kiosk.interlock.reading import Why
from kiosk.interlock.timer import IDLE, Timer
from kiosk.interlock.window import Window, falls_fast, is_noisy
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
class Watch:
    """Memory of the hold: what stands, and since when."""

    start: Timer = IDLE
    loss: Timer = IDLE
    collapse: Timer = IDLE
    low: Timer = IDLE
    low_over: Timer = IDLE
    falling: Timer = IDLE
    falling_over: Timer = IDLE
    apart: Timer = IDLE
    far_apart: Timer = IDLE
    vented: Timer = IDLE
    warns_low: bool = False
    warns_falling: bool = False


@dataclass(frozen=True, slots=True)
class GaugeNow:
    """One gauge against the plan.  ``vacuum_kpa`` is None when there is no valid value."""

    setting: GaugeSetting
    window: Window
    age_s: float | None
    vacuum_kpa: float | None
    ratio: float | None
    needs_kpa: float | None  # what it must show for R = 1
    time_left_s: float | None


@dataclass(frozen=True, slots=True)
class Hold:
    """The hold as it stands now.  Every flag is "no" until shown otherwise."""

    gauges: tuple[GaugeNow, ...] = ()
    deciding: GaugeNow | None = None
    minimum_kpa: float | None = None
    ratio: float | None = None
    valid: bool = False  # every gauge has a valid value
    fresh: bool = False
    good: bool = False
    plausible: bool = False
    agree: bool = False
    apart_kpa: float | None = None
    settled: bool = False
    settling_kpa_per_s: float | None = None
    start_held: bool = False
    lost: bool = False  # under the loss ratio long enough
    collapsed: bool = False
    far_apart: bool = False
    warns_low: bool = False
    warns_falling: bool = False
    time_left_s: float | None = None
    vented: bool = False
    vacuum_kpa: float | None = None  # where the part is: largest of the table gauges; None unknown

    @property
    def loses(self) -> bool:
        """Whether this is a loss in the cut."""
        return self.lost or self.collapsed or self.far_apart

    @property
    def warns(self) -> bool:
        """Whether a warning stands."""
        return self.warns_low or self.warns_falling


def minimum_of(plan: PlanFacts | None, site: SiteFacts) -> float | None:
    """The minimum to hold against, kPa, never below the floor; None when it is not known."""
    if plan is None or not _is_sound(plan.minimum_kpa, above=0.0):
        return None
    for gauge in site.gauges:
        drop, error = plan.drops_kpa.get(gauge.name), plan.errors_kpa.get(gauge.name)
        if not (_is_sound(drop) and _is_sound(error)):
            return None
    return max(plan.minimum_kpa, site.limits.floor_kpa)


def _is_sound(value: float | None, above: float | None = None) -> bool:
    if value is None or not isfinite(value):
        return False
    return value >= 0.0 if above is None else value > above


def gauge_now(
    setting: GaugeSetting,
    window: Window,
    plan: PlanFacts | None,
    minimum_kpa: float | None,
    *,
    now_s: float,
    limits: Limits,
) -> GaugeNow:
    """One gauge against the plan at ``now_s``."""
    age_s = window.age_s(now_s)
    valid = age_s is not None and age_s < limits.invalid_s
    vacuum_kpa = window.vacuum_kpa if valid else None
    ratio = needs_kpa = left_s = None
    if plan is not None and minimum_kpa is not None:
        taken_off = plan.drops_kpa[setting.name] + plan.errors_kpa[setting.name]
        needs_kpa = minimum_kpa + taken_off
        if vacuum_kpa is not None:
            ratio = (vacuum_kpa - taken_off) / minimum_kpa
            left_s = _time_left_s(vacuum_kpa - needs_kpa, window.slope_kpa_per_s)
    return GaugeNow(setting, window, age_s, vacuum_kpa, ratio, needs_kpa, left_s)


def _time_left_s(above_kpa: float, slope_kpa_per_s: float | None) -> float | None:
    """Seconds to R = 1 at the present fall; None when it does not fall."""
    if above_kpa <= 0.0:
        return 0.0
    if slope_kpa_per_s is None or slope_kpa_per_s > -delays.STILL_KPA_PER_S:
        return None
    return above_kpa / -slope_kpa_per_s


def measure(
    site: SiteFacts,
    windows: Mapping[str, Window],
    plan: PlanFacts | None,
    watch: Watch,
    *,
    now_s: float,
    watched: bool | None,
) -> tuple[Watch, Hold]:
    """Memory and hold after one more look.  ``watched``: warnings count in this state;
    None leaves them as they stand.
    """
    limits = site.limits
    minimum_kpa = minimum_of(plan, site)
    gauges = tuple(
        gauge_now(setting, windows[setting.name], plan, minimum_kpa, now_s=now_s, limits=limits)
        for setting in site.gauges
    )
    hold = _seen(gauges, minimum_kpa, now_s, limits)
    hold = replace(hold, apart_kpa=_apart_kpa(gauges, plan, minimum_kpa))
    watch = _run(watch, hold, now_s, limits, watched)
    return watch, _judged(watch, hold, now_s, limits)


def _seen(
    gauges: tuple[GaugeNow, ...], minimum_kpa: float | None, now_s: float, limits: Limits
) -> Hold:
    """What one look shows, without memory.  No gauge at all shows nothing."""
    if not gauges:
        return Hold(minimum_kpa=minimum_kpa)
    rated = [
        (gauge.ratio, number) for number, gauge in enumerate(gauges) if gauge.ratio is not None
    ]
    deciding = gauges[min(rated)[1]] if rated else None
    settling = [gauge.window.settling_kpa_per_s for gauge in gauges]
    known = [value for value in settling if value is not None]
    steepest = max(known, key=abs) if len(known) == len(settling) else None
    left = [gauge.time_left_s for gauge in gauges if gauge.time_left_s is not None]
    fresh = all(gauge.age_s is not None and gauge.age_s < limits.stale_s for gauge in gauges)
    return Hold(
        gauges=gauges,
        deciding=deciding,
        minimum_kpa=minimum_kpa,
        ratio=None if deciding is None else deciding.ratio,
        valid=all(gauge.vacuum_kpa is not None for gauge in gauges),
        fresh=fresh,
        good=all(_is_good(gauge.window) for gauge in gauges),
        plausible=all(_is_plausible(gauge.window, now_s) for gauge in gauges),
        settling_kpa_per_s=steepest,
        settled=fresh and steepest is not None and abs(steepest) < limits.settle_kpa_per_s,
        time_left_s=min(left) if left else None,
        vacuum_kpa=_vacuum_kpa(gauges),
    )


def _is_good(window: Window) -> bool:
    """A silent or garbled line is judged by age; a gauge that calls itself broken is not."""
    return window.good_s is not None and window.fault not in (Why.BROKEN, Why.OUT_OF_RANGE)


def _is_plausible(window: Window, now_s: float) -> bool:
    if window.good_s is None or window.fault == Why.OUT_OF_RANGE:
        return False
    return not is_noisy(window, now_s)


def _vacuum_kpa(gauges: tuple[GaugeNow, ...]) -> float | None:
    """Vacuum at the part: table gauges where there are any, since a pump holds its own."""
    at_table = [gauge for gauge in gauges if gauge.setting.role == "table"] or list(gauges)
    values = [gauge.vacuum_kpa for gauge in at_table]
    known = [value for value in values if value is not None]
    return max(known) if len(known) == len(values) else None


def _apart_kpa(
    gauges: tuple[GaugeNow, ...], plan: PlanFacts | None, minimum_kpa: float | None
) -> float | None:
    """How far gauges differ beyond the drop expected between them; None when not known."""
    if len(gauges) < 2 or plan is None or minimum_kpa is None:
        return None
    drops = plan.drops_kpa
    values = [
        gauge.vacuum_kpa - drops[gauge.setting.name]
        for gauge in gauges
        if gauge.vacuum_kpa is not None
    ]
    return max(values) - min(values) if len(values) == len(gauges) else None


def _news(hold: Hold, below: float) -> int:
    """New samples in this step that show R under ``below``."""
    return sum(1 for g in hold.gauges if g.window.new and g.ratio is not None and g.ratio < below)


def _fresh_count(hold: Hold) -> int:
    """New samples in this step of the gauge that has the fewest."""
    return min((1 if gauge.window.new else 0 for gauge in hold.gauges), default=0)


def _newest_s(hold: Hold, now_s: float) -> float:
    times = [gauge.window.good_s for gauge in hold.gauges if gauge.window.good_s is not None]
    return max(times) if times else now_s


def _run(watch: Watch, hold: Hold, now_s: float, limits: Limits, watched: bool | None) -> Watch:
    """All timers one look later."""
    at_s = _newest_s(hold, now_s)
    ratio = hold.ratio
    trips = watch if ratio is None and hold.minimum_kpa is not None else _trips(
        watch, hold, at_s, limits
    )  # fmt: skip
    count = _fresh_count(hold)
    start_level = hold.fresh and ratio is not None and ratio >= limits.start_ratio
    vented = hold.vacuum_kpa is not None and hold.vacuum_kpa < limits.vented_kpa
    trips = replace(
        trips,
        start=watch.start.run(start_level, count, at_s),
        vented=watch.vented.run(vented, count, at_s),
        apart=watch.apart.run(_are_apart(hold), count, at_s),
        far_apart=watch.far_apart.run(
            hold.apart_kpa is not None and hold.apart_kpa > GAUGES_LOSS_KPA, count, at_s
        ),
    )
    if watched is None:
        return trips
    return _warnings(trips, hold, at_s, now_s, limits) if watched else _unwatched(trips)


def _trips(watch: Watch, hold: Hold, at_s: float, limits: Limits) -> Watch:
    ratio = hold.ratio
    under = ratio is not None and ratio < limits.loss_ratio
    deep = ratio is not None and ratio < limits.collapse_ratio
    return replace(
        watch,
        loss=watch.loss.run(under, _news(hold, limits.loss_ratio), at_s),
        collapse=watch.collapse.run(deep, _news(hold, limits.collapse_ratio), at_s),
    )


def _are_apart(hold: Hold) -> bool:
    if hold.apart_kpa is None:
        return False
    largest = max(g.vacuum_kpa for g in hold.gauges if g.vacuum_kpa is not None)
    return hold.apart_kpa > max(GAUGES_APART_KPA, GAUGES_APART_SHARE * largest)


def _unwatched(watch: Watch) -> Watch:
    return replace(
        watch, low=IDLE, low_over=IDLE, falling=IDLE, falling_over=IDLE,
        warns_low=False, warns_falling=False,
    )  # fmt: skip


def _warnings(watch: Watch, hold: Hold, at_s: float, now_s: float, limits: Limits) -> Watch:
    ratio = hold.ratio
    if ratio is None:
        return watch
    low = watch.low.run(ratio < limits.warn_ratio, _news(hold, limits.warn_ratio), at_s)
    left_s = hold.time_left_s
    falls = left_s is not None and left_s < limits.time_left_s and ratio < TIME_LEFT_BELOW_RATIO
    count = 1 if any(gauge.window.new for gauge in hold.gauges) else 0
    falling = watch.falling.run(falls, count, at_s)
    back = ratio >= limits.clear_ratio
    calm = back and (left_s is None or left_s > TIME_LEFT_CLEAR_S)
    low_over = watch.low_over.run(back, count, at_s)
    falling_over = watch.falling_over.run(calm, count, at_s)
    return replace(
        watch, low=low, low_over=low_over, falling=falling, falling_over=falling_over,
        warns_low=_latch(watch.warns_low, low, low_over, now_s, limits),
        warns_falling=_latch(watch.warns_falling, falling, falling_over, now_s, limits),
    )  # fmt: skip


def _latch(stands: bool, on: Timer, off: Timer, now_s: float, limits: Limits) -> bool:
    if on.full(limits.warn_s, WARN_SAMPLES, now_s):
        return True
    return stands and not off.full(CLEAR_HOLD_S, WARN_SAMPLES, now_s)


def _judged(watch: Watch, hold: Hold, now_s: float, limits: Limits) -> Hold:
    """The hold with what has stood long enough."""
    covered_s = _newest_s(hold, now_s)
    below = hold.ratio is not None and hold.ratio < FALL_BELOW_RATIO
    falls = below and any(falls_fast(gauge.window) for gauge in hold.gauges)
    deep = watch.collapse.full(COLLAPSE_MS / 1000.0, COLLAPSE_SAMPLES, now_s)
    apart = watch.apart.full(GAUGES_APART_S, delays.APART_SAMPLES, now_s)
    return replace(
        hold,
        start_held=watch.start.full(START_HOLD_S, delays.START_SAMPLES, covered_s),
        lost=watch.loss.full(limits.loss_ms / 1000.0, LOSS_SAMPLES, now_s),
        collapsed=deep or falls,
        agree=_agree(hold, apart),
        far_apart=watch.far_apart.full(GAUGES_LOSS_S, delays.APART_SAMPLES, now_s),
        warns_low=watch.warns_low,
        warns_falling=watch.warns_falling,
        vented=watch.vented.full(VENTED_S, delays.VENTED_SAMPLES, covered_s),
    )


def _agree(hold: Hold, apart: bool) -> bool:
    """One gauge has nothing to disagree with; two must both be known."""
    if len(hold.gauges) < 2:
        return bool(hold.gauges)
    return hold.apart_kpa is not None and not apart
