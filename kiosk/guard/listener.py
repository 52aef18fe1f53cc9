"""One connected screen: its bytes in and out, and whether it keeps up.  Non-blocking socket.

Snapshots are never queued: one that could not be sent yet is replaced by the newer one.
"""

from __future__ import annotations

import socket
from dataclasses import dataclass

from kiosk.guard.wire import LINE_CAP

STALL_S = 5.0  # without one byte taken: the listener is dropped
OUT_CAP = 8 * 1024 * 1024  # replies waiting; more is not a screen
_PART = 64 * 1024
_HEARD_AT_ONCE = 8 * 1024  # so that one that talks without end leaves time for the others
COMMANDS_AT_ONCE = 64
COMMANDS_PER_S = 20.0  # more is no person's finger; each is one row of the log


@dataclass(frozen=True, slots=True)
class Heard:
    """What one reading gave: whole lines, and whether the connection is over."""

    lines: tuple[bytes, ...]
    over: bool


class Budget:
    """How many commands may still come: some at once, then as many as a person could send."""

    def __init__(self, now_s: float) -> None:
        self._left, self._counted_s = float(COMMANDS_AT_ONCE), now_s

    def allows(self, now_s: float) -> bool:
        """Count one more command; False when it is one too many."""
        gained = (now_s - self._counted_s) * COMMANDS_PER_S
        self._left = min(self._left + gained, float(COMMANDS_AT_ONCE))
        self._counted_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


class Listener:
    """A connection named ``name``.  ``seen_s`` is the time of its last message, None before."""

    def __init__(self, name: str, connection: socket.socket, now_s: float) -> None:
        self.name = name
        self.socket = connection
        self.seen_s: float | None = None
        self._in = bytearray()
        self._out = bytearray()
        self._snapshot: bytes | None = None
        self.budget = Budget(now_s)
        self._moved_s = now_s  # when bytes were last taken, or there was nothing to take

    def hear(self) -> Heard:
        """Read what is there.  A line longer than the cap ends the connection."""
        try:
            part = self.socket.recv(_HEARD_AT_ONCE)
        except (BlockingIOError, InterruptedError):
            return Heard((), False)
        except OSError:
            return Heard((), True)
        self._in += part
        end = self._in.rfind(b"\n") + 1
        lines = tuple(filter(None, bytes(self._in[:end]).split(b"\n")))
        del self._in[:end]
        too_long = len(self._in) > LINE_CAP or any(len(line) > LINE_CAP for line in lines)
        return Heard(() if too_long else lines, too_long or not part)

    def has_room(self, line: bytes) -> bool:
        """False when what waits and this line are more than a screen ever lets wait."""
        return len(self._out) + len(line) <= OUT_CAP

    def show(self, line: bytes) -> None:
        """Have this snapshot sent instead of any that waits."""
        self._snapshot = line

    def queue(self, line: bytes) -> None:
        """Have a reply sent; replies keep their order."""
        self._out += line

    @property
    def waiting(self) -> bool:
        """True while bytes wait for the socket."""
        return bool(self._out) or self._snapshot is not None

    def send(self, now_s: float) -> bool:
        """Send as much as the socket takes; False when the connection is over or stalled."""
        if not self.waiting:
            self._moved_s = now_s
            return True
        try:
            self._push(now_s)
        except (BlockingIOError, InterruptedError):
            pass
        except OSError:
            return False
        return now_s - self._moved_s <= STALL_S and len(self._out) <= OUT_CAP

    def _push(self, now_s: float) -> None:
        while self.waiting:
            if not self._out and self._snapshot is not None:
                self._out += self._snapshot
                self._snapshot = None
            taken = self.socket.send(memoryview(bytes(self._out[:_PART])))
            del self._out[:taken]
            self._moved_s = now_s
