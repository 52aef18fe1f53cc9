"""A raw client of the guard's socket, and waiting for conditions with a deadline."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from kiosk.guard.worker import Worker

EPOCH = "0123456789abcdef"
ADDRESSES = {  # of a site that nobody asks
    "gauge": "modbus-tcp://127.0.0.1:1501?unit=1",
    "io": "modbus-tcp://127.0.0.1:1502?unit=1",
}


def eventually(true: Callable[[], bool], within_s: float = 20.0) -> bool:
    """Wait for a condition, polling it; its last value."""
    pause, until = threading.Event(), time.monotonic() + within_s
    while not true():
        if time.monotonic() > until:
            return False
        pause.wait(0.002)
    return True


W = TypeVar("W", bound=Worker)


@contextmanager
def running(worker: W, within_s: float = 20.0) -> Iterator[W]:
    """A thread of the guard while it is needed; it ends when asked, and nothing has failed."""
    worker.start()
    try:
        yield worker
    finally:
        worker.stop()
        worker.join(within_s)
    assert not worker.is_alive()
    assert worker.shared.failure.words is None


@contextmanager
def deaf_stderr() -> Iterator[None]:
    """Stderr is a pipe that is full and that nobody empties: writing to it waits until the end."""
    reads, writes = os.pipe()
    os.set_blocking(writes, False)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(writes, b"x" * 4096)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(writes, b"x")
    os.set_blocking(writes, True)
    was, sys.stderr = sys.stderr, os.fdopen(writes, "w")
    try:
        yield
    finally:
        pipe, sys.stderr = sys.stderr, was
        os.close(reads)  # who waits gets EPIPE
        with contextlib.suppress(OSError):
            pipe.close()


class Client:
    """A raw client: bytes out, lines in."""

    def __init__(self, path: Path) -> None:
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.socket.settimeout(20.0)
        self.socket.connect(str(path))
        self.file = self.socket.makefile("rb")

    def line(self) -> bytes:
        return self.file.readline()

    def send(self, line: bytes) -> None:
        self.socket.sendall(line + b"\n")

    def close(self) -> None:
        self.file.close()
        self.socket.close()
