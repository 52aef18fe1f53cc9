"""A thread of the guard: ends the process when it fails, stops when asked."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from dataclasses import dataclass
from pathlib import Path

from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell, Clock
from kiosk.thread_name import tell_name


@dataclass(frozen=True, slots=True)
class Shared:
    """What every thread is given: how to wake the loop, tell the time, and fail."""

    bell: Bell
    clock: Clock
    failure: Failure


class Worker(threading.Thread, ABC):
    """Subclasses say in ``work`` what the thread does."""

    def __init__(self, name: str, shared: Shared) -> None:
        super().__init__(name=name, daemon=True)
        self.shared = shared
        self.stopping = threading.Event()

    def run(self) -> None:
        """Work until asked to stop; any exception is a bug and ends the process."""
        tell_name()
        try:
            self.work()
        except Exception as bug:
            self.shared.failure.fail(self.name, bug)

    @abstractmethod
    def work(self) -> None:
        """What the thread does.  Returns soon after ``stopping`` is set."""

    def stop(self) -> None:
        """Ask the thread to end; does not wait."""
        self.stopping.set()


def mark_of(file: Path) -> tuple[int, ...] | None:
    """Something that differs once a file was changed or replaced; None where there is none.

    The time of the last change, inode(7), moves with whatever is done; number and size are for two
    changes in one tick of the kernel's clock, and for a clock that was set back between.
    """
    try:
        stat = file.stat()
    except OSError:
        return None
    return stat.st_ctime_ns, stat.st_ino, stat.st_size
