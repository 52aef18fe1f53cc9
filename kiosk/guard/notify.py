"""What the guard tells its supervisor: that it is there, and that it still steps.

The messages of sd_notify(3): datagrams to the socket that NOTIFY_SOCKET names.  They are sent from
a completed step and from nowhere else, so that a guard whose loop hangs is ended and started again.
Without that variable nothing is sent.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import MutableMapping

_BEATS = 4  # in the time after which the supervisor ends a silent guard
_LEAST_S = 0.05


class Notifier:
    """Sends to ``address``; ``within_s`` is the supervisor's patience, None: it asks no sign."""

    def __init__(self, address: str | None, within_s: float | None) -> None:
        self._address = address
        self._every_s = None if within_s is None else max(_LEAST_S, within_s / _BEATS)
        self._sent_s: float | None = None  # of the last sign of life; None: not ready yet
        self._socket = None if address is None else _datagrams()

    def stepped(self, now_s: float) -> None:
        """A step was completed at ``now_s``.  Returns at once, whatever becomes of the message."""
        if self._sent_s is None:
            # Kept until it went out: without it a supervisor ends a guard that works.
            if self._send(b"READY=1\nWATCHDOG=1"):
                self._sent_s = now_s
        elif self._every_s is not None and now_s - self._sent_s >= self._every_s:
            self._send(b"WATCHDOG=1")
            self._sent_s = now_s

    def ending(self) -> None:
        """The guard was told to end, or has to."""
        self._send(b"STOPPING=1")

    def _send(self, message: bytes) -> bool:
        """Whether it went out.  A full or vanished socket is no reason to stop."""
        if self._socket is None or self._address is None:
            return True  # nobody asked
        with contextlib.suppress(OSError):
            self._socket.sendto(message, self._address)
            return True
        return False


def _datagrams() -> socket.socket:
    made = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    made.setblocking(False)
    return made


def from_environment(environment: MutableMapping[str, str]) -> Notifier:
    """As the supervisor asks.  Its variables are taken out: no child may speak for the guard."""
    address = environment.pop("NOTIFY_SOCKET", "")
    patience_us = environment.pop("WATCHDOG_USEC", "")
    for_pid = environment.pop("WATCHDOG_PID", "")
    ours = for_pid in ("", str(os.getpid()))
    within_s = int(patience_us) / 1e6 if ours and patience_us.isdecimal() else None
    if address.startswith("@"):
        address = "\0" + address[1:]  # the abstract name space, unix(7)
    return Notifier(address or None, within_s or None)
