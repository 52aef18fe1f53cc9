"""A simulated Modbus TCP server on loopback that can misbehave."""

from __future__ import annotations

import asyncio
import contextlib
import socket
import struct

from hardware.plant.connections import Connections
from hardware.plant.faults import DRIBBLE_S, SLOW_S, Faults
from hardware.plant.modbus_pdu import UNIT, Device, changed_by_faults

_HEADER = struct.Struct(">HHHB")  # transaction, protocol, length, unit: MBAP
_GARBLED = bytes.fromhex("474554202f20485454502f312e310d0a0d0a")


async def _send(writer: asyncio.StreamWriter, data: bytes, standing: set[str]) -> None:
    pieces = [data[at : at + 1] for at in range(len(data))] if "dribble" in standing else [data]
    for place, piece in enumerate(pieces):
        if place:
            await asyncio.sleep(DRIBBLE_S)
        writer.write(piece)
        await writer.drain()


def _break_off(writer: asyncio.StreamWriter) -> None:
    """Close with a reset: SO_LINGER on, zero seconds (socket(7))."""
    sock: socket.socket = writer.get_extra_info("socket")
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    writer.transport.abort()


def _bound(port: int) -> socket.socket:
    """A socket that has the port and does not listen: a connection to it is refused."""
    sock = socket.socket()
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    sock.bind(("127.0.0.1", port))
    return sock


class TcpFace:
    """One device on one port.  ``follow`` opens and closes the port as the faults say."""

    def __init__(self, device: Device, faults: Faults, port: int) -> None:
        self._device = device
        self._standing = faults.line[device.face]
        self._server: asyncio.Server | None = None
        self._kept: socket.socket | None = None  # holds the port while connections are refused
        self.connections = Connections()
        self.port = port

    async def listen(self) -> None:
        """Begin to take connections; picks a free port when ``port`` is 0."""
        kept, self._kept = self._kept or _bound(self.port), None
        self._server = await asyncio.start_server(self._serve, sock=kept)
        self.port = kept.getsockname()[1]

    async def follow(self) -> None:
        """Close or open the port as the fault "closed" says."""
        if "closed" in self._standing and self._server is not None:
            self.shut()
        elif "closed" not in self._standing and self._server is None:
            await self.listen()

    def shut(self) -> None:
        """Refuse connections and drop those there are; nobody else gets the port meanwhile."""
        if self._server is not None:
            self._server.close()
            self._kept = _bound(self.port)
        self._server = None
        self.connections.drop()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with self.connections.serving(writer), contextlib.suppress(OSError, EOFError):
            while await self._exchange(reader, writer):
                pass

    async def _exchange(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        """One request; False when the connection is to end."""
        header = await reader.readexactly(_HEADER.size)
        transaction, protocol, length, unit = _HEADER.unpack(header)
        if protocol != 0 or not 2 <= length <= 254:
            return False
        request = await reader.readexactly(length - 1)
        standing = set(self._standing)
        if "silent" in standing or unit != UNIT:
            return True
        if "reset" in standing:
            _break_off(writer)
            return False
        if "slow" in standing:
            await asyncio.sleep(SLOW_S)
        await _send(writer, self._framed(request, transaction, standing), standing)
        return True

    def _framed(self, request: bytes, transaction: int, standing: set[str]) -> bytes:
        """An answer with its header.  A refused request is not carried out."""
        if "exception" in standing:
            answer = bytes((request[0] | 0x80, 4))
        else:
            answer = changed_by_faults(self._device.answer(request), standing)
        if "garbled" in standing:
            return _GARBLED
        unit = UNIT + 1 if "wrong_unit" in standing else UNIT
        transaction = 0 if "wrong_transaction" in standing else transaction
        return _HEADER.pack(transaction, 0, len(answer) + 1, unit) + answer
