"""The demo's processes: started with this same interpreter, ended with the demo."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import IO, Any

from kiosk.demo import folder

READY_S = 20.0
END_S = 5.0


class DidNotStart(Exception):
    """A process of the demo ended or was silent when it should have started."""


class Children:
    """Processes by name.  Use as a context: all are ended at its close."""

    def __init__(self) -> None:
        self.running: dict[str, subprocess.Popen[str]] = {}
        self._logs: list[IO[str]] = []

    def __enter__(self) -> Children:
        """Nothing runs yet."""
        return self

    def __exit__(self, *_: object) -> None:
        """End everything that still runs, last started first."""
        for name in reversed(tuple(self.running)):
            self.end(name)
        for log in self._logs:
            log.close()

    def start(self, name: str, *words: str, log: Path) -> subprocess.Popen[str]:
        """Start ``holdpoint`` with these words; its stderr goes to ``log``."""
        errors = log.open("a", encoding="utf-8")
        self._logs.append(errors)
        self.running[name] = subprocess.Popen(
            [sys.executable, "-m", "kiosk", *words],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if name == "plant" else subprocess.DEVNULL,
            stderr=errors,
            text=True,
        )
        return self.running[name]

    def start_plant(
        self, story: str, log: Path, gauge_port: str = "0", io_port: str = "0"
    ) -> dict[str, Any]:
        """Start the simulated machine; the addresses that it printed when it was ready.

        A port of 0 is any free one.
        """
        ports = ("--gauge-port", gauge_port, "--io-port", io_port, "--remote-port", "0")
        process = self.start("plant", "plant", "--story", story, *ports, log=log)
        line = _first_line(process)
        try:
            ready = json.loads(line)
        except ValueError:
            raise DidNotStart(f"the simulated machine did not start, see {log}") from None
        return dict(ready)

    def start_guard(self, data: Path, log: Path) -> None:
        """Start the guard on the folder's demo site."""
        site = str(data / folder.SITE_NAME)
        self.start("guard", "guard", "--site", site, "--data", str(data), log=log)

    def end(self, name: str) -> None:
        """Ask one process to end, then make it."""
        process = self.running.pop(name)
        process.terminate()
        try:
            process.wait(END_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        if process.stdout is not None:
            process.stdout.close()

    def gone(self) -> str | None:
        """The name of a process that has ended by itself, or None."""
        ended = (name for name, process in self.running.items() if process.poll() is not None)
        return next(ended, None)


def _first_line(process: subprocess.Popen[str]) -> str:
    """The first line of a process's output; empty when it ended or said nothing in time."""
    assert process.stdout is not None
    timer = threading.Timer(READY_S, process.kill)
    timer.start()
    try:
        return process.stdout.readline()
    finally:
        timer.cancel()
