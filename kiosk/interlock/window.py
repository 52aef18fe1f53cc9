"""What one gauge has shown lately: its newest good value, its slopes, and whether to believe it.

A fault brings no value and takes none away: only age does.  What is not finite, not plausible,
older than what is known, or dated ahead of now never counts as a value.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import isfinite
from statistics import median

from kiosk.interlock import delays
from kiosk.interlock.reading import Fault, Reading, Sample, Why
from kiosk.interlock.timer import reached
from kiosk.interlock.trend import Mark, Trend, grow
from kiosk.limits import FALL_KPA_PER_S, FALL_WINDOW_MS, Limits

_POINTS = 120  # most marks kept for a slope


@dataclass(frozen=True, slots=True)
class Window:
    """Memory of one gauge.  ``taken_s``: newest sample of any kind; ``good_s``: newest value."""

    taken_s: float | None = None
    good_s: float | None = None
    vacuum_kpa: float | None = None
    fault: Why | None = None  # of the newest sample; None when that was good
    new: bool = False  # a good value came with this step
    short: tuple[Mark, ...] = ()  # for the fast fall
    long: tuple[Mark, ...] = ()  # for settling and the scatter
    jumps_s: tuple[float, ...] = ()
    trend: Trend = field(default_factory=Trend)
    settling_kpa_per_s: float | None = None  # over limits.settle_s; None: not enough seen
    fast_kpa_per_s: float | None = None  # over FALL_WINDOW_MS, robust

    @property
    def slope_kpa_per_s(self) -> float | None:
        """The likely slope of the trend; None for too few samples."""
        return None if self.trend.slope is None else self.trend.slope.likely

    @property
    def present_kpa_per_s(self) -> float | None:
        """The slope to show, which a fall moves sooner; None for too few samples."""
        return None if self.trend.slope is None else self.trend.slope.present

    def age_s(self, now_s: float) -> float | None:
        """Age of the newest value; None before the first, or when it is dated ahead of now."""
        if self.good_s is None or self.good_s > now_s + delays.FUTURE_S:
            return None
        return max(now_s - self.good_s, 0.0)


def look(
    window: Window, sample: Sample | None, now_s: float, air_kpa: float, limits: Limits
) -> Window:
    """The window after one more look at a gauge; the same sample twice changes nothing."""
    if sample is None or not _is_news(window, sample, now_s):
        return replace(window, new=False) if window.new else window
    if isinstance(sample, Fault):
        return replace(window, taken_s=sample.taken_s, fault=sample.why, new=False)
    doubt = _doubt(sample.vacuum_kpa, air_kpa)
    if doubt is not None:
        return replace(window, taken_s=sample.taken_s, fault=doubt, new=False)
    return _with(window, sample, limits)


def _is_news(window: Window, sample: Sample, now_s: float) -> bool:
    if not isfinite(sample.taken_s) or sample.taken_s > now_s + delays.FUTURE_S:
        return False
    return window.taken_s is None or sample.taken_s > window.taken_s


def _doubt(vacuum_kpa: float, air_kpa: float) -> Why | None:
    if not isfinite(vacuum_kpa):
        return Why.BROKEN
    plausible = -delays.PLAUSIBLE_KPA <= vacuum_kpa <= air_kpa + delays.PLAUSIBLE_KPA
    return None if plausible else Why.OUT_OF_RANGE


def _with(window: Window, reading: Reading, limits: Limits) -> Window:
    at_s, vacuum_kpa = reading.taken_s, reading.vacuum_kpa
    mark = (at_s, vacuum_kpa)
    short = _short(window.short, mark)
    long = _long(window.long, mark, max(limits.settle_s, delays.SCATTER_S))
    return Window(
        taken_s=at_s,
        good_s=at_s,
        vacuum_kpa=vacuum_kpa,
        new=True,
        short=short,
        long=long,
        jumps_s=_jumps(window, mark),
        trend=grow(window.trend, mark),
        settling_kpa_per_s=_settling(long, limits),
        fast_kpa_per_s=robust_slope(short) if _is_full(short) else None,
    )


def _short(marks: tuple[Mark, ...], mark: Mark) -> tuple[Mark, ...]:
    """Newest marks that just cover the window of the fast fall."""
    if marks and mark[0] - marks[-1][0] < delays.NEVER_THINNER_S:
        return marks
    marks = (*marks, mark)
    edge = mark[0] - FALL_WINDOW_MS / 1000.0 + delays.TINY_S
    while len(marks) > delays.FALL_SAMPLES and marks[1][0] <= edge:
        marks = marks[1:]
    return marks


def _is_full(marks: tuple[Mark, ...]) -> bool:
    enough = len(marks) >= delays.FALL_SAMPLES
    return enough and reached(marks[-1][0] - marks[0][0], FALL_WINDOW_MS / 1000.0)


def _long(marks: tuple[Mark, ...], mark: Mark, cover_s: float) -> tuple[Mark, ...]:
    if marks and mark[0] - marks[-1][0] < cover_s / _POINTS:
        return marks
    first, edge = 0, mark[0] - cover_s + delays.TINY_S
    while first + 1 < len(marks) and marks[first + 1][0] <= edge:
        first += 1
    return (*marks[first:], mark)


def _jumps(window: Window, mark: Mark) -> tuple[float, ...]:
    """Times of steps larger than a pump or a leak can make, the last second's."""
    kept = tuple(at_s for at_s in window.jumps_s if mark[0] - at_s < delays.JUMPS_WITHIN_S)
    if window.good_s is None or window.vacuum_kpa is None:
        return kept
    large = abs(mark[1] - window.vacuum_kpa) > delays.JUMP_KPA
    return (*kept, mark[0]) if large and mark[0] - window.good_s <= delays.JUMP_S else kept


def _settling(marks: tuple[Mark, ...], limits: Limits) -> float | None:
    """Slope over the settling time; None when that is not wholly and closely covered."""
    edge = marks[-1][0] - limits.settle_s + delays.TINY_S
    gap_s = limits.stale_s + max(limits.settle_s, delays.SCATTER_S) / _POINTS
    first = len(marks) - 1
    while first > 0 and marks[first][0] > edge:
        if marks[first][0] - marks[first - 1][0] >= gap_s:
            return None
        first -= 1
    if marks[first][0] > edge or len(marks) - first < delays.SETTLE_SAMPLES:
        return None
    return slope(marks[first:])


def slope(marks: list[Mark] | tuple[Mark, ...]) -> float | None:
    """Least-squares slope in kPa/s; None for fewer than two different times."""
    if len(marks) < 2:
        return None
    count, (*_, (zero_s, zero_kpa)) = len(marks), marks
    sum_s = sum_kpa = sum_s_s = sum_s_kpa = 0.0
    for at_s, vacuum_kpa in marks:
        after_s, above_kpa = at_s - zero_s, vacuum_kpa - zero_kpa
        sum_s += after_s
        sum_kpa += above_kpa
        sum_s_s += after_s * after_s
        sum_s_kpa += after_s * above_kpa
    spread = count * sum_s_s - sum_s * sum_s
    return (count * sum_s_kpa - sum_s * sum_kpa) / spread if spread > 0.0 else None


def robust_slope(marks: tuple[Mark, ...]) -> float | None:
    """Median of the slopes of all pairs, kPa/s: one wild sample does not move it.

    Source: P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389.
    """
    slopes = [
        (late[1] - early[1]) / (late[0] - early[0])
        for number, late in enumerate(marks)
        for early in marks[:number]
    ]
    return median(slopes) if slopes else None


def falls_fast(window: Window) -> bool:
    """Whether the gauge fell faster than FALL_KPA_PER_S over the whole window.

    The robust slope keeps one wild sample out where there are enough others.  A slow gauge has
    so few that the first or the last alone moves it: there the fall must show without either.
    """
    marks = window.short
    if not _falls(marks, window.fast_kpa_per_s):
        return False
    if len(marks) >= delays.ROBUST_SAMPLES:
        return True
    return all(_falls(part, robust_slope(part)) for part in (marks[1:], marks[:-1]))


def _falls(marks: tuple[Mark, ...], kpa_per_s: float | None) -> bool:
    """By its robust slope, and by its net fall, which keeps a small step out."""
    if kpa_per_s is None or kpa_per_s >= -FALL_KPA_PER_S:
        return False
    return marks[0][1] - marks[-1][1] > FALL_KPA_PER_S * (marks[-1][0] - marks[0][0])


def is_noisy(window: Window, now_s: float) -> bool:
    """Whether the value jumps as no vacuum can."""
    recent = [at_s for at_s in window.jumps_s if now_s - at_s < delays.JUMPS_WITHIN_S]
    return len(recent) >= delays.JUMPS
