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
    """Since when a condition stands without a break, and over how many samples.

    ``samples`` has one count for each gauge that must bear the condition out by itself, or a
    single one where it does not matter whose samples they are.
    """

    since_s: float | None = None
    samples: tuple[int, ...] = ()

    def run(self, stands: bool, news: tuple[int, ...], at_s: float) -> Timer:
        """One look later.  ``news``: new samples that bear it out; ``at_s``: when it began."""
        if not stands:
            return IDLE
        if self.since_s is None:
            return Timer(at_s, news)
        if not any(news):
            return self
        return Timer(self.since_s, tuple(a + b for a, b in zip(self.samples, news, strict=True)))

    def full(self, delay_s: float, samples: int, now_s: float) -> bool:
        """Whether it has stood for both; of the samples, by the least of the counts."""
        if self.since_s is None or min(self.samples, default=0) < samples:
            return False
        return reached(now_s - self.since_s, delay_s)


IDLE = Timer()
