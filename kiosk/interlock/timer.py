"""Time that has passed, and conditions that must stand for a time and a number of samples.

Two times that were meant to be the same are the same: 0.15 s in floats is 0.15 s.
"""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.interlock.delays import TINY_S


def reached(passed_s: float, limit_s: float) -> bool:
    """Whether a time is up.  What is not a number is not."""
    return passed_s >= limit_s - TINY_S


def is_young(age_s: float | None, limit_s: float) -> bool:
    """Whether something is known and younger than a limit.  What is not a number is not."""
    return age_s is not None and age_s < limit_s - TINY_S


@dataclass(frozen=True, slots=True)
class Timer:
    """Since when a condition stands without a break, and over how many samples."""

    since_s: float | None = None
    samples: int = 0

    def run(self, stands: bool, samples: int, at_s: float) -> Timer:
        """One look later.  ``samples``: new ones that bear it out; ``at_s``: when it began."""
        if not stands:
            return IDLE
        since_s = at_s if self.since_s is None else self.since_s
        if since_s == self.since_s and not samples:
            return self
        return Timer(since_s, self.samples + samples)

    def full(self, delay_s: float, samples: int, now_s: float) -> bool:
        """Whether it has stood for both."""
        if self.since_s is None or self.samples < samples:
            return False
        return reached(now_s - self.since_s, delay_s)


IDLE = Timer()
