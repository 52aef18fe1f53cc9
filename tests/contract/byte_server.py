"""A server that sends bytes typed in a test.  It knows nothing of any protocol.

Each request that arrives is recorded, and the next reply of the script is sent.  A reply is bytes,
or a function of the request that gives bytes, or one of the words below.
"""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Callable, Iterable
from typing import Self

SILENT, CLOSE, RESET, DRIP_FOR_EVER = "silent", "close", "reset", "drip for ever"
Reply = bytes | str | Callable[[bytes], bytes]


def hexed(text: str) -> bytes:
    """Bytes typed as in the specification: ``04 02 00 0A``."""
    return bytes.fromhex(text)


def mbap(typed: str, unit: int = 1) -> Callable[[bytes], bytes]:
    """Bytes from the function code on, behind a header with the request's transaction number.

    Header after "Modbus messaging on TCP/IP implementation guide V1.0b", 3.1.3: transaction,
    protocol 0, length of unit and what follows, unit.
    """
    pdu = hexed(typed)
    return lambda request: (
        request[:2] + b"\x00\x00" + (len(pdu) + 1).to_bytes(2, "big") + bytes((unit,)) + pdu
    )


class ByteServer:
    """Plays a script of replies, one for each request; the last one is repeated."""

    def __init__(self, script: Iterable[Reply]) -> None:
        self.script = list(script)
        self.requests: list[bytes] = []
        self.connections = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._open: list[socket.socket] = []

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ending.set()
        self._listener.close()
        for sock in self._open:
            sock.close()
        # Wake a blocked accept: closing the listener does not on every platform.
        with socket.socket() as knock:
            knock.connect_ex(("127.0.0.1", self.port))
        self._thread.join(2.0)

    @property
    def address(self) -> str:
        return f"modbus-tcp://127.0.0.1:{self.port}?unit=1"

    def _serve(self) -> None:
        while not self._ending.is_set():
            try:
                sock, _ = self._listener.accept()
            except OSError:
                return
            self.connections += 1
            self._open.append(sock)
            try:
                while (request := sock.recv(4096)) and self._reply(sock, request):
                    pass
            except OSError:
                pass
            sock.close()

    def _reply(self, sock: socket.socket, request: bytes) -> bool:
        self.requests.append(request)
        reply = self.script.pop(0) if len(self.script) > 1 else self.script[0]
        if reply == RESET:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        if reply in (CLOSE, RESET):
            return False
        if reply == DRIP_FOR_EVER:
            return self._drip(sock, request)
        if not isinstance(reply, str):
            sock.sendall(reply if isinstance(reply, bytes) else reply(request))
        return True

    def _drip(self, sock: socket.socket, request: bytes) -> bool:
        """The head of a frame that promises 255 bytes, then one byte every 20 ms."""
        sock.sendall(request[:2] + hexed("00 00 00 FF 01 04 FC"))
        while not self._ending.wait(0.02):
            sock.sendall(b"\x00")
        return False
