"""Simulated devices on serial lines: pseudo-terminals that can misbehave.

Each line is reached by a link in a folder, so that a device that was unplugged comes back under
the name it had.  Framing and check sum from Modbus over Serial Line V1.02.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import tty
from collections.abc import Callable
from pathlib import Path

from hardware.plant.faults import DRIBBLE_S, SLOW_S, Faults
from hardware.plant.modbus_pdu import UNIT, Device, changed_by_faults
from hardware.plant.plant import Plant

BAUD = 19200
TEXT_BAUD = 9600
TEXT_PERIOD_S = 0.05
_CHARACTER_S = 10.0 / BAUD
_QUIET_S = 0.02  # a request that is not whole by then is dropped
_GARBLED = bytes.fromhex("ff00ffa55a")


def check_sum(frame: bytes) -> bytes:
    """CRC-16 as it goes on the wire, low byte first (V1.02, 6.2.2)."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


class PtyLine:
    """One pseudo-terminal.  ``follow`` plugs it in and out as the fault "closed" says."""

    def __init__(self, link: Path, standing: set[str], received: Callable[[bytes], None]) -> None:
        self.link = link
        self._standing = standing
        self._received = received
        self._ends: tuple[int, int] | None = None

    def follow(self) -> None:
        """Plug in or out."""
        if "closed" in self._standing:
            self.unplug()
        elif self._ends is None:
            self._plug()

    def _plug(self) -> None:
        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(os.ttyname(slave))
        asyncio.get_running_loop().add_reader(master, self._read)
        self._ends = (master, slave)

    def unplug(self) -> None:
        """Hang up whoever has the line open, and take its name away."""
        if self._ends is not None:
            asyncio.get_running_loop().remove_reader(self._ends[0])
            self.link.unlink(missing_ok=True)
            for end in self._ends:
                os.close(end)
        self._ends = None

    def _read(self) -> None:
        if self._ends is not None:
            with contextlib.suppress(OSError):
                self._received(os.read(self._ends[0], 4096))

    def put(self, data: bytes) -> None:
        """Send; what a full line does not take is lost, as on a wire nobody reads."""
        if self._ends is not None:
            with contextlib.suppress(OSError):
                os.write(self._ends[0], data)

    async def send(self, data: bytes, standing: set[str]) -> None:
        """Send in one piece, or byte by byte."""
        if "dribble" not in standing:
            self.put(data)
            return
        for at in range(len(data)):
            self.put(data[at : at + 1])
            await asyncio.sleep(DRIBBLE_S)


class RtuFace:
    """One Modbus device on a serial line."""

    def __init__(self, device: Device, faults: Faults, link: Path) -> None:
        self._device = device
        self._standing = faults.line[device.face]
        self.line = PtyLine(link, self._standing, self._received)
        self._buffer = b""
        self._timer: asyncio.TimerHandle | None = None
        self._tasks: set[asyncio.Task[None]] = set()

    def _received(self, data: bytes) -> None:
        self._buffer += data
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_later(_QUIET_S, self._forget)
        size = self._size()
        if size is not None and len(self._buffer) >= size:
            frame, self._buffer = self._buffer[:size], self._buffer[size:]
            self._take(frame)

    def _forget(self) -> None:
        self._buffer = b""

    def _size(self) -> int | None:
        """Bytes of the request in the buffer; None when not known yet."""
        if len(self._buffer) < 8:
            return None
        return 9 + self._buffer[6] if self._buffer[1] == 15 else 8

    def _take(self, frame: bytes) -> None:
        body = frame[:-2]
        standing = set(self._standing)
        if check_sum(body) != frame[-2:] or body[0] != UNIT or "silent" in standing:
            return
        task = asyncio.ensure_future(self._answer(body[1:], len(frame), standing))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _answer(self, request: bytes, asked: int, standing: set[str]) -> None:
        if "exception" in standing:
            answer = bytes((request[0] | 0x80, 4))
        else:
            answer = changed_by_faults(self._device.answer(request), standing)
        body = bytes((UNIT + ("wrong_unit" in standing),)) + answer
        sums = b"\x00\x00" if "wrong_transaction" in standing else check_sum(body)
        frame = _GARBLED if "garbled" in standing else body + sums
        wire_s = (asked + len(frame)) * _CHARACTER_S
        await asyncio.sleep(SLOW_S if "slow" in standing else wire_s)
        await self.line.send(frame, standing)


def _text(plant: Plant, standing: set[str], mark: str = "") -> bytes:
    """A line without its end: pressure against the air, kPa, behind a mark."""
    if "garbled" in standing:
        return b"-8?.\xff5 kP"
    if "exception" in standing:
        return b"ERROR 4"
    if "long" in standing:
        return b"-" + b"0" * 300
    vacuum_kpa = plant.gauge_kpa()
    if vacuum_kpa is None:
        return f"{mark}------ kPa".encode()
    unit = "psi" if "wrong_unit" in standing else "kPa"
    return f"{mark}{-vacuum_kpa:+.3f} {unit}".encode()


class TextFace:
    """A gauge that sends lines of text by itself."""

    def __init__(self, plant: Plant, link: Path) -> None:
        self._plant = plant
        self._standing = plant.faults.line["gauge"]
        self.line = PtyLine(link, self._standing, lambda _: None)

    async def stream(self) -> None:
        """Send lines for ever."""
        while True:
            standing = set(self._standing)
            if "silent" not in standing:
                await self.line.send(_text(self._plant, standing) + b"\r\n", standing)
            await asyncio.sleep(SLOW_S if "slow" in standing else TEXT_PERIOD_S)


class AskedFace:
    """The same gauge, which sends ``P= -80.250 kPa`` when it is asked ``P?``, each with a CR."""

    def __init__(self, plant: Plant, link: Path) -> None:
        self._plant = plant
        self._standing = plant.faults.line["gauge"]
        self.line = PtyLine(link, self._standing, self._received)
        self._buffer = b""
        self._tasks: set[asyncio.Task[None]] = set()

    def _received(self, data: bytes) -> None:
        *requests, self._buffer = (self._buffer + data).split(b"\r")
        for request in requests:
            if request == b"P?":
                task = asyncio.ensure_future(self._answer(set(self._standing)))
                self._tasks.add(task)
                task.add_done_callback(self._tasks.discard)

    async def _answer(self, standing: set[str]) -> None:
        if "silent" in standing:
            return
        line = _text(self._plant, standing, "P= ") + b"\r"
        wire_s = (3 + len(line)) * 10.0 / TEXT_BAUD
        await asyncio.sleep(SLOW_S if "slow" in standing else wire_s)
        await self.line.send(line, standing)
