"""A front on a link to a server, with a board and fingers."""

from __future__ import annotations

import time
from collections.abc import Callable

from screen_server import Server, await_true
from screen_window import WORDS, Screen

from kiosk.link import Link
from kiosk.screen.front import Front
from kiosk.screen.show.shown import Shown


class Desk:
    """A front on a link to a server, and a board that it draws on."""

    def __init__(self, screen: Screen, server: Server) -> None:
        self.screen, self.server = screen, server
        self.link = Link(server.path, changed=self.heard)
        self.front = Front(self.link, WORDS)
        screen.board.bind(on_act=lambda _, button: self.front.act(button, time.monotonic()))
        self.link.start()
        await_true(lambda: self.link.view().snapshot, "no snapshot came")

    def heard(self) -> None:
        self.front.heard()

    def draw(self) -> Shown:
        shown = self.front.shown(time.monotonic(), "10:42", 3600, 200)
        self.screen.show(shown)
        return shown

    def until(self, true: Callable[[Shown], object], what: str, deadline_s: float = 60.0) -> Shown:
        await_true(lambda: true(self.draw()), what, deadline_s)
        return self.draw()

    def press(self, at: int = -1, seconds: float = 1.15) -> None:
        self.screen.advance(0.4)
        buttons = [b for b in self.screen.board.rail.buttons if b.opacity]
        self.screen.press(buttons[at], seconds)

    def sent(self, name: str) -> list[dict[str, object]]:
        return [row for row in self.server.commands() if row["command"] == name]


class FreshDesk(Desk):
    """What it heard last is always new: that a slow computer is silent is not tried here."""

    def now_s(self) -> float:
        received_s = self.link.view().received_s
        assert received_s is not None
        return received_s

    def draw(self) -> Shown:
        shown = self.front.shown(self.now_s(), "10:42", 3600, 200)
        self.screen.show(shown)
        return shown

    def scan(self, code: str) -> None:
        self.front.scanned(code, self.now_s())


def tap(one: Desk, widget: object) -> None:
    """A finger on the middle of a widget, once those before count as over."""
    one.screen.advance(0.4)
    one.screen.press(widget)
    one.draw()
