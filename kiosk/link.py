"""The client's end of the guard's socket: one daemon thread, newest snapshot only, no Kivy.

JSON lines both ways.  The thread connects again by itself, sends the heartbeat that keeps the
right to command, and never queues snapshots: what is old is thrown away unread.  Received times
are of this process's own monotonic clock, so a silent guard is seen whatever it says.
"""

from __future__ import annotations

import contextlib
import json
import socket
import threading
import time
import uuid
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kiosk.interlock import snapshot as snapshots
from kiosk.interlock.snapshot import Snapshot
from kiosk.typed import parsed

HEARTBEAT_S = 0.5
RETRY_S = 0.1
SILENT_S = 1.0  # a guard that says nothing for so long counts as gone
LINE_CAP = 5 * 1024 * 1024  # a get_plan reply is up to 4 MiB
REPLIES_KEPT = 64


@dataclass(frozen=True, slots=True)
class View:
    """What is known of the guard now.  ``received_s``: when the snapshot came, this clock.

    ``client``: what the guard calls this connection.
    """

    connected: bool = False
    epoch: str | None = None
    snapshot: Snapshot | None = None
    received_s: float | None = None
    restarts: int = 0  # how often the epoch changed since this link began
    client: str | None = None

    @property
    def reads_only(self) -> bool:
        """True while another client holds the right to command."""
        if self.snapshot is None or self.client is None:
            return False
        return self.snapshot.commanding not in (None, self.client)

    def silent(self, now_s: float) -> bool:
        """True when no snapshot came within the last second."""
        return self.received_s is None or now_s - self.received_s > SILENT_S


@dataclass(frozen=True, slots=True)
class Answer:
    """The reply to one command.  ``plan``, ``people``: what get_plan or get_people asked for."""

    id: str
    refused: str | None
    plan: dict[str, Any] | None = None
    people: tuple[dict[str, Any], ...] | None = None

    @property
    def done(self) -> bool:
        """True when the command was carried out."""
        return self.refused is None


class Link:
    """A connection to the guard.  ``alive`` False: a listener that never asks for command.

    ``alive`` may be a question instead, asked in the link's thread before each heartbeat: while
    the answer is no, none is sent, and the guard gives the right to command up.  ``touched`` is
    asked there too: whether somebody used the screen since the last heartbeat.  ``changed`` is
    called in the link's thread after every change; it must return at once.
    """

    def __init__(
        self,
        path: Path,
        *,
        alive: bool | Callable[[], bool] = True,
        touched: Callable[[], bool] = lambda: False,
        changed: Callable[[], None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._path = path
        self._alive: Callable[[], bool] = alive if callable(alive) else lambda: bool(alive)
        self._touched = touched
        self._changed = changed
        self._clock = clock
        self._view = View()
        self._answers: OrderedDict[str, Answer] = OrderedDict()
        self._news = threading.Condition()
        self._sending = threading.Lock()
        self._socket: socket.socket | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)

    def start(self) -> None:
        """Begin to connect, in the background."""
        self._thread.start()

    def close(self) -> None:
        """End the connection and the thread."""
        self._stopping.set()
        self._thread.join(timeout=2.0)

    def view(self) -> View:
        """The newest view; safe from any thread."""
        return self._view

    def ask(self, name: str, /, *, plan: str | None = None, **arguments: object) -> str | None:
        """Send a command against the newest snapshot; its id, or None when it could not be sent.

        ``plan`` is a digest; without it the digest of the newest snapshot is sent.
        """
        view = self._view
        shown = None if view.snapshot is None else view.snapshot.plan
        ident = uuid.uuid4().hex[:12]
        row = {"command": name, "id": ident, "epoch": view.epoch, "plan": plan or shown}
        return ident if self._send({**arguments, **row}) else None

    def answer(self, ident: str | None) -> Answer | None:
        """The reply to that command, or None while there is none."""
        with self._news:
            return None if ident is None else self._answers.get(ident)

    def wait(self, true: Callable[[View], bool], timeout_s: float) -> bool:
        """Wait until ``true(view)``, judged at every change; False when it never was in time."""
        with self._news:
            return self._news.wait_for(lambda: true(self._view), timeout_s)

    def call(self, name: str, /, timeout_s: float = 5.0, **arguments: Any) -> Answer | None:
        """``ask`` and wait for the reply; None when none came in time."""
        ident = self.ask(name, **arguments)
        if ident is None:
            return None
        self.wait(lambda view: ident in self._answers, timeout_s)
        return self.answer(ident)

    def _send(self, row: dict[str, object]) -> bool:
        line = json.dumps(row, separators=(",", ":")).encode() + b"\n"
        with self._sending:
            if self._socket is None:
                return False
            try:
                self._socket.sendall(line)
            except OSError:  # perhaps half a line went out: this connection is of no more use
                with contextlib.suppress(OSError):
                    self._socket.shutdown(socket.SHUT_RDWR)
                return False
        return True

    def _run(self) -> None:
        while not self._stopping.is_set():
            connection = self._connect()
            if connection is not None:
                with connection:
                    self._serve(connection)
                self._lost()
            self._stopping.wait(RETRY_S)

    def _connect(self) -> socket.socket | None:
        connection = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        connection.settimeout(RETRY_S)
        try:
            connection.connect(str(self._path))
        except OSError:
            connection.close()
            return None
        self._socket = connection
        return connection

    def _lost(self) -> None:
        """Names of clients are a connection's own: the next one begins without any."""
        with self._sending:
            self._socket = None
        last = self._view.snapshot
        last = None if last is None else replace(last, commanding=None)
        self._tell(replace(self._view, connected=False, client=None, snapshot=last))

    def _serve(self, connection: socket.socket) -> None:
        """Read until the guard is gone, with a heartbeat between."""
        held = bytearray()
        count, due = 0, self._clock()
        while not self._stopping.is_set() and len(held) <= LINE_CAP:
            if self._clock() >= due and self._alive():
                count, due = count + 1, self._clock() + HEARTBEAT_S
                if not self._send({"alive": count, "touched": self._touched()}):
                    return
            try:
                part = connection.recv(1 << 18)
            except TimeoutError:
                continue
            except OSError:
                return
            if not part:
                return
            held += part
            self._lines(held)

    def _lines(self, held: bytearray) -> None:
        """Take whole lines out of ``held``; of several snapshots only the last is read."""
        end = held.rfind(b"\n") + 1
        if not end:
            return
        lines = bytes(held[:end]).splitlines()
        del held[:end]
        newest = None
        for line in lines:
            if line.startswith(b'{"snapshot"'):
                newest = line
            else:
                self._other(line)
        if newest is not None:
            self._snapshot(newest)

    def _snapshot(self, line: bytes) -> None:
        try:
            snapshot = snapshots.from_json(line)
        except ValueError:
            return  # not a snapshot we know: the view grows old and says so
        old = self._view
        restarted = old.epoch is not None and old.epoch != snapshot.epoch
        restarts = old.restarts + int(restarted)
        self._tell(View(True, snapshot.epoch, snapshot, self._clock(), restarts, old.client))

    def _other(self, line: bytes) -> None:
        try:
            row = parsed(line)
        except ValueError:
            return
        if not isinstance(row, dict):
            return
        hello = row.get("hello")
        if isinstance(hello, dict) and isinstance(hello.get("client"), str):
            self._tell(replace(self._view, client=hello["client"]))
        if isinstance(row.get("reply"), str):
            self._reply(row)

    def _reply(self, row: dict[str, Any]) -> None:
        refused = None if row.get("done") is True else str(row.get("refused"))
        plan, people = row.get("plan"), row.get("people")
        answer = Answer(
            row["reply"],
            refused,
            plan if isinstance(plan, dict) else None,
            tuple(filter(_is_object, people)) if isinstance(people, list) else None,
        )
        with self._news:
            self._answers[answer.id] = answer
            while len(self._answers) > REPLIES_KEPT:
                self._answers.popitem(last=False)
        self._tell(self._view)

    def _tell(self, view: View) -> None:
        with self._news:
            self._view = view
            self._news.notify_all()
        if self._changed is not None:
            self._changed()


def _is_object(row: object) -> bool:
    return isinstance(row, dict)
