"""A small real server on a Unix socket: speaks the wire of the guard, remembers every line."""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan

DEADLINE_S = 60.0


def await_true(true: Callable[[], object], what: str, deadline_s: float = DEADLINE_S) -> None:
    """Wait for a condition; fails with ``what`` when it never comes."""
    end = time.monotonic() + deadline_s
    gate = threading.Event()
    while not true():
        assert time.monotonic() < end, what
        gate.wait(0.01)


class Server:
    """Publishes one snapshot twenty times a second to whoever is connected."""

    def __init__(self, path: Path, snapshot: Snapshot, plan: Plan | None = None) -> None:
        self.path, self.plan = path, plan
        self.lines: list[bytes] = []
        self.refuse: str | None = None
        self.people: tuple[dict[str, object], ...] | None = ()  # None: refused as ``refuse`` says
        self.silent = False
        self.hold_replies = False
        self.client = "me"  # what it calls whoever connects
        self._snapshot, self._seq = snapshot, 0
        self._stop = threading.Event()
        self._lock = threading.Lock()
        self._listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listener.bind(str(path))
        self._listener.listen(4)
        self._listener.settimeout(0.05)
        self._threads = [threading.Thread(target=self._accept, daemon=True)]
        self._threads[0].start()

    def publish(self, snapshot: Snapshot) -> None:
        """From now on this."""
        with self._lock:
            self._snapshot = snapshot

    def commands(self) -> list[dict[str, object]]:
        """Every command that came, decoded."""
        rows = [json.loads(line) for line in list(self.lines)]
        return [row for row in rows if "command" in row]

    def close(self) -> None:
        """Take the socket away."""
        self._stop.set()
        for thread in self._threads:
            thread.join(2.0)
        self._listener.close()
        self.path.unlink(missing_ok=True)

    def _accept(self) -> None:
        while not self._stop.is_set():
            try:
                connection, _ = self._listener.accept()
            except TimeoutError:
                continue
            thread = threading.Thread(target=self._serve, args=(connection,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, connection: socket.socket) -> None:
        connection.settimeout(0.05)
        held = b""
        with connection, contextlib.suppress(OSError):
            hello = {"hello": {"format": 1, "epoch": self._snapshot.epoch, "client": self.client}}
            connection.sendall(json.dumps(hello).encode() + b"\n")
            while not self._stop.is_set():
                if not self.silent:
                    connection.sendall(self._line())
                held = self._read(connection, held)

    def _line(self) -> bytes:
        with self._lock:
            self._seq += 1
            return replace(self._snapshot, seq=self._seq).to_json().encode() + b"\n"

    def _read(self, connection: socket.socket, held: bytes) -> bytes:
        try:
            part = connection.recv(65536)
        except TimeoutError:
            return held
        if not part:
            raise OSError("gone")
        *lines, held = (held + part).split(b"\n")
        for line in lines:
            self.lines.append(line)
            self._answer(connection, json.loads(line))
        return held

    def _answer(self, connection: socket.socket, row: dict[str, object]) -> None:
        if "command" not in row or self.hold_replies:
            return
        reply: dict[str, object] = {"reply": row["id"], "done": True}
        if row["command"] == "get_plan":
            reply["plan"] = None if self.plan is None else json.loads(self.plan.to_json())
        elif row["command"] == "get_people" and self.people is not None:
            reply["people"] = list(self.people)
        elif self.refuse is not None:
            reply = {"reply": row["id"], "refused": self.refuse}
        connection.sendall(json.dumps(reply).encode() + b"\n")
