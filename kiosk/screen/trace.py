"""The last minute of the gauge, as lowest and highest value per column of pixels.

Never thinned by picking samples: a short dip must show.  Written from the link's thread and read
by the drawing thread; a deque's append and its copy are each one step.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise

WINDOW_S = 60.0
_MOST = 12_000  # 200 samples a second for a minute


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

    def columns(self, count: int, now_s: float) -> tuple[tuple[float, float] | None, ...]:
        """(lowest, highest) for each of ``count`` equal parts of the window, oldest first."""
        found: list[tuple[float, float] | None] = [None] * count
        start_s = now_s - WINDOW_S
        last: float | None = None
        for at_s, value in self._samples.copy():
            column = int((at_s - start_s) / WINDOW_S * count)
            if not 0 <= column < count or value is None:
                last = value
                continue
            found[column] = _wider(found[column], value, last)
            last = value
        return tuple(_joined(found))


def _wider(
    old: tuple[float, float] | None, value: float, before: float | None
) -> tuple[float, float]:
    """The column with one more value; it reaches back to the value before it."""
    values = [value] if before is None else [value, before]
    if old is not None:
        values.extend(old)
    return min(values), max(values)


def _joined(
    columns: list[tuple[float, float] | None],
) -> list[tuple[float, float] | None]:
    """Gaps of a few columns between slow samples are filled; longer ones stay empty."""
    widest = max(2, len(columns) // 60)  # one second
    joined = list(columns)
    known = [at for at, column in enumerate(columns) if column is not None]
    for before, after in pairwise(known):
        if 1 < after - before <= widest:
            joined[before + 1 : after] = [columns[before]] * (after - before - 1)
    return joined
