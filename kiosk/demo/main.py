"""The ``holdpoint demo`` command."""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from kiosk import places
from kiosk.demo import console, cycle, folder
from kiosk.demo.children import Children, DidNotStart
from kiosk.demo.machine import Machine, MachineGone
from kiosk.demo.play import Missed, Play
from kiosk.link import Link
from kiosk.window_size import window_size

STORY = "demo"
RECORD_WITHIN_S = 10.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``holdpoint demo``."""
    parser.add_argument(
        "--no-screen", action="store_true", help="play one whole cycle here and print its record"
    )
    parser.add_argument("--window", type=window_size, metavar="WxH", default=(1280, 800),
                        help="size of the panel's window in pixels (default 1280x800)")  # fmt: skip
    parser.add_argument("--data", metavar="DIR", help="keep everything there (default: temporary)")


def main(args: argparse.Namespace) -> int:
    """Start everything; 0 when it went as it should, 1 when a step was missed, 2 without screen."""
    if not hasattr(socket, "AF_UNIX"):
        print("The demo needs local sockets, which this platform has not: run it on Linux.",
              file=sys.stderr)  # fmt: skip
        return 2
    missing = None if args.no_screen else no_display(os.environ)
    if missing is not None:
        print(f"{missing}\nOr play a whole cycle in this terminal: holdpoint demo --no-screen",
              file=sys.stderr)  # fmt: skip
        return 2
    data = folder.data_folder(args.data)
    print(f"Simulated machine.  Data folder: {data}", flush=True)
    try:
        with Children() as children:
            return _run(children, data, None if args.no_screen else args.window)
    except (DidNotStart, MachineGone, Missed) as trouble:
        print(f"MISSED: {trouble}\nWhat the processes said is in {data}", file=sys.stderr)
        return 1


def no_display(environment: Mapping[str, str]) -> str | None:
    """Why no screen can be shown here, or None when it can."""
    if importlib.util.find_spec("kivy") is None:
        return 'The screen is not installed: pip install "holdpoint[screen]"'
    names = ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")
    if sys.platform.startswith("linux") and not any(environment.get(name) for name in names):
        return "There is no display here: none of DISPLAY, WAYLAND_DISPLAY, SDL_VIDEODRIVER is set."
    return None


def _run(children: Children, data: Path, window: tuple[int, int] | None) -> int:
    """``window``: of the screen, pixels; None: play without one."""
    ready = children.start_plant(STORY, data / "plant.log")
    folder.fill(data, ready)
    children.start_guard(data, data / "guard.log")
    machine = Machine(ready["remote"])
    link = Link(places.socket_file(data), alive=window is None)
    link.start()
    try:
        if window is not None:
            return _with_screen(children, data, window, console.Console(link, machine))
        return _without_screen(data, Play(link, machine))
    finally:
        link.close()
        machine.close()


def _with_screen(
    children: Children, data: Path, window: tuple[int, int], terminal: console.Console
) -> int:
    words = ("--data", str(data), "--window", "x".join(map(str, window)))
    screen = children.start("screen", "screen", *words, log=data / "screen.log")
    lost = console.run(terminal, children.gone)
    closed = lost == "screen" and screen.returncode == 0  # closing the window is a way to quit
    if lost is None or closed:
        print("The demo has ended.")
        return 0
    raise Missed(f"the {lost} process ended by itself")


def _without_screen(data: Path, play: Play) -> int:
    ident = cycle.play(play)
    print(f"\nThe record of the cycle, read back from {places.log_file(data)}:", flush=True)
    record(data, ident)
    print(f"\nEvery step happened: {play.told} steps.  The machine was simulated.")
    return 0


def record(data: Path, ident: str) -> None:
    """Print the closed cycle as ``log show`` gives it; Missed when it is not what was played."""
    words = ("log", "show", ident, "--data", str(data))
    pause, until = threading.Event(), time.monotonic() + RECORD_WITHIN_S
    while (row := _row(*words, "--json")) is None or row["closed_ms"] is None:
        if time.monotonic() > until:
            raise Missed(f"cycle {ident} closed in the log within {RECORD_WITHIN_S:.0f} s")
        pause.wait(0.1)
    print(_asked(*words).stdout, end="", flush=True)
    lowest, alarms = row["lowest_ratio"], row["alarms"]
    if lowest is None or lowest >= 1.0 or "A01" not in alarms:
        raise Missed(f"the loss in the record: lowest R {lowest}, alarms {alarms}")


def _row(*words: str) -> dict[str, Any] | None:
    """The cycle's row of the log as JSON gives it; None while there is none."""
    shown = _asked(*words)
    return dict(json.loads(shown.stdout)["cycle"]) if shown.returncode == 0 else None


def _asked(*words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "kiosk", *words]
    return subprocess.run(command, capture_output=True, text=True, check=False)
