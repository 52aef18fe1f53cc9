"""A raw client of the guard's socket, and waiting for conditions with a deadline."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path

EPOCH = "0123456789abcdef"


def eventually(true: Callable[[], bool], within_s: float = 5.0) -> bool:
    """Wait for a condition, polling it; its last value."""
    pause, until = threading.Event(), time.monotonic() + within_s
    while not true():
        if time.monotonic() > until:
            return False
        pause.wait(0.002)
    return True


class Client:
    """A raw client: bytes out, lines in."""

    def __init__(self, path: Path) -> None:
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.socket.settimeout(5.0)
        self.socket.connect(str(path))
        self.file = self.socket.makefile("rb")

    def line(self) -> bytes:
        return self.file.readline()

    def send(self, line: bytes) -> None:
        self.socket.sendall(line + b"\n")

    def close(self) -> None:
        self.file.close()
        self.socket.close()
