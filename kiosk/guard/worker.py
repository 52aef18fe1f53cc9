"""A thread of the guard: ends the process when it fails, stops when asked."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell, Clock


@dataclass(frozen=True, slots=True)
class Shared:
    """What every thread is given: how to wake the loop, tell the time, and fail."""

    bell: Bell
    clock: Clock
    failure: Failure


class Worker(threading.Thread):
    """Subclasses say in ``work`` what the thread does."""

    def __init__(self, name: str, shared: Shared) -> None:
        super().__init__(name=name, daemon=True)
        self.shared = shared
        self.stopping = threading.Event()

    def run(self) -> None:
        """Work until asked to stop; any exception is a bug and ends the process."""
        try:
            self.work()
        except Exception as bug:
            self.shared.failure.fail(self.name, bug)

    def work(self) -> None:
        """What the thread does.  Returns soon after ``stopping`` is set."""
        raise NotImplementedError

    def stop(self) -> None:
        """Ask the thread to end; does not wait."""
        self.stopping.set()
