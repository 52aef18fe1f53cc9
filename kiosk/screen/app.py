"""The screen's process: ten times a second, the newest snapshot onto the board.

Nothing here waits for the guard: the link's thread keeps the newest view, and a view that grows
old says so by itself.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from kivy.app import App
from kivy.clock import Clock
from kivy.core.window import Window

from kiosk.link import Link
from kiosk.screen import safely, theme
from kiosk.screen.book import Book
from kiosk.screen.drawing import Drawing
from kiosk.screen.front import Front
from kiosk.screen.scanner import Scanner
from kiosk.screen.views.board import Board
from kiosk.screen.widgets.touch_button import Touch
from kiosk.words import load

RATE_HZ = 10.0
SMALL = (
    "screen: this panel is smaller than 216 x 127 mm: everything is drawn smaller, and words and "
    "touch places are below the sizes that gloves and reading at 0.7 m need"
)


class ScreenApp(App):
    """Draws what the guard says; sends what is touched.  ``beat`` is called after each drawing.

    ``log`` is the file that past cycles are read from.
    """

    use_kivy_settings = False

    def __init__(
        self,
        socket_path: Path,
        px_per_mm: float,
        beat: Callable[[], None] | None = None,
        log: Path | None = None,
    ) -> None:
        super().__init__()
        self._px_per_mm, self._beat = px_per_mm, beat
        self._words = load()
        self._drawing = Drawing()
        self.link = Link(
            socket_path,
            alive=self._drawing.is_fresh,
            touched=self._was_touched,
            changed=self._heard,
        )
        self.front = Front(self.link, self._words, None if log is None else Book(log))
        self._scanner = Scanner(lambda code: self.front.scanned(code, time.monotonic()))
        self.board = None
        self._tick_event = None

    def _heard(self):
        self.front.heard()

    def _was_touched(self):
        return self.front.was_touched()

    def build(self):
        """The board, as large as the window."""
        self.title = "Holdpoint"
        if not theme.use(self._px_per_mm, Window.width, Window.height):
            print(SMALL, file=sys.stderr, flush=True)
        Touch.reset()
        Touch.speak(self._words)
        self.board = Board()
        self.board.bind(on_act=self._act, on_finger=lambda *_: self.front.touched())
        return self.board

    def on_start(self):
        """Connect, and begin to draw."""
        safely.tell(self._fault)
        Window.bind(on_key_down=self._scanner.on_key)
        self.link.start()
        self.tick()
        self._tick_event = Clock.schedule_interval(safely.safely(self.tick), 1.0 / RATE_HZ)

    def on_stop(self):
        """May come twice."""
        if self._tick_event is not None:
            self._tick_event.cancel()
            self._tick_event = None
            Window.unbind(on_key_down=self._scanner.on_key)
            self.link.close()

    def open_settings(self, *_):
        """The library's own settings panel has no place here."""

    def tick(self, *_):
        """Draw the newest."""
        now = time.localtime()
        clock = time.strftime("%H:%M", now)
        offset = now.tm_gmtoff or 0
        self._scanner.look()
        self.board.shown = self.front.shown(
            time.monotonic(), clock, offset, self.board.trace_columns()
        )
        self._drawing.done()
        if self._beat is not None:
            self._beat()

    def _act(self, _board, button):
        self.front.act(button, time.monotonic())
        self.tick()

    def _fault(self, _line):
        self.front.say(self._words.say("notice.fault"), time.monotonic(), 60.0)
