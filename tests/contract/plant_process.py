"""The simulated plant as a process of its own, and its remote."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 4.0  # times what an idle computer needs


def until(condition: Callable[[], Any], limit_s: float, what: str) -> Any:
    """Ask ``condition`` again and again until it is true; fails when it does not come.

    limit_s  what an idle computer needs at most; a busy one is given PATIENCE times as long
    """
    ends_s, pause = time.monotonic() + PATIENCE * limit_s, threading.Event()
    while not (result := condition()):
        assert time.monotonic() < ends_s, f"not within {PATIENCE * limit_s} s: {what}"
        pause.wait(0.005)  # to a thread of this process that is waited for
    return result


class PlantProcess:
    """One ``holdpoint plant``; ends with the ``with`` block."""

    def __init__(self, *words: str) -> None:
        self._words = words

    def __enter__(self) -> Self:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "kiosk", "plant", "--until-closed", *self._words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError(self.process.communicate()[1])
        self.ready: dict[str, Any] = json.loads(line)
        host, _, port = self.ready["remote"].rpartition(":")
        self._socket = socket.create_connection((host, int(port)), timeout=20.0)
        self._lines = self._socket.makefile("rw")
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.close()
        self.process.kill()
        self.process.communicate(timeout=20.0)

    def do(self, verb: str, **words: object) -> dict[str, Any]:
        """One request to the remote and its reply."""
        self._lines.write(json.dumps({"do": verb, **words}) + "\n")
        self._lines.flush()
        reply: dict[str, Any] = json.loads(self._lines.readline())
        return reply

    def clear_faults(self) -> None:
        for fault in self.do("status")["faults"]:
            face, _, name = fault.rpartition(".")
            words = {"face": face} if face else {}
            assert self.do("fault", name=name, on=False, **words)["ok"]
