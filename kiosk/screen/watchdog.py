"""Ends a screen process that draws no longer, so that its supervisor starts it again.

The link's thread would go on telling the guard that a screen is there.
"""

from __future__ import annotations

import os
import sys
import threading
import time

from kiosk.limits import SCREEN_SILENT_S

EXIT_FROZEN = 3
_LOOK_S = 0.25


class Watchdog:
    """``beat`` after every drawing; the first beat arms it."""

    def __init__(self, silent_s: float = SCREEN_SILENT_S) -> None:
        self._silent_s = silent_s
        self._last_s: float | None = None
        self._thread = threading.Thread(target=self._run, name="watchdog", daemon=True)

    def start(self) -> None:
        """Begin to watch."""
        self._thread.start()

    def beat(self) -> None:
        """The screen was drawn."""
        self._last_s = time.monotonic()

    def frozen(self, now_s: float) -> bool:
        """True when the last drawing is too long ago."""
        return self._last_s is not None and now_s - self._last_s > self._silent_s

    def _run(self) -> None:
        while not self.frozen(time.monotonic()):
            time.sleep(_LOOK_S)
        print("screen: no drawing for too long, ending so it can be started again",
              file=sys.stderr, flush=True)  # fmt: skip
        os._exit(EXIT_FROZEN)
