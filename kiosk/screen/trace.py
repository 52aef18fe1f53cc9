"""The last minute of the gauge, as lowest and highest value per column of pixels.

Never thinned by picking samples: a short dip must show.  Written from the link's thread and read
by the drawing thread; a deque's append and its copy are each one step.
"""

from __future__ import annotations

from collections import deque

WINDOW_S = 60.0
JOIN_S = 1.0  # samples further apart are not joined: between them nothing was known
_MOST = 12_000  # 200 samples a second for a minute

Column = tuple[float, float] | None


class Trace:
    """Gauge values with the time they came, newest last; kPa, or None where unknown."""

    def __init__(self) -> None:
        self._samples: deque[tuple[float, float | None]] = deque(maxlen=_MOST)

    def add(self, at_s: float, vacuum_kpa: float | None) -> None:
        """Keep one value."""
        self._samples.append((at_s, vacuum_kpa))

    def clear(self) -> None:
        """Forget everything, as after a new epoch."""
        self._samples.clear()

    def columns(self, count: int, now_s: float) -> tuple[Column, ...]:
        """(lowest, highest) for each of ``count`` equal parts of the window, oldest first."""
        found: list[Column] = [None] * count
        before: tuple[float, float] | None = None  # column and value of the sample before
        before_s = 0.0
        for at_s, value in self._samples.copy():
            at = (at_s - now_s + WINDOW_S) / WINDOW_S * count
            if value is None:
                before = None
                continue
            joins = before is not None and at_s - before_s <= JOIN_S
            _line(found, before if joins and before is not None else (at, value), (at, value))
            before, before_s = (at, value), at_s
        return tuple(found)


def _line(found: list[Column], start: tuple[float, float], end: tuple[float, float]) -> None:
    """Widen each column that the straight line from start to end goes through."""
    first, last = max(0, int(start[0] // 1)), min(len(found) - 1, int(end[0] // 1))
    for column in range(first, last + 1):
        values = (_along(start, end, column), _along(start, end, column + 1))
        old = found[column]
        found[column] = (min(values), max(values)) if old is None else (
            min(old[0], *values), max(old[1], *values))  # fmt: skip


def _along(start: tuple[float, float], end: tuple[float, float], at: float) -> float:
    """The line's value at a place, held at its ends."""
    if at <= start[0]:
        return start[1]
    if at >= end[0]:
        return end[1]
    return start[1] + (end[1] - start[1]) * (at - start[0]) / (end[0] - start[0])
