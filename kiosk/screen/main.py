"""``holdpoint screen``: the touch screen of one machine."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile

from kiosk import places
from kiosk.loading import ctrl_c_later
from kiosk.screen import display
from kiosk.screen.watchdog import Watchdog
from kiosk.window_size import window_size

WIDTH_MM = 218.0  # of a 10.1 inch panel, 16:10; the scale when none is given
NO_DISPLAY = (
    "screen: there is no display here (no DISPLAY, no /dev/dri/card*). "
    "Start it on the machine's panel, or name a driver: SDL_VIDEODRIVER=x11 or kmsdrm."
)
NO_WINDOW = (
    "screen: the display driver {driver} gave no window. "
    "Is the display on, and may this user use it?"
)
NO_KIVY = "screen: the drawing library is missing. Install it: pip install 'holdpoint[screen]'"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the command line."""
    parser.add_argument("--data", metavar="DIR", help="data folder of the machine")
    parser.add_argument("--site", metavar="FILE", help="not needed by the screen; accepted")
    parser.add_argument(
        "--mm-px", type=_scale, metavar="N", help="pixels per millimetre of the panel"
    )
    parser.add_argument(
        "--window",
        type=window_size,
        metavar="WxH",
        default=(1280, 800),
        help="size of the window in pixels (default 1280x800)",
    )
    parser.add_argument("--full", action="store_true", help="fill the panel, without a border")


def _scale(text: str) -> float:
    value = float(text)
    if not 1.0 <= value <= 40.0:
        raise ValueError(text)
    return value


def main(args: argparse.Namespace) -> int:
    """Run the screen until it is closed; 2 when there is no display to draw on."""
    driver = display.driver(os.environ)
    if driver is None:
        return refuse()
    if driver in display.UNSEEN:
        print(f"screen: drawing unseen, as SDL_VIDEODRIVER={driver} asks", file=sys.stderr)
    os.environ.update(display.settings(driver))
    os.environ.setdefault("KIVY_HOME", tempfile.mkdtemp(prefix="holdpoint-screen-"))
    try:
        return _run(args, driver)
    except ModuleNotFoundError as missing:
        if missing.name != "kivy":
            raise
        print(NO_KIVY, file=sys.stderr)
        return 2


def refuse() -> int:
    """Say that there is no display; the exit status of that."""
    print(NO_DISPLAY, file=sys.stderr)
    return 2


def _run(args: argparse.Namespace, driver: str) -> int:
    _configure(args)
    try:
        with ctrl_c_later():
            from kivy.core.window import Window
    except SystemExit:  # the library's own way to say that there is no window
        Window = None
    if Window is None:
        print(NO_WINDOW.format(driver=driver), file=sys.stderr)
        return 2
    with ctrl_c_later():
        from kiosk.screen.app import ScreenApp

    watchdog = Watchdog()
    watchdog.start()
    scale = args.mm_px or Window.width / WIDTH_MM
    data = places.data_dir(args.data)
    path, log = places.socket_file(data), places.log_file(data)
    ScreenApp(path, scale, beat=watchdog.beat, log=log).run()
    return 0


def _configure(args: argparse.Namespace) -> None:
    """Before the window is made.  One pointer only: two inputs would make two touches of one."""
    import logging

    from kivy.config import Config

    # A touch input that is not used is looked for all the same, with a traceback when missing.
    logging.getLogger("kivy").addFilter(lambda record: "MTDev" not in record.getMessage())
    width, height = args.window
    rows = (
        ("graphics", "width", width), ("graphics", "height", height),
        ("graphics", "multisamples", 0), ("graphics", "maxfps", 30),
        ("graphics", "resizable", 0), ("graphics", "allow_screensaver", 0),
        ("graphics", "fullscreen", "auto" if args.full else 0),
        ("graphics", "borderless", int(args.full)), ("graphics", "show_cursor", int(not args.full)),
        ("kivy", "exit_on_escape", 0),
    )  # fmt: skip
    for section, key, value in rows:
        Config.set(section, key, str(value))
    for option in list(Config.options("input")):
        Config.remove_option("input", option)
    Config.set("input", "mouse", "mouse,disable_multitouch")
