"""A gauge and a machine interface on real sockets or pseudo-terminals, to time the reaction.

The vacuum falls on a straight line, so the instant at which it crosses the minimum is known, and
every answer is kept with its time.  A pseudo-terminal carries bytes at once; the line here holds
each request and each reply back for as long as a wire of its baud rate takes.

Frames: MODBUS Application Protocol V1.1b3, MODBUS Messaging on TCP/IP V1.0b, MODBUS over Serial
Line V1.02 (11 bits a byte, 3.5 bytes between frames, 1.75 ms of them above 19200 baud).
"""

from __future__ import annotations

import os
import socket
import struct
import threading
import time
import tty
from collections.abc import Callable

FALL_KPA_PER_S = 5.0  # well under the 10 kPa/s of the fast fall
# On a serial line: the gauge's float32; function 15 with four coils, and its answer.
GAUGE_BYTES, WRITE_BYTES, WRITTEN_BYTES = 9, 10, 8
LOST_S = 0.05  # after such a silence a frame begins
LOSS_S, LOSS_SAMPLES = 0.150, 3  # of the limits in the cut

Answer = Callable[[bytes], bytes]


class Devices:
    """A gauge that answers float32 kPa, and an interface of 6 inputs and 4 coils."""

    def __init__(self) -> None:
        self.level_kpa = 0.0
        self.running = False
        self.coils = [False] * 4
        self.sent: list[tuple[float, float]] = []  # the gauge's answers: at s, kPa
        self.off_s: float | None = None  # HOLD HEALTHY written off
        self._falls_s: float | None = None
        self._rest_kpa = 0.0

    def hold(self, kpa: float) -> None:
        """Stand at a level."""
        self.level_kpa, self._falls_s = kpa, None

    def fall(self, needs_kpa: float, rest_kpa: float) -> float:
        """Fall from here to ``rest_kpa``; when ``needs_kpa`` is crossed, monotonic s."""
        self.sent, self.off_s, self._rest_kpa = [], None, rest_kpa
        self._falls_s = time.monotonic()
        return self._falls_s + (self.level_kpa - needs_kpa) / FALL_KPA_PER_S

    def vacuum_kpa(self, now_s: float) -> float:
        """What the gauge shows."""
        if self._falls_s is None:
            return self.level_kpa
        return max(self.level_kpa - FALL_KPA_PER_S * (now_s - self._falls_s), self._rest_kpa)

    def gauge(self, request: bytes) -> bytes:
        """Function 3 from any address on: the float, then zeros."""
        now_s = time.monotonic()
        words = struct.pack(">f", self.vacuum_kpa(now_s))
        self.sent.append((now_s, struct.unpack(">f", words)[0]))
        size = 2 * _count(request)
        return struct.pack(">BB", request[0], size) + words.ljust(size, b"\0")[:size]

    def interface(self, request: bytes) -> bytes:
        """Functions 1, 2, 5 and 15."""
        if request[0] == 2:
            held = self.vacuum_kpa(time.monotonic()) > 5.0
            bits = (self.running, not self.running, held, True, False, self.coils[0])
            return _bits_answer(request, bits)
        if request[0] == 1:
            return _bits_answer(request, tuple(self.coils))
        first, count = struct.unpack(">HH", request[1:5])
        if request[0] == 15:
            new = [bool(request[6] >> n & 1) for n in range(count)]
        else:
            new = [count == 0xFF00]
        was = self.coils[1]
        self.coils[first : first + len(new)] = new
        if was and not self.coils[1] and self.off_s is None:
            self.off_s = time.monotonic()
        return request[:5]

    def decided_s(self, needs_kpa: float) -> float | None:
        """When the answer went out that fills the delay of a loss; None before that."""
        low = [at_s for at_s, kpa in self.sent if kpa < needs_kpa]
        full = [s for n, s in enumerate(low, 1) if n >= LOSS_SAMPLES and s - low[0] >= LOSS_S]
        return full[0] if full else None


def _count(request: bytes) -> int:
    """How many registers or bits a read asks for."""
    return int(struct.unpack(">H", request[3:5])[0])


def _bits_answer(request: bytes, bits: tuple[bool, ...]) -> bytes:
    """As many bytes as were asked for, the first bit lowest, then zeros."""
    size = (_count(request) + 7) // 8
    packed = sum(bit << n for n, bit in enumerate(bits)).to_bytes(1, "little")
    return struct.pack(">BB", request[0], size) + packed.ljust(size, b"\0")


def serve_tcp(answer: Answer) -> str:
    """Serve one Modbus TCP device on threads; its address.  ``answer``: PDU to PDU."""
    door = socket.create_server(("127.0.0.1", 0))

    def client(connection: socket.socket) -> None:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        stream = connection.makefile("rb")
        while len(head := stream.read(7)) == 7:
            transaction, _, length, unit = struct.unpack(">HHHB", head)
            reply = answer(stream.read(length - 1))
            connection.sendall(struct.pack(">HHHB", transaction, 0, len(reply) + 1, unit) + reply)

    def accept() -> None:
        while True:
            connection, _ = door.accept()
            threading.Thread(target=client, args=(connection,), daemon=True).start()

    threading.Thread(target=accept, daemon=True).start()
    return f"modbus-tcp://127.0.0.1:{door.getsockname()[1]}?unit=1"


def wire_s(count: int, baud: int) -> float:
    """The time of so many bytes on a wire."""
    return 11.0 * count / baud


def gap_s(baud: int) -> float:
    """The silence between two frames."""
    return wire_s(1, baud) * 3.5 if baud <= 19200 else 0.00175


def serve_rtu(answer: Answer, baud: int) -> str:
    """Serve one Modbus RTU device on a pseudo-terminal, as slow as its wire; its address."""
    master, slave = os.openpty()
    tty.setraw(slave)

    def run() -> None:
        waiting, heard_s = b"", 0.0
        while True:
            more = os.read(master, 256)
            if time.monotonic() - heard_s > LOST_S:  # the rest of a frame never came
                waiting = b""
            waiting, heard_s = waiting + more, time.monotonic()
            while (size := _size(waiting)) is not None and len(waiting) >= size:
                request, waiting = waiting[:size], waiting[size:]
                time.sleep(wire_s(size, baud) + gap_s(baud))
                body = request[:1] + answer(request[1:-2])
                time.sleep(wire_s(len(body) + 2, baud))
                os.write(master, body + struct.pack("<H", crc(body)))

    threading.Thread(target=run, daemon=True).start()
    return f"modbus-rtu://{os.ttyname(slave)}?baud={baud}&unit=1&parity=none&stop=2"


def _size(frame: bytes) -> int | None:
    """Bytes of a whole request; None while that is not known."""
    if len(frame) < 8:
        return None
    return 9 + frame[6] if frame[1] == 15 else 8


def crc(data: bytes) -> int:
    """Check sum of a serial frame: MODBUS over Serial Line V1.02, 6.2.2, polynomial A001."""
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return value
