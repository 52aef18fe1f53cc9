"""Threads of the guard on real sockets and real files, ended after each test."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell
from kiosk.guard.server import Server, listen
from kiosk.guard.shelf import Shelf
from kiosk.guard.worker import Shared

EPOCH = "0123456789abcdef"


def eventually(true: Callable[[], bool], within_s: float = 5.0) -> bool:
    """Wait for a condition, polling it; its last value."""
    until = time.monotonic() + within_s
    while not true():
        if time.monotonic() > until:
            return False
        time.sleep(0.002)
    return True


@pytest.fixture
def shared() -> Shared:
    bell = Bell()
    return Shared(bell, time.monotonic, Failure(bell.ring))


@pytest.fixture
def shelf() -> Shelf:
    return Shelf()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "guard.sock"


@pytest.fixture
def server(path: Path, shelf: Shelf, shared: Shared) -> Iterator[Server]:
    served = Server(listen(path), EPOCH, shelf, shared)
    served.start()
    yield served
    served.stop()
    served.join(5.0)
    assert not served.is_alive()
    assert shared.failure.words is None


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


@pytest.fixture
def connect(path: Path, server: Server) -> Iterator[Callable[[], Client]]:
    made: list[Client] = []

    def make() -> Client:
        made.append(Client(path))
        return made[-1]

    yield make
    for client in made:
        client.close()
