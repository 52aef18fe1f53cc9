"""What speaks against believing a gauge though it answers: frozen, too noisy, drifted, impossible.

Each rule needs more than one sample, so that none follows from a single wild value.  Rules that
need pump or valve stand only where these are wired.  Numbers without a source named are our own
choice (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf
from statistics import median

from kiosk.interlock import delays
from kiosk.interlock.facts import GaugeSetting
from kiosk.interlock.reading import Reading, Sample
from kiosk.interlock.supply import Supply
from kiosk.interlock.timer import IDLE, Timer, reached
from kiosk.interlock.window import Window

# Median of |x1 - 2 x2 + x3| of white noise is 0.6745 * sqrt(6) of its standard deviation: the
# second difference has six times the variance, and 0.6745 is the upper quartile of the normal
# distribution.
_MEDIAN_TO_SIGMA = 0.6745 * 6.0**0.5


@dataclass(frozen=True, slots=True)
class Doubt:
    """Memory of one gauge."""

    raw: float | None = None
    still_s: float = 0.0  # how long the raw value has not changed though it should have
    counted_s: float | None = None  # up to when that is counted; None: it may stand still
    low: Timer = IDLE  # vented and within the zero's tolerance
    off: Timer = IDLE  # vented and beside it
    frozen: bool = False
    noisy: bool = False
    drifted: bool = False
    stays: bool = False  # vacuum though the pump is off and the valve closed

    @property
    def implausible(self) -> bool:
        """Whether the value cannot be what it says."""
        return self.frozen or self.noisy or self.stays


def look(
    doubt: Doubt,
    setting: GaugeSetting,
    sample: Sample | None,
    *,
    window: Window,
    supply: Supply,
    now_s: float,
) -> Doubt:
    """The memory after one more look.  ``window`` has taken the sample already."""
    doubt = _raw(doubt, sample, window, supply, now_s)
    doubt = _zero(doubt, setting, window, supply, now_s)
    kpa = window.vacuum_kpa
    idle = supply.idle_s is not None and reached(now_s - supply.idle_s, delays.IDLE_S)
    return replace(
        doubt,
        frozen=reached(doubt.still_s, setting.frozen_s),
        noisy=_is_noisy(window) if window.new else doubt.noisy,
        stays=idle and kpa is not None and kpa > delays.IDLE_KPA,
    )


def _raw(
    doubt: Doubt, sample: Sample | None, window: Window, supply: Supply, now_s: float
) -> Doubt:
    """How long the same number has come though the pump ran; only another number ends that.

    A pump that stops or is not known to run is a pause, so that one that cycles hides no frozen
    gauge.  So is a table at rest, vented with the valve closed: a good gauge may stand still there.
    """
    kpa = window.vacuum_kpa
    rests = supply.shut_s is not None and kpa is not None and kpa <= delays.ZERO_KPA
    should_move = supply.runs and not rests
    if doubt.counted_s is not None and should_move:
        doubt = replace(doubt, still_s=doubt.still_s + now_s - doubt.counted_s)
    if window.new and isinstance(sample, Reading) and sample.raw != doubt.raw:
        doubt = replace(doubt, raw=sample.raw, still_s=0.0)
    counts = should_move and doubt.raw is not None
    return replace(doubt, counted_s=now_s if counts else None)


def _is_noisy(window: Window) -> bool:
    """Whether the value scatters about its own trend more than any vacuum can."""
    sigma = scatter(window.long)
    return sigma is not None and sigma > delays.NOISE_KPA


def scatter(marks: tuple[tuple[float, float], ...]) -> float | None:
    """Standard deviation about a moving straight line, kPa; None for too few marks (s, kPa).

    From the median of the second differences: neither a slope nor a few steps move it.
    """
    if len(marks) < delays.NOISE_SAMPLES:
        return None
    kpa = [value for _, value in marks]
    bends = [abs(a - 2.0 * b + c) for a, b, c in zip(kpa, kpa[1:], kpa[2:], strict=False)]
    return median(bends) / _MEDIAN_TO_SIGMA


def _zero(
    doubt: Doubt, setting: GaugeSetting, window: Window, supply: Supply, now_s: float
) -> Doubt:
    """The zero, looked at whenever the table is known to be vented.

    What was found stays until the next look at the zero finds it right.
    """
    vented = supply.shut_s is not None and reached(now_s - supply.shut_s, delays.VENTING_S)
    kpa, new = window.vacuum_kpa, (1 if window.new else 0,)
    there = setting.role == "table" and vented
    size = inf if kpa is None else abs(kpa)
    still = abs(window.slope_kpa_per_s or 0.0) < delays.ZERO_STILL_KPA_PER_S
    off = there and still and delays.ZERO_KPA < size <= delays.ZERO_OFF_KPA
    at_s = now_s if window.good_s is None else window.good_s  # up to where samples cover it
    low = doubt.low.run(there and size <= delays.ZERO_KPA, new, at_s)
    beside = doubt.off.run(off, new, at_s)
    right = low.full(delays.ZERO_S, delays.ZERO_SAMPLES, at_s)
    wrong = beside.full(delays.ZERO_S, delays.ZERO_SAMPLES, at_s)
    return replace(doubt, low=low, off=beside, drifted=wrong or (doubt.drifted and not right))
