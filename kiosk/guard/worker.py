"""A thread of the guard: ends the process when it fails, stops when asked."""

from __future__ import annotations

import contextlib
import threading
from dataclasses import dataclass
from pathlib import Path

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
        self._tell_name()
        try:
            self.work()
        except Exception as bug:
            self.shared.failure.fail(self.name, bug)

    def _tell_name(self) -> None:
        """Let ps and top show which thread is which, proc(5); nothing hangs on it."""
        with contextlib.suppress(OSError):
            own = Path(f"/proc/self/task/{threading.get_native_id()}/comm")
            own.write_text(self.name[:15], encoding="utf-8")

    def work(self) -> None:
        """What the thread does.  Returns soon after ``stopping`` is set."""
        raise NotImplementedError

    def stop(self) -> None:
        """Ask the thread to end; does not wait."""
        self.stopping.set()


def mark_of(file: Path) -> tuple[int, ...] | None:
    """Something that differs once a file was changed, replaced or its rights were; None without."""
    try:
        stat = file.stat()
    except OSError:
        return None
    return stat.st_ino, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_size, stat.st_mode
