"""Draws the screen's own board unseen, touches it, and saves what was on it."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PIL import Image

SCALES = {"1280x800": 5.88, "1024x600": 4.63}  # pixels per mm of a 10.1 inch panel
MOST_COLOURS = 256
WITHIN_S = 60.0
TOUCHES = 12  # at most, for one effect


def window(width: int, height: int) -> None:
    """An unseen window of this size, before the drawing library is loaded."""
    from kiosk.screen import display

    os.environ.update(display.settings("offscreen"))
    os.environ.setdefault("KIVY_HOME", tempfile.mkdtemp(prefix="holdpoint-pictures-"))
    import logging

    logging.getLogger("kivy").addFilter(lambda record: "MTDev" not in record.getMessage())
    from kivy.config import Config

    for key, value in (("width", width), ("height", height), ("multisamples", 0), ("maxfps", 15)):
        Config.set("graphics", key, str(value))
    for option in list(Config.options("input")):
        Config.remove_option("input", option)


class Camera:
    """A board on a link, fingers, and a file for each picture."""

    def __init__(self, data: Path, size: str, out: Path) -> None:
        from kivy.base import EventLoop
        from kivy.core.window import Window

        from kiosk import places
        from kiosk.link import Link
        from kiosk.screen import theme
        from kiosk.screen.book import Book
        from kiosk.screen.front import Front
        from kiosk.screen.views.board import Board
        from kiosk.screen.widgets.touch_button import Touch
        from kiosk.words import load

        self.size = tuple(int(part) for part in size.split("x"))
        self.out, self._loop, self._window = out, EventLoop, Window
        theme.use(SCALES[size], *self.size)
        words = load()
        Touch.speak(words)
        self.link = Link(places.socket_file(data), changed=self._heard)
        self.front = Front(self.link, words, Book(places.log_file(data)))
        EventLoop.ensure_window()
        EventLoop.start()
        self.board = Board(size=self.size, size_hint=(None, None))
        self.board.bind(on_act=lambda _, button: self.front.act(button, time.monotonic()))
        Window.add_widget(self.board)
        self.link.start()
        self._fingers = 0

    def _heard(self) -> None:
        self.front.heard()

    def draw(self) -> Any:
        """One frame of the newest; the snapshot it shows."""
        now = time.localtime()
        columns = self.board.trace_columns()
        self.board.shown = self.front.shown(
            time.monotonic(), time.strftime("%H:%M", now), now.tm_gmtoff or 0, columns
        )
        self._loop.idle()
        return self.link.view().snapshot

    def until(self, what: str, true: Callable[[Any], bool], within_s: float = WITHIN_S) -> None:
        """Draw until this is true of the snapshot."""
        end = time.monotonic() + within_s
        while True:
            snapshot = self.draw()
            if snapshot is not None and true(snapshot):
                return
            if time.monotonic() > end:
                sys.exit(f"never came: {what} ({snapshot and snapshot.state})")

    def state(self, word: str, within_s: float = WITHIN_S) -> None:
        """Draw until the state is there."""
        self.until(word, lambda snapshot: snapshot.state == word, within_s)

    def wait(self, seconds: float) -> None:
        """Go on drawing for a while."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.draw()

    def touch(self, widget: Any, seconds: float = 0.06) -> None:
        """A finger on the middle of a widget."""
        from kivy.input.motionevent import MotionEvent

        class Finger(MotionEvent):
            def depack(self, args: dict[str, float]) -> None:
                self.is_touch, self.type_id, self.profile = True, "touch", ["pos"]
                self.sx, self.sy = args["x"], args["y"]
                super().depack(args)

        self.wait(0.4)
        x, y = widget.to_window(*widget.center)
        self._fingers += 1
        place = {"x": x / self._window.width, "y": y / self._window.height}
        finger = Finger("hand", self._fingers, place)
        self._loop._dispatch_input("begin", finger)
        self.wait(seconds)
        self._loop._dispatch_input("end", finger)
        self.wait(0.1)

    def button(self, at: int = -1) -> Any:
        """A button of the rail, from the left or, negative, from the right."""
        return [b for b in self.board.rail.buttons if b.opacity][at]

    def open(self, at: int = -1) -> Any:
        """Touch a button of the rail until its sheet is there; a touch on a busy computer may be
        taken for none."""
        sheet = self.board.sheet
        self.touch_until(lambda: sheet.parent is not None, lambda: self.button(at))
        return sheet

    def touch_until(self, true: Callable[[], object], widget: Callable[[], Any]) -> None:
        """Touch a widget again and again until this is so."""
        for _ in range(TOUCHES):
            if true():
                return
            self.touch(widget())
        sys.exit("touched, and nothing came of it")

    def press(self, at: int = -1) -> None:
        """Press for a second."""
        self.touch(self.button(at), 1.2)

    def save(self, name: str, settle_s: float = 0.15) -> None:
        """The picture."""
        from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels

        self.wait(settle_s)
        self._window.canvas.ask_update()
        self._window.dispatch("on_draw")
        data = bytes(glReadPixels(0, 0, *self.size, GL_RGBA, GL_UNSIGNED_BYTE))
        drawn = Image.frombytes("RGBA", self.size, data).transpose(Image.Transpose.FLIP_TOP_BOTTOM)
        path = self.out / f"{name}.png"
        small = drawn.convert("RGB").quantize(MOST_COLOURS, dither=Image.Dither.NONE)
        small.save(path, optimize=True)
        print(path, flush=True)
