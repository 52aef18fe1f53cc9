"""What happens when a thread of the guard meets a bug: words, outputs off, and an end.

A supervisor starts the guard again.  Should the loop itself hang, the process is ended here all
the same, and the contacts open by the module's watchdog and the pulse relay.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import traceback
from collections.abc import Callable
from datetime import UTC, datetime

HARD_END_S = 2.0  # the loop's time to write the outputs off after a failure
HARD_END_STATUS = 70  # EX_SOFTWARE of sysexits.h


def utc_now() -> str:
    """Wall clock as a label, ISO 8601 in UTC with milliseconds; never used for ages."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def say(words: str) -> None:
    """One line to stderr.  A closed stderr is no reason to stop guarding."""
    with contextlib.suppress(OSError, ValueError):
        print(f"{utc_now()} guard: {words}", file=sys.stderr, flush=True)


class Failure:
    """The first failure of the process, kept; the loop ends when it is there."""

    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake
        self._lock = threading.Lock()
        self._told = False
        self.words: str | None = None

    def fail(self, where: str, bug: BaseException) -> None:
        """Called at the top of a thread with what it could not handle."""
        self.keep(where, bug)
        self.tell()

    def keep(self, where: str, bug: BaseException) -> None:
        """Have the process ended and the loop woken.  Waits for nothing."""
        frames = traceback.extract_tb(bug.__traceback__)
        place = f" at {frames[-1].filename}:{frames[-1].lineno}" if frames else ""
        words = f"{where} failed: {type(bug).__name__}: {bug}{place}".replace("\n", " ")
        with self._lock:
            if self.words is not None:
                return
            self.words = words
        timer = threading.Timer(HARD_END_S, os._exit, (HARD_END_STATUS,))
        timer.daemon = True
        timer.start()
        self._wake()

    def tell(self) -> None:
        """Say what was kept, once.  May wait: stderr can be a full pipe that nobody reads."""
        with self._lock:
            words = None if self._told else self.words
            self._told = self._told or words is not None
        if words is not None:
            say(f"{words}; outputs off, ending")
