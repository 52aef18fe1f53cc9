"""The screen as a real process, and what it does without a display."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from screen_plan import plan
from screen_scenes import snapshot
from screen_server import Server, await_true

from kiosk import places
from kiosk.screen import display
from kiosk.screen.watchdog import EXIT_FROZEN, Watchdog

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize(
    ("environment", "platform", "named"),
    [
        ({"DISPLAY": ":0"}, "linux", "x11"),
        ({"SDL_VIDEODRIVER": "offscreen"}, "linux", "offscreen"),
        ({"SDL_VIDEODRIVER": "kmsdrm", "DISPLAY": ":0"}, "linux", "kmsdrm"),
        ({}, "linux", None),
        ({}, "win32", ""),
    ],
)
def test_the_display_driver_is_always_named(
    environment: dict[str, str], platform: str, named: str | None, tmp_path: Path
) -> None:
    assert display.driver(environment, platform, tmp_path) == named


def test_a_graphics_card_without_x_is_drawn_on_directly(tmp_path: Path) -> None:
    (tmp_path / "card0").touch()
    assert display.driver({}, "linux", tmp_path) == "kmsdrm"


def bare() -> dict[str, str]:
    gone = ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")
    return {key: value for key, value in os.environ.items()
            if key not in gone and not key.startswith("KIVY")}  # fmt: skip


def test_a_display_that_gives_no_window_is_named(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "kiosk", "screen", "--data", str(tmp_path)],
        cwd=ROOT, env={**bare(), "DISPLAY": ":987"}, capture_output=True, text=True, timeout=30,
        check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert "x11 gave no window" in run.stderr.splitlines()[-1]


def test_without_a_display_it_refuses_with_words(tmp_path: Path) -> None:
    # a folder in place of /dev/dri, so that this holds on a computer with a display too
    code = (
        "import os, sys, pathlib\n"
        "from kiosk.screen import display, main\n"
        "named = display.driver(os.environ, cards=pathlib.Path(sys.argv[1]))\n"
        "sys.exit(main.refuse() if named is None else 0)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)],
        cwd=ROOT, env=bare(), capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert run.stderr.startswith("screen: there is no display here")


def test_the_process_connects_beats_and_fetches_the_plan() -> None:
    with tempfile.TemporaryDirectory(prefix="hp-") as folder:
        data = Path(folder)
        server = Server(places.socket_file(data), snapshot("CHECKING"), plan())
        process = subprocess.Popen(
            [sys.executable, "-m", "kiosk", "screen", "--data", folder],
            cwd=ROOT, env={**bare(), "SDL_VIDEODRIVER": "offscreen"},
            stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            await_true(server.commands, "no command came", 30.0)
            assert server.commands()[0]["command"] == "get_plan"
            await_true(lambda: sum(b'"alive"' in line for line in server.lines) >= 2, "no beat")
            assert process.poll() is None
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(10)
            server.close()
        assert process.stderr is not None
        assert "Traceback" not in process.stderr.read()


def test_a_frozen_screen_ends_itself() -> None:
    code = (
        "from kiosk.screen.watchdog import Watchdog\n"
        "import threading\n"
        "dog = Watchdog(0.2)\n"
        "dog.start()\n"
        "dog.beat()\n"
        "threading.Event().wait(20)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, timeout=25, check=False)
    assert run.returncode == EXIT_FROZEN


def test_the_watchdog_waits_for_the_first_drawing() -> None:
    dog = Watchdog(0.2)
    assert not dog.frozen(1e9)
    dog.beat()
    assert dog.frozen(1e9)
