"""Which display driver draws, named before the drawing library is loaded.

SDL falls back to drawing unseen, without an error, when it finds no display: the program would
run and nobody would see it.  So the driver is always named, and without a display the program
refuses.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

UNSEEN = ("offscreen", "dummy")


def driver(
    environment: Mapping[str, str], platform: str = sys.platform, cards: Path = Path("/dev/dri")
) -> str | None:
    """The value for SDL_VIDEODRIVER, or None when there is no display.

    A driver that the environment names is taken as it is.  Elsewhere than on Linux the
    platform's own is used: "" means leave it to SDL.
    """
    named = environment.get("SDL_VIDEODRIVER")
    if named:
        return named
    if not platform.startswith("linux"):
        return ""
    if environment.get("DISPLAY"):
        return "x11"
    return "kmsdrm" if any(cards.glob("card*")) else None


def settings(name: str) -> dict[str, str]:
    """What else the drawing library must be told, as environment variables."""
    rows = {
        "KIVY_NO_ARGS": "1",  # else it reads our command line
        "KIVY_NO_CONFIG": "1",
        "KIVY_NO_FILELOG": "1",
        "KIVY_LOG_MODE": "PYTHON",  # else it takes stderr, and tracebacks can vanish
        "KIVY_DPI": "96",
        "KIVY_METRICS_DENSITY": "1",
        "KIVY_METRICS_FONTSCALE": "1",
        "KIVY_WINDOW": "sdl2",
    }
    return {**rows, "SDL_VIDEODRIVER": name} if name else rows
