"""Repeats of one measurement: their mean, their spread, and the cautious end of them.

The cautious end is the one-sided 95 % limit of the mean by Student's t, but never inside the
worst repeat: few repeats that scatter are paid for.  Knows no friction and no cutting.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

LEAST, MOST = 3, 20  # repeats
# Spread is (greatest - least) / mean.  Both shares and the number: common practice, no source.
GOOD_SPREAD = 0.15  # up to here LEAST repeats are enough
MOST_SPREAD = 0.30  # above this the repeats are not of one thing
SPREAD_REPEATS = 5  # wanted between the two
# One-sided 95 % points of Student's t for n repeats, n - 1 degrees of freedom: any statistics
# handbook, such as NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2.
STUDENT_95 = {
    3: 2.920, 4: 2.353, 5: 2.132, 6: 2.015, 7: 1.943, 8: 1.895, 9: 1.860, 10: 1.833, 11: 1.812,
    12: 1.796, 13: 1.782, 14: 1.771, 15: 1.761, 16: 1.753, 17: 1.746, 18: 1.740, 19: 1.734,
    20: 1.729,
}  # fmt: skip


def down(friction: float) -> float:
    """A friction as it is written: two or three figures, never more than it is."""
    return math.floor(friction * 1000.0) / 1000.0


def up(force_mpa: float) -> float:
    """A cutting force as it is written, N/mm2: one decimal, never less than it is."""
    return math.ceil(force_mpa * 10.0) / 10.0


@dataclass(frozen=True, slots=True)
class Repeats:
    """Values above zero, in one unit; LEAST to MOST of them for an end."""

    values: tuple[float, ...]

    @property
    def mean(self) -> float:
        return math.fsum(self.values) / len(self.values)

    @property
    def spread(self) -> float:
        """(greatest - least) / mean."""
        return (max(self.values) - min(self.values)) / self.mean

    @property
    def _reach(self) -> float:
        count, mean = len(self.values), self.mean
        square = math.fsum((value - mean) ** 2 for value in self.values) / (count - 1)
        return STUDENT_95[count] * math.sqrt(square / count)

    @property
    def low_end(self) -> float:
        """For a number that is cautious when low; can fall below zero."""
        return min(self.mean - self._reach, *self.values)

    @property
    def high_end(self) -> float:
        """For a number that is cautious when high."""
        return max(self.mean + self._reach, *self.values)

    @property
    def missing(self) -> int:
        """How many more repeats are wanted."""
        wanted = LEAST
        if len(self.values) >= LEAST and self.spread > GOOD_SPREAD:
            wanted = SPREAD_REPEATS
        return max(0, wanted - len(self.values))

    @property
    def scattered(self) -> bool:
        """True when no more repeats would help: something differs between them."""
        return len(self.values) >= LEAST and self.spread > MOST_SPREAD

    def trouble(self) -> str | None:
        """Why there is no number, and what to do; None when there is one."""
        count = len(self.values)
        if count < LEAST:
            return f"{count} repeats: {LEAST} at least are needed"
        if count > MOST:
            return f"{count} repeats: {MOST} at most are reckoned with"
        if self.scattered:
            return (
                f"the repeats differ by {100 * self.spread:.0f} % of their mean, more than "
                f"{100 * MOST_SPREAD:.0f} %: find what differs and measure again"
            )
        if self.missing:
            return (
                f"the repeats differ by {100 * self.spread:.0f} % of their mean, more than "
                f"{100 * GOOD_SPREAD:.0f} %: {SPREAD_REPEATS} repeats are needed, measure "
                f"{self.missing} more"
            )
        return None
