"""A pseudo-terminal whose far end sends bytes typed in a test."""

from __future__ import annotations

import os
import select
import threading
import time
import tty
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Self

Reply = bytes | None | Callable[["PtyServer"], None]


class PtyServer:
    """Plays a script, one reply for each request of ``size`` bytes; the last one is repeated.

    A reply is bytes, None for silence, or a function that is given the server.
    """

    def __init__(self, script: Iterable[Reply], size: int = 8) -> None:
        self.script = list(script)
        self.requests: list[bytes] = []
        self.asked_s: list[float] = []  # when each request was whole
        self._size = size
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.path = os.ttyname(self._slave)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._hung_up = False
        self._lock = threading.Lock()
        self._sending: threading.Thread | None = None

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ending.set()
        self._thread.join(2.0)
        self.hang_up()

    def put(self, data: bytes) -> None:
        """Send bytes of its own accord."""
        with self._lock:  # the number of a closed end may be another's by now
            if not self._hung_up:
                os.write(self._master, data)

    def put_unasked(self, data: bytes) -> None:
        """Send bytes while nobody reads; they lie at the other end when this returns."""
        self.put(data)
        arrived, _, _ = select.select([self._slave], [], [], 20.0)
        assert arrived, "the bytes went nowhere"

    def put_in_turn(self, first: bytes, *later: bytes) -> None:
        """Send the first piece now, each other 30 ms after the one before."""
        self.put(first)
        self._sending = threading.Thread(target=self._put_later, args=[later], daemon=True)
        self._sending.start()

    def sent_all(self) -> None:
        """Wait until every piece is sent."""
        if self._sending is not None:
            self._sending.join(10.0)

    def _put_later(self, pieces: tuple[bytes, ...]) -> None:
        for piece in pieces:
            time.sleep(0.03)
            self.put(piece)

    def busy(self, seconds: float) -> None:
        """Do nothing for so long, as a slow device does; requests that come wait."""
        self._ending.wait(seconds)

    def hang_up(self) -> None:
        """Unplug."""
        with self._lock:
            if not self._hung_up:
                os.close(self._master)
                os.close(self._slave)
            self._hung_up = True

    def _serve(self) -> None:
        buffer = b""
        while not self._ending.is_set() and not self._hung_up:
            try:
                ready, _, _ = select.select([self._master], [], [], 0.02)
                buffer += os.read(self._master, 4096) if ready else b""
            except OSError:  # hung up by the test
                return
            while len(buffer) >= self._size:
                self.requests.append(buffer[: self._size])
                self.asked_s.append(time.monotonic())
                buffer = buffer[self._size :]
                self._reply()

    def _reply(self) -> None:
        reply = self.script.pop(0) if len(self.script) > 1 else self.script[0]
        if callable(reply):
            reply(self)
        elif reply is not None:
            self.put(reply)


class Babble:
    """A byte every 50 ms, ``count`` times, as a reply of a server."""

    def __init__(self, count: int) -> None:
        self.put_s: list[float] = []  # when each byte was to go out
        self._count = count
        self._ended_s = 0.0

    def __call__(self, server: PtyServer) -> None:
        for _ in range(self._count):
            self.put_s.append(time.monotonic())
            server.put(b"\x55")
            server.busy(0.05)
        self._ended_s = time.monotonic()

    def paused(self) -> bool:
        """True where the computer stood still so long that the line may have been quiet between."""
        return any(b - a > 0.25 for a, b in pairwise([*self.put_s, self._ended_s]))
