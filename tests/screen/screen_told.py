"""A front on a link that a test speaks for: what it says and when it came are the test's own."""

from __future__ import annotations

from typing import Any

from screen_window import WORDS

from kiosk.interlock.snapshot import Snapshot
from kiosk.link import Answer, View
from kiosk.screen.front import Front
from kiosk.screen.show.shown import Shown


class Told:
    """Stands for the link: keeps what was asked."""

    def __init__(self) -> None:
        self.newest = View()
        self.asked: list[dict[str, Any]] = []
        self.refuse: str | None = None
        self.gone = False  # nothing can be sent

    def view(self) -> View:
        return self.newest

    def ask(self, name: str, /, **arguments: Any) -> str | None:
        if self.gone:
            return None
        self.asked.append({"command": name, **arguments})
        return str(len(self.asked))

    def answer(self, _ident: str) -> Answer | None:
        return None if self.refuse is None else Answer("", self.refuse)


class ToldDesk:
    """A front that is told snapshots and looks at times of the test's choice."""

    def __init__(self) -> None:
        self.link = Told()
        self.front = Front(self.link, WORDS)  # type: ignore[arg-type]

    def tell(self, snapshot: Snapshot, came_s: float, restarts: int = 0) -> None:
        """This came then."""
        self.link.newest = View(True, snapshot.epoch, snapshot, came_s, restarts, "me")

    def look(self, now_s: float) -> Shown:
        """Draw."""
        return self.front.shown(now_s, "10:42", 3600, 0)

    def sees(self, snapshot: Snapshot, now_s: float) -> Shown:
        """This came just now, and is looked at."""
        self.tell(snapshot, now_s)
        return self.look(now_s)
