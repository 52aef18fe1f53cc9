"""The hold against the plan, as one look shows it: R of every gauge, nothing remembered.

R = (measured - gauge error - drop to the worst cup) / minimum.  Each gauge has its own drop and
error, and the lower R counts.  What is not known of one gauge is not known of the hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple, dataclass
from math import isfinite

from kiosk.interlock.facts import GaugeSetting, PlanFacts, SiteFacts
from kiosk.interlock.reading import Why
from kiosk.interlock.timer import is_young
from kiosk.interlock.trend import NEVER, TimeLeft, came_back_from, time_left
from kiosk.interlock.window import Window, is_noisy
from kiosk.limits import Limits


@dataclass(frozen=True, slots=True)
class GaugeNow:
    """One gauge against the plan.  ``vacuum_kpa`` is None when there is no valid value."""

    setting: GaugeSetting
    window: Window
    age_s: float | None
    vacuum_kpa: float | None
    ratio: float | None
    needs_kpa: float | None  # what it must show for R = 1
    left: TimeLeft  # to R = 1


@dataclass(frozen=True, slots=True)
class Seen:
    """What one look shows.  Every flag is "no" until shown otherwise."""

    gauges: tuple[GaugeNow, ...] = ()
    deciding: GaugeNow | None = None
    minimum_kpa: float | None = None
    ratio: float | None = None  # the lowest of those that are known
    valid: bool = False  # every gauge has a valid value
    fresh: bool = False  # and young enough to permit on
    good: bool = False
    plausible: bool = False
    apart_kpa: float | None = None  # beyond the drop expected between two gauges
    settling_kpa_per_s: float | None = None  # the steepest gauge's
    settled: bool = False
    left: TimeLeft = NEVER  # of all gauges, the shortest
    vacuum_kpa: float | None = None  # at the part; None: not known


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
    vacuum_kpa = window.vacuum_kpa if is_young(age_s, limits.invalid_s) else None
    ratio = needs_kpa = None
    left = NEVER
    if plan is not None and minimum_kpa is not None:
        taken_off = plan.drops_kpa[setting.name] + plan.errors_kpa[setting.name]
        needs_kpa = minimum_kpa + taken_off
        if vacuum_kpa is not None:
            ratio = (vacuum_kpa - taken_off) / minimum_kpa
            warns_kpa = limits.warn_ratio * minimum_kpa + taken_off
            back_kpa = came_back_from(window.trend, now_s, warns_kpa)
            left = time_left(window.trend.slope, vacuum_kpa, needs_kpa, back_kpa)
    return GaugeNow(setting, window, age_s, vacuum_kpa, ratio, needs_kpa, left)


def see(
    site: SiteFacts, windows: Mapping[str, Window], plan: PlanFacts | None, now_s: float
) -> Seen:
    """What the gauges show at ``now_s``.  A site without a gauge shows nothing."""
    limits, minimum_kpa = site.limits, minimum_of(plan, site)
    gauges = tuple(
        gauge_now(s, windows[s.name], plan, minimum_kpa, now_s=now_s, limits=limits)
        for s in site.gauges
    )
    if not gauges:
        return Seen(minimum_kpa=minimum_kpa)
    rated = [
        (gauge.ratio, number) for number, gauge in enumerate(gauges) if gauge.ratio is not None
    ]
    deciding = gauges[min(rated)[1]] if rated else None
    fresh = all(is_young(gauge.age_s, limits.stale_s) for gauge in gauges)
    steepest = _steepest(gauges)
    return Seen(
        gauges=gauges,
        deciding=deciding,
        minimum_kpa=minimum_kpa,
        ratio=None if deciding is None else deciding.ratio,
        valid=all(gauge.vacuum_kpa is not None for gauge in gauges),
        fresh=fresh,
        good=all(_is_good(gauge.window) for gauge in gauges),
        plausible=all(_is_plausible(gauge.window, now_s) for gauge in gauges),
        apart_kpa=_apart_kpa(gauges, plan, minimum_kpa),
        settling_kpa_per_s=steepest,
        settled=fresh and steepest is not None and abs(steepest) < limits.settle_kpa_per_s,
        left=_shortest(gauges),
        vacuum_kpa=_vacuum_kpa(gauges),
    )


def _shortest(gauges: tuple[GaugeNow, ...]) -> TimeLeft:
    """Each of the three times by the gauge that gives the least."""
    times = zip(*(astuple(gauge.left) for gauge in gauges), strict=True)
    return TimeLeft(*(min((s for s in each if s is not None), default=None) for each in times))


def _steepest(gauges: tuple[GaugeNow, ...]) -> float | None:
    slopes = [gauge.window.settling_kpa_per_s for gauge in gauges]
    known = [value for value in slopes if value is not None]
    return max(known, key=abs) if len(known) == len(slopes) else None


def _is_good(window: Window) -> bool:
    """A silent or garbled line is judged by age; a gauge that calls itself broken is not."""
    return window.good_s is not None and window.fault not in (Why.BROKEN, Why.OUT_OF_RANGE)


def _is_plausible(window: Window, now_s: float) -> bool:
    if window.good_s is None or window.fault == Why.OUT_OF_RANGE:
        return False
    return not is_noisy(window, now_s)


def at_part(gauges: tuple[GaugeNow, ...]) -> tuple[GaugeNow, ...]:
    """The gauges at the table where there are any, since a pump holds a vacuum of its own."""
    return tuple(gauge for gauge in gauges if gauge.setting.role == "table") or gauges


def _vacuum_kpa(gauges: tuple[GaugeNow, ...]) -> float | None:
    """Vacuum at the part."""
    values = [gauge.vacuum_kpa for gauge in at_part(gauges)]
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
