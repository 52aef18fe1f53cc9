"""The simulated machine's remote: one request a line over loopback TCP, one reply each."""

from __future__ import annotations

import json
import socket
from typing import Any

REPLY_S = 5.0


class MachineGone(Exception):
    """The simulated machine does not answer."""


class Machine:
    """A connection to the plant's remote at ``host:port``.  Raises MachineGone."""

    def __init__(self, remote: str) -> None:
        host, _, port = remote.rpartition(":")
        try:
            self._socket = socket.create_connection((host, int(port)), timeout=REPLY_S)
        except OSError as trouble:
            raise MachineGone(f"no simulated machine at {remote}: {trouble}") from None
        self._lines = self._socket.makefile("rb")

    def do(self, verb: str, **arguments: object) -> dict[str, Any]:
        """Ask for one thing; the reply's object, whose ``ok`` says whether it was done."""
        line = json.dumps({"do": verb, **arguments}).encode() + b"\n"
        try:
            self._socket.sendall(line)
            reply = json.loads(self._lines.readline())
        except (OSError, ValueError):
            raise MachineGone(f"the simulated machine did not answer {verb}") from None
        if not isinstance(reply, dict):
            raise MachineGone(f"the simulated machine did not understand {verb}")
        return reply

    def close(self) -> None:
        """End the connection; the machine goes on."""
        self._lines.close()
        self._socket.close()
