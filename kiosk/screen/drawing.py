"""Whether the screen is being drawn: the heartbeat to the guard depends on it.

A process whose drawing stands still still has its link's thread.  It must not go on telling the
guard that somebody can see the screen.
"""

from __future__ import annotations

import time
from collections.abc import Callable

FRESH_S = 0.5  # a drawing older than this is none


class Drawing:
    """Marked by the drawing loop after each drawing; asked by the link's thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._last_s: float | None = None

    def done(self) -> None:
        """The screen was drawn just now."""
        self._last_s = self._clock()

    def is_fresh(self) -> bool:
        """True while the newest drawing is young enough to be looked at."""
        return self._last_s is not None and self._clock() - self._last_s <= FRESH_S
