"""The test's window: offscreen, a clock that stands still, fingers of our own, pixels read back.

``SDL_VIDEODRIVER=offscreen`` gives real drawing without a display.  Time moves only by
``Window.advance``; touches go the whole way through the event loop.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("KIVY_NO_ARGS", "1")
os.environ.setdefault("KIVY_NO_FILELOG", "1")
os.environ.setdefault("KIVY_NO_CONFIG", "1")
os.environ.setdefault("KIVY_LOG_MODE", "PYTHON")
os.environ.setdefault("KIVY_HOME", tempfile.mkdtemp(prefix="holdpoint-kivy-"))
os.environ.setdefault("KIVY_WINDOW", "sdl2")
os.environ.setdefault("KIVY_DPI", "96")
os.environ.setdefault("KIVY_METRICS_DENSITY", "1")
os.environ["SDL_VIDEODRIVER"] = "offscreen"
os.environ.setdefault("LP_NUM_THREADS", "0")  # Mesa draws in this thread: each worker has its core

from kivy.config import Config

for _section, _key, _value in (
    ("graphics", "width", "1280"), ("graphics", "height", "800"), ("graphics", "multisamples", "0"),
    ("graphics", "maxfps", "0"), ("kivy", "exit_on_escape", "0"),
):  # fmt: skip
    Config.set(_section, _key, _value)
for _option in list(Config.options("input")):
    Config.remove_option("input", _option)

from kivy.base import EventLoop  # noqa: E402
from kivy.clock import Clock  # noqa: E402
from kivy.core.window import Window as KivyWindow  # noqa: E402
from kivy.graphics.opengl import GL_RGBA, GL_UNSIGNED_BYTE, glReadPixels  # noqa: E402
from kivy.input.motionevent import MotionEvent  # noqa: E402
from kivy.lang import Builder  # noqa: E402

from kiosk.screen import theme  # noqa: E402
from kiosk.screen.views.board import Board  # noqa: E402
from kiosk.screen.widgets.touch_button import Touch  # noqa: E402
from kiosk.words import load  # noqa: E402

SIZES = {"1280x800": (1280, 800, 5.88), "1024x600": (1024, 600, 4.63), "7in": (1024, 600, 6.68)}
WORDS = load()


class Finger(MotionEvent):
    """One finger."""

    def __init__(self, ident: int, x: float, y: float) -> None:
        super().__init__("test", ident, {"x": x, "y": y})
        self.is_touch = True
        self.type_id = "touch"

    def depack(self, args: dict[str, float]) -> None:
        self.sx, self.sy = args["x"], args["y"]
        self.profile = ["pos"]
        super().depack(args)


class Screen:
    """A board in the window, at one size."""

    _idents = iter(range(1, 10**9))
    now_s = Clock.time() + 1.0  # of all screens: events made before must not lie in the future

    def __init__(self, size: str = "1280x800") -> None:
        width, height, px_per_mm = SIZES[size]
        theme.use(px_per_mm, width, height)
        Touch.reset()
        Touch.speak(WORDS)
        Clock.time = lambda: Screen.now_s
        Clock._max_fps = 0
        EventLoop.ensure_window()
        if EventLoop.status != "started":
            EventLoop.start()
        self.width, self.height = width, height
        self.board = Board(size=(width, height), size_hint=(None, None))
        self.acts: list[object] = []
        self.board.bind(on_act=lambda _board, button: self.acts.append(button))
        KivyWindow.add_widget(self.board)

    def close(self) -> None:
        """Take the board away."""
        for child in list(KivyWindow.children):
            KivyWindow.remove_widget(child)
        EventLoop.touches.clear()
        Touch.reset()

    def frame(self, count: int = 1, dt_s: float = 1 / 60) -> None:
        """Some frames of the loop."""
        for _ in range(count):
            Screen.now_s += dt_s
            EventLoop.idle()

    def advance(self, seconds: float) -> None:
        """Let time pass, at sixty frames a second."""
        self.frame(max(1, round(seconds * 60)))

    def show(self, shown: object) -> None:
        """Draw this."""
        self.board.shown = shown
        self.frame(2)

    def lay(self, shown: object) -> None:
        """Lay this out and fit its words, without drawing the window."""
        self.board.shown = shown
        for _ in range(2):
            Screen.now_s += 1 / 60
            Clock.tick()
            Builder.sync()
            Clock.tick_draw()
            Builder.sync()

    # -- fingers, in pixels from the lower left

    def down(self, x: float, y: float) -> Finger:
        """Put a finger down."""
        finger = Finger(next(self._idents), x / KivyWindow.width, y / KivyWindow.height)
        EventLoop._dispatch_input("begin", finger)
        self.frame()
        return finger

    def move(self, finger: Finger, x: float, y: float) -> None:
        """Slide it."""
        finger.move({"x": x / KivyWindow.width, "y": y / KivyWindow.height})
        EventLoop._dispatch_input("update", finger)
        self.frame()

    def up(self, finger: Finger) -> None:
        """Lift it."""
        EventLoop._dispatch_input("end", finger)
        self.frame()

    def press(self, widget: object, seconds: float = 0.05) -> None:
        """Press a widget's middle for some time."""
        finger = self.down(*widget.to_window(*widget.center))  # type: ignore[attr-defined]
        self.advance(seconds)
        self.up(finger)

    # -- pixels

    def pixels(self) -> bytes:
        """The board's pixels, RGBA, rows from the bottom."""
        self.frame(2)
        KivyWindow.canvas.ask_update()
        KivyWindow.dispatch("on_draw")
        return bytes(glReadPixels(0, 0, self.width, self.height, GL_RGBA, GL_UNSIGNED_BYTE))

    def save(self, path: Path) -> None:
        """The board as a PNG file."""
        from kivy.core.image.img_sdl2 import _img_sdl2

        data = self.pixels()
        _img_sdl2.save(str(path), self.width, self.height, "rgba", data, True, "png", 100)


def walk(widget: object) -> list[object]:
    """All widgets below one that can be seen."""
    if getattr(widget, "opacity", 1) == 0:
        return []
    found = [widget]
    for child in widget.children:  # type: ignore[attr-defined]
        found.extend(walk(child))
    return found


if __name__ == "__main__":
    sys.exit("a part of the tests")
