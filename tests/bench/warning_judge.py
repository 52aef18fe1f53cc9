"""What counts as a good cut, a slow leak, a warning and its lead.

Good cut   the hold, without noise, is never under R = 1.10 for a whole second: every warning is
           false.  The job's minimum is set so that the lowest whole second is at R between 1.10
           and 1.45; minima under the floor of 20 kPa are left out.
Slow leak  from R = 1.15, the lowest at which a cut may start, to 1.00 in 20 s or more, and no
           second of the last 20 takes more than 0.02 of R: about 0.4 kPa/s at a minimum of 40 kPa
           on the average, 0.8 at the most.  A rule needs some 10 s to see a fall and the operator
           10 s to act; what is faster is for the loss itself.
Loss       R, without noise, under 1.00 for 0.3 s.
Lead       from the first warning that begins after the leak did to the loss.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from warning_plants import RATE_HZ, Floats, Trace

from kiosk.interlock.trend import Trend, came_back_from, grow, time_left
from kiosk.limits import CLEAR_HOLD_S, TIME_LEFT_BELOW_RATIO, TIME_LEFT_CLEAR_S, Limits

TAKEN_OFF_KPA = 3.0  # drop and gauge error
GOOD_RATIO, START_RATIO = 1.10, 1.15
SLOW_S, STEEPEST_R_PER_S = 20.0, 0.02
LINE_S = 5.0
LIMITS = Limits()
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Case:
    """A session against a job's minimum.  Times left are inf where there is none."""

    trace: Trace
    minimum_kpa: float
    ratio: Floats  # by the gauge
    latest_s: Floats  # the trend's latest and likely time left
    likely_s: Floats
    lost: int | None = None  # sample of the loss
    fall_s: float | None = None
    slow: bool = False


def good_case(trace: Trace, seed: int) -> Case | None:
    """A good cut against a minimum that fits it; None when that would be below the floor."""
    seconds = trace.at_table_kpa[trace.cutting]
    seconds = seconds[: len(seconds) // RATE_HZ * RATE_HZ].reshape(-1, RATE_HZ)
    lowest_kpa = float(seconds.max(axis=1).min())
    wanted = random.Random(seed).uniform(GOOD_RATIO, 1.45)
    minimum_kpa = (lowest_kpa - TAKEN_OFF_KPA) / wanted
    return None if minimum_kpa < LIMITS.floor_kpa else _case(trace, minimum_kpa)


def leak_case(trace: Trace, seed: int) -> Case | None:
    """A leaking cut that began at R between 1.15 and 1.5; None when the hold was not lost."""
    began = int(np.flatnonzero(trace.cutting)[0])
    wanted = random.Random(seed).uniform(START_RATIO, 1.5)
    minimum_kpa = (float(trace.at_table_kpa[began]) - TAKEN_OFF_KPA) / wanted
    if minimum_kpa < LIMITS.floor_kpa:
        return None
    ratio = (trace.at_table_kpa - TAKEN_OFF_KPA) / minimum_kpa
    under = trace.cutting & (ratio < 1.0)
    three = np.flatnonzero(under[:-2] & under[1:-1] & under[2:])
    if not len(three):
        return None
    lost = int(three[0]) + 2
    above = np.flatnonzero(ratio[began:lost] >= START_RATIO)
    fall_s = float(lost - began - above[-1]) / RATE_HZ if len(above) else 0.0
    last = ratio[max(lost - int(SLOW_S) * RATE_HZ, began) : lost + 1 : RATE_HZ]
    steepest = max((a - b for a, b in pairwise(last)), default=1.0)
    slow = bool(fall_s >= SLOW_S and steepest <= STEEPEST_R_PER_S)
    return _case(_until(trace, lost), minimum_kpa, lost, fall_s, slow)


def _until(trace: Trace, last: int) -> Trace:
    end = last + 1
    return replace(
        trace,
        at_table_kpa=trace.at_table_kpa[:end],
        said_kpa=trace.said_kpa[:end],
        cutting=trace.cutting[:end],
    )


def _case(
    trace: Trace,
    minimum_kpa: float,
    lost: int | None = None,
    fall_s: float | None = None,
    slow: bool = False,
) -> Case:
    """Every sample through the program's own trend."""
    needs_kpa = minimum_kpa + TAKEN_OFF_KPA
    warns_kpa = LIMITS.warn_ratio * minimum_kpa + TAKEN_OFF_KPA
    near_kpa = TIME_LEFT_BELOW_RATIO * minimum_kpa + TAKEN_OFF_KPA
    latest_s, likely_s = (np.full(len(trace.said_kpa), np.inf) for _ in range(2))
    trend = Trend()
    for number, kpa in enumerate(trace.said_kpa.tolist()):
        at_s = number / RATE_HZ
        trend = grow(trend, (at_s, kpa))
        if kpa >= near_kpa or not trace.cutting[number]:
            continue
        left = time_left(trend.slope, kpa, needs_kpa, came_back_from(trend, at_s, warns_kpa))
        latest_s[number] = np.inf if left.latest_s is None else left.latest_s
        likely_s[number] = np.inf if left.likely_s is None else left.likely_s
    ratio = (trace.said_kpa - TAKEN_OFF_KPA) / minimum_kpa
    return Case(trace, minimum_kpa, ratio, latest_s, likely_s, lost, fall_s, slow)


# -- rules ---------------------------------------------------------------------------------------


def onsets_of(case: Case, kind: str, limit: float) -> list[int]:
    """Samples at which a rule begins to warn.

    kind  "trend" and "line": the time left under ``limit``, or the level; "plain": R under
          ``limit`` at once; "delay N s": for N seconds
    """
    if kind == "plain":
        return _threshold(case, limit, 0.0)
    if kind.startswith("delay"):
        return _threshold(case, limit, float(kind.split()[1]))
    low = _threshold(case, LIMITS.warn_ratio, LIMITS.warn_s)
    if kind == "trend":
        latest_s, likely_s = case.latest_s, case.likely_s
    else:
        latest_s = likely_s = _line_s(case)
    falls = (latest_s < limit) & (case.ratio < TIME_LEFT_BELOW_RATIO)
    calm = (case.ratio >= LIMITS.clear_ratio) & (likely_s > TIME_LEFT_CLEAR_S)
    return sorted([*low, *_onsets(case, falls, calm, LIMITS.warn_s)])


def warned_s(case: Case, kind: str, limit: float) -> float:
    """From a rule's first warning of the leak to the loss; 0 when there was none."""
    assert case.lost is not None
    told = [at for at in onsets_of(case, kind, limit) if at >= case.trace.leaks_from]
    first = min(told, default=case.lost)
    return (case.lost - first) / RATE_HZ


def _threshold(case: Case, ratio: float, delay_s: float) -> list[int]:
    return _onsets(case, case.ratio < ratio, case.ratio >= ratio + 0.03, delay_s)


def _line_s(case: Case) -> Floats:
    """The time left by a least-squares line through the last LINE_S."""
    count = int(LINE_S * RATE_HZ)
    near = sliding_window_view(case.trace.said_kpa, count)
    times_s = (np.arange(count) - (count - 1) / 2.0) / RATE_HZ
    slopes = np.full(len(case.ratio), np.nan)
    slopes[count - 1 :] = near @ times_s / (times_s @ times_s)
    above_kpa = case.minimum_kpa * (case.ratio - 1.0)
    return np.where(slopes < -0.01, above_kpa / -np.minimum(slopes, -0.01), np.inf)


def _onsets(case: Case, stands: Flags, calm: Flags, delay_s: float) -> list[int]:
    """Where a condition has stood for its delay, each time after it was calm for 5 s."""
    delay, off = int(delay_s * RATE_HZ), int(CLEAR_HOLD_S * RATE_HZ)
    cutting = case.trace.cutting
    clears = [begin + off for begin, end in _runs(calm | ~cutting) if end - begin > off]
    clears += [begin for begin, _ in _runs(~cutting)]  # the warning ends with the cut
    found, free_from = [], 0
    for begin, end in _runs(stands & cutting):
        if end - begin <= delay or begin + delay < free_from:
            continue
        found.append(begin + delay)
        free_from = min((at for at in clears if at >= end), default=len(stands))
    return found


def _runs(flags: Flags) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.view(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
