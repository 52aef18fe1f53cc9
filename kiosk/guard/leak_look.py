"""A thread that looks after the kept leak tests: which zone leaks most against its baseline."""

from __future__ import annotations

from pathlib import Path

from kiosk.guard.child import Child
from kiosk.guard.failure import say
from kiosk.guard.worker import Shared, Worker, mark_of
from kiosk.site import Site

LOOK_EVERY_S = 5.0
READ_WITHIN_S = 20.0
Worst = tuple[str, float]  # zone, and its ratio to its baseline


class LeakLook(Worker):
    """``worst`` is read again when the file was changed; None without a test or a good file.

    A process of its own reads, so that a large file holds up no step.
    """

    def __init__(self, file: Path, site: Site, shared: Shared) -> None:
        super().__init__("leak tests", shared)
        self.worst: Worst | None = None
        self._file = file
        self._asked: dict[str, object] = {
            "do": "leaks",
            "file": str(file),
            "site": site.name,
            "zones": sorted({seat.zone for seat in site.seats}),
        }
        self._seen: object = None
        self._child = Child()

    def work(self) -> None:
        """Read at the start and after every change."""
        while not self.stopping.is_set():
            mark = mark_of(self._file)
            if mark != self._seen:
                self._read(mark)
            self.stopping.wait(LOOK_EVERY_S)

    def stop(self) -> None:
        """Ask the thread to end, and its child."""
        super().stop()
        self._child.end()

    def _read(self, mark: tuple[int, ...] | None) -> None:
        if mark is None:
            self._seen, self.worst = None, None
            return
        self._child = Child()
        answer = self._child.ask(self._asked, READ_WITHIN_S)
        if isinstance(answer, str):
            say(f"leak tests not read: {answer}")  # tried again at the next look
            return
        self._seen = mark
        self.worst = _worst(answer)
        if "refused" in answer:
            say(f"leak tests of no use, alarm A15 is not judged: {answer['refused']}")


def _worst(answer: dict[str, object]) -> Worst | None:
    zone, ratio = answer.get("zone"), answer.get("ratio")
    known = isinstance(zone, str) and isinstance(ratio, int | float)
    return (zone, float(ratio)) if known else None  # type: ignore[arg-type,return-value]
