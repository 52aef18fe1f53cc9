"""A thread that looks after the kept leak tests: which zone leaks most against its baseline."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kiosk.guard.failure import say
from kiosk.guard.looker import Looker
from kiosk.guard.worker import Shared, mark_of
from kiosk.site import Site

Worst = tuple[str, float]  # zone, and its ratio to its baseline


class LeakLook(Looker):
    """``worst`` is None without a test or a good file."""

    every_s = 5.0

    def __init__(self, file: Path, site: Site, shared: Shared) -> None:
        super().__init__("leak tests", shared)
        self.worst: Worst | None = None
        self._file, self._site = file, site

    def mark(self) -> object:
        """The file's mark."""
        return mark_of(self._file)

    def request(self) -> dict[str, object]:
        """The tests of this machine, by its name and its zones."""
        zones = sorted({seat.zone for seat in self._site.seats})
        return {"do": "leaks", "file": str(self._file), "site": self._site.name, "zones": zones}

    def keep(self, answer: dict[str, Any] | None) -> None:
        """The worst zone; a file of no use counts as none, and says why."""
        found = answer or {}
        zone, ratio = found.get("zone"), found.get("ratio")
        if isinstance(zone, str) and isinstance(ratio, int | float):
            self.worst = (zone, float(ratio))
        else:
            self.worst = None
        if "refused" in found:
            say(f"leak tests of no use, alarm A15 is not judged: {found['refused']}")
