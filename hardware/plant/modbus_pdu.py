"""The simulated devices' side of Modbus: requests in, answers out, as bytes.

Written from the Modbus Application Protocol V1.1b3 with ``struct`` alone.  Order of checks as in
its state diagrams: function (exception 1), quantity (3), address (2).
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hardware.plant.machine import COILS
from hardware.plant.plant import FULL_SCALE_KPA, INPUTS, Plant

UNIT = 1
REGISTER_COUNT = 15


@dataclass(frozen=True, slots=True)
class Device:
    """One simulated device: by function code, what takes a request's bytes after the code."""

    face: str
    functions: Mapping[int, Callable[[bytes], bytes | int]]  # an int is an exception code

    def answer(self, request: bytes) -> bytes:
        """The answer to a request, both from the function code on."""
        work = self.functions.get(request[0])
        result: bytes | int = 1 if work is None else 3
        if work is not None and len(request) >= 5:
            result = work(request[1:])
        if isinstance(result, int):
            return bytes((request[0] | 0x80, result))
        return bytes((request[0],)) + result


def _clamped(value: float, low: int, high: int) -> int:
    return int(min(max(round(value), low), high))


def gauge_registers(vacuum_kpa: float | None, air_kpa: float) -> bytes:
    """The gauge's fifteen registers; ``None`` is how each type says "no number".

    0 int16 0.1 kPa; 2 float32 kPa ABCD; 4 CDAB; 6 BADC; 8 DCBA; 10 uint16 mbar absolute;
    12 int32 Pa ABCD; 14 uint16 microampere, 4 to 20 mA for 0 to 100 kPa
    """
    image = bytearray(2 * REGISTER_COUNT)
    value = math.nan if vacuum_kpa is None else vacuum_kpa
    a, b, c, d = struct.pack(">f", value)
    image[4:20] = bytes((a, b, c, d, c, d, a, b, b, a, d, c, d, c, b, a))
    if vacuum_kpa is None:
        struct.pack_into(">h", image, 0, -32768)
        struct.pack_into(">H", image, 20, 65535)
        struct.pack_into(">i", image, 24, -2147483648)
        struct.pack_into(">H", image, 28, 3500)  # below NE 43's 3.6 mA
        return bytes(image)
    current_ma = 4.0 + 16.0 * vacuum_kpa / FULL_SCALE_KPA
    struct.pack_into(">h", image, 0, _clamped(vacuum_kpa * 10.0, -32768, 32767))
    struct.pack_into(">H", image, 20, _clamped((air_kpa - vacuum_kpa) * 10.0, 0, 65535))
    struct.pack_into(">i", image, 24, _clamped(vacuum_kpa * 1000.0, -(2**31), 2**31 - 1))
    struct.pack_into(">H", image, 28, _clamped(current_ma * 1000.0, 0, 22000))
    return bytes(image)


def _packed(bits: list[bool]) -> bytes:
    """Bits as bytes, first bit lowest (V1.1b3, 6.1)."""
    number = sum(1 << place for place, bit in enumerate(bits) if bit)
    return number.to_bytes((len(bits) + 7) // 8, "little")


def _block(request: bytes, most: int, size: int) -> tuple[int, int] | int:
    """First and quantity of a read, or the exception code."""
    first, quantity = struct.unpack(">HH", request[:4])
    if not 1 <= quantity <= most:
        return 3
    return (first, quantity) if first + quantity <= size else 2


def gauge_device(plant: Plant) -> Device:
    """The gauge: functions 3 and 4 give the same registers."""

    def read(request: bytes) -> bytes | int:
        block = _block(request, 125, REGISTER_COUNT)
        if isinstance(block, int):
            return block
        first, quantity = block
        image = gauge_registers(plant.gauge_kpa(), plant.numbers.table.air_kpa)
        return bytes((2 * quantity,)) + image[2 * first : 2 * (first + quantity)]

    return Device("gauge", {3: read, 4: read})


def io_device(plant: Plant) -> Device:
    """The machine's signals: functions 1, 2, 5 and 15."""

    def read_bits(request: bytes, bits: list[bool]) -> bytes | int:
        block = _block(request, 2000, len(bits))
        if isinstance(block, int):
            return block
        packed = _packed(bits[block[0] : sum(block)])
        return bytes((len(packed),)) + packed

    def write_one(request: bytes) -> bytes | int:
        coil, value = struct.unpack(">HH", request[:4])
        if value not in (0x0000, 0xFF00):
            return 3
        if coil >= len(COILS):
            return 2
        plant.write_coils({COILS[coil]: value == 0xFF00})
        return request[:4]

    def write_many(request: bytes) -> bytes | int:
        first, quantity, size = struct.unpack(">HHB", request[:5])
        if not 1 <= quantity <= 1968 or size != (quantity + 7) // 8 or len(request) != 5 + size:
            return 3
        if first + quantity > len(COILS):
            return 2
        number = int.from_bytes(request[5:], "little")
        bits = {COILS[first + place]: bool(number >> place & 1) for place in range(quantity)}
        plant.write_coils(bits)
        return request[:4]

    return Device("io", {
        1: lambda request: read_bits(request, list(plant.module.coils.values())),
        2: lambda request: read_bits(request, [plant.inputs()[name] for name in INPUTS]),
        5: write_one,
        15: write_many,
    })  # fmt: skip


def changed_by_faults(answer: bytes, standing: set[str]) -> bytes:
    """An answer, from the function code on, with the faults of its contents applied."""
    if answer[0] & 0x80:
        return answer
    if "wrong_function" in standing:
        answer = bytes(({1: 2, 2: 1, 3: 4, 4: 1, 5: 6, 15: 16}[answer[0]],)) + answer[1:]
    if "short" in standing and answer[1] > 2 and answer[0] <= 4:
        answer = bytes((answer[0], answer[1] - 2)) + answer[2:-2]
    elif "short" in standing and answer[0] <= 4:
        answer = bytes((answer[0], 0))
    if "long" in standing and answer[0] <= 4:
        answer = bytes((answer[0], answer[1] + 2)) + answer[2:] + b"\x00\x00"
    return answer
