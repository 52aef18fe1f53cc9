"""The guard's public socket: AF_UNIX stream, JSON lines, one thread, never waited for.

The first client that speaks holds the right to command until it is silent for 2 s or gone;
others read.  Replies come from the loop; get_plan and get_people are answered here.
"""

from __future__ import annotations

import contextlib
import os
import selectors
import socket
import struct
import threading
from pathlib import Path

from kiosk.guard import wire
from kiosk.guard.failure import say
from kiosk.guard.listener import Budget, Listener
from kiosk.guard.mailbox import Tray
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import OWN, SignOn
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.commands import Command, Name, Reply
from kiosk.interlock.facts import ScreenFacts
from kiosk.limits import SCREEN_SILENT_S

COMMANDS_KEPT = 64
CLIENTS_KEPT = 16
_IDLE_S = 0.5
_SEND_BUFFER = 64 * 1024
_SO_PEERGROUPS = 59  # asm-generic/socket.h of Linux 4.13; the standard library has no name for it
_MOST_GROUPS = 256  # 1024 bytes, the most that getsockopt of the standard library takes


def listen(path: Path) -> socket.socket:
    """A listening socket at ``path``, for this user and group.  The data folder's lock is held."""
    with contextlib.suppress(FileNotFoundError):
        path.unlink()  # of a guard that is dead: its lock is gone
    door = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    before = os.umask(0o117)
    try:
        door.bind(str(path))
    finally:
        os.umask(before)
    door.listen(CLIENTS_KEPT)
    door.setblocking(False)
    return door


def local(connection: socket.socket, group: int) -> bool:
    """True when the peer runs as this user, as root or in ``group``: unix(7), Linux only."""
    if not hasattr(socket, "SO_PEERCRED"):
        return True  # the socket's mode decides alone
    raw = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    _, user, main_group = struct.unpack("3i", raw)
    return user in (0, os.getuid()) or group in {main_group, *_further_groups(connection)}


def _further_groups(connection: socket.socket) -> tuple[int, ...]:
    try:
        raw = connection.getsockopt(socket.SOL_SOCKET, _SO_PEERGROUPS, 4 * _MOST_GROUPS)
    except OSError:  # more than fit, or a kernel that cannot be asked
        return ()
    return struct.unpack(f"{len(raw) // 4}I", raw)


class Server(Worker):
    """Publishes snapshots, takes commands.  Every public method returns at once."""

    def __init__(
        self,
        door: socket.socket,
        epoch: str,
        shelf: Shelf,
        shared: Shared,
        people: SignOn,
    ) -> None:
        super().__init__("socket", shared)
        self._door = door
        self._group = os.stat(door.getsockname()).st_gid
        self._epoch = epoch
        self._shelf, self._people = shelf, people
        self._commands: Tray[Command] = Tray(COMMANDS_KEPT)
        self._replies: Tray[Reply] = Tray(4 * COMMANDS_KEPT)
        self._newest: bytes | None = None
        self._listeners: dict[str, Listener] = {}
        self._count = 0
        self._screen = ScreenFacts(None, None)
        self._strangers = Budget(shared.clock())
        self._lock = threading.Lock()
        self._selector = selectors.DefaultSelector()
        self._wake_in, self._wake_out = socket.socketpair()

    # What the loop calls.
    def publish(self, line: bytes, replies: tuple[Reply, ...]) -> None:
        """Show this snapshot (one line with its newline) to all, and send the replies first."""
        for answer in replies:
            self._replies.put(answer)
        self._newest = line
        self._wake()

    def commands(self) -> tuple[Command, ...]:
        """Commands that came since the last call, in order."""
        return self._commands.take_all()

    def screen(self) -> ScreenFacts:
        """Who holds the right to command, and when it last spoke."""
        with self._lock:
            return self._screen

    def stop(self) -> None:
        """Ask the thread to end."""
        super().stop()
        self._wake()

    def _wake(self) -> None:
        with contextlib.suppress(BlockingIOError):  # full: it is awake already
            self._wake_in.send(b".")

    # The thread.
    def work(self) -> None:
        """Serve until stopped."""
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)
        self._selector.register(self._door, selectors.EVENT_READ, None)
        self._selector.register(self._wake_out, selectors.EVENT_READ, None)
        while not self.stopping.is_set():
            self._round()
        for name in tuple(self._listeners):
            self._drop(name, None)
        self._selector.close()
        self._door.close()

    def _round(self) -> None:
        for key, mask in self._selector.select(_IDLE_S):
            if key.fileobj is self._door:
                self._accept()
            elif key.fileobj is self._wake_out:
                self._hand_out()
            elif mask & selectors.EVENT_READ:
                self._hear(key.data)
        now = self.shared.clock()
        for listener in tuple(self._listeners.values()):
            if listener.send(now):
                self._watch(listener)
            else:
                self._drop(listener.name, "does not read, or is gone")

    def _accept(self) -> None:
        try:
            connection, _ = self._door.accept()
        except OSError:
            return
        if len(self._listeners) >= CLIENTS_KEPT or not local(connection, self._group):
            connection.close()
            return
        connection.setblocking(False)
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER)
        self._count += 1
        listener = Listener(f"screen-{self._count}", connection, self.shared.clock())
        listener.queue(wire.hello(self._epoch, listener.name))
        if self._newest is not None:
            listener.show(self._newest)
        self._listeners[listener.name] = listener
        self._selector.register(connection, selectors.EVENT_READ, listener)

    def _hand_out(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._wake_out.recv(4096)
        for answer in self._replies.take_all():
            if answer.client in self._listeners:
                self._listeners[answer.client].queue(wire.reply(answer))
        newest = self._newest
        for listener in self._listeners.values():
            if newest is not None:
                listener.show(newest)

    def _watch(self, listener: Listener) -> None:
        mask = selectors.EVENT_READ | (selectors.EVENT_WRITE if listener.waiting else 0)
        self._selector.modify(listener.socket, mask, listener)

    def _hear(self, listener: Listener) -> None:
        heard = listener.hear()
        for line in heard.lines:
            self._message(listener, wire.read(line, listener.name))
        if heard.over:
            self._drop(listener.name, None)

    def _message(self, listener: Listener, message: wire.Message) -> None:
        if isinstance(message, wire.Damaged):
            if message.reply is not None:
                listener.queue(wire.reply(message.reply))
            return
        self._speaks(listener)
        if isinstance(message, Command):
            self._take(listener, message)
        elif message.touched:
            self._people.touched(listener.name)

    def _take(self, listener: Listener, command: Command) -> None:
        refused = wire.reply(Reply(command.id, listener.name, "not_now"))
        if not self._budget(listener).allows(self.shared.clock()):
            listener.queue(refused)
        elif command.name is Name.GET_PLAN:
            line = self._plan_line(command, listener.name)
            listener.queue(line if listener.has_room(line) else refused)
        elif command.name is Name.GET_PEOPLE:
            line = self._people_line(command, listener.name)
            listener.queue(line if listener.has_room(line) else refused)
        elif command.name in OWN:
            self._hand_on(listener, command)
        elif self._commands.put(command):
            self.shared.bell.ring()
        else:
            listener.queue(refused)

    def _hand_on(self, listener: Listener, command: Command) -> None:
        """To the thread that knows people: from here no PIN goes anywhere else."""
        code = "wrong_epoch" if command.epoch != self._epoch else None
        if code is None and listener.name != self.screen().client:
            code = "not_commanding"
        if code is None and not self._people.ask(command):
            code = "not_now"
        if code is not None:
            listener.queue(wire.reply(Reply(command.id, listener.name, code)))

    def _budget(self, listener: Listener) -> Budget:
        """Those without the right to command share one: coming again and again gains nothing."""
        return listener.budget if listener.name == self.screen().client else self._strangers

    def _plan_line(self, command: Command, client: str) -> bytes:
        text = self._shelf.get(command.plan)
        if text is None:
            return wire.reply(Reply(command.id, client, "wrong_plan"))
        return wire.plan_reply(command.id, text)

    def _people_line(self, command: Command, client: str) -> bytes:
        listed = self._people.listed()
        if listed is None:
            return wire.reply(Reply(command.id, client, "people_unreadable"))
        return wire.people_reply(command.id, listed)

    def _speaks(self, listener: Listener) -> None:
        """Note the time of a message; a client that speaks takes a right that nobody holds."""
        now = listener.seen_s = self.shared.clock()
        with self._lock:
            holder, seen = self._screen.client, self._screen.seen_s
            free = holder is None or seen is None or now - seen > SCREEN_SILENT_S
            if free or holder == listener.name:
                self._screen = ScreenFacts(listener.name, now)

    def _drop(self, name: str, why: str | None) -> None:
        listener = self._listeners.pop(name, None)
        if listener is None:
            return
        self._selector.unregister(listener.socket)
        listener.socket.close()
        with self._lock:
            if self._screen.client == name:
                self._screen = ScreenFacts(None, None)
        self.shared.bell.ring()
        if why is not None:
            say(f"{name} dropped: {why}")
