"""Bytes from gauges and machine modules, damaged: a sample or a fault, in time, never a raise."""

from __future__ import annotations

import math
import struct
import sys
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from hardware.catalog import open_gauge, open_io
from hardware.current_loop import loop_fault
from hardware.frames import LONGEST_LINE, WholeLines, number_of
from hardware.scaling import sample_of
from hardware.serial_gauge import TEXT_LAYOUT
from kiosk.interlock.reading import Fault, Reading, Signals
from kiosk.mistakes import BadInput
from kiosk.site import GaugeSite, InputOutput, Layout
from kiosk.site.address import parse_address
from kiosk.site.textform import TextForm, number_in
from tests.fuzz.amounts import amounts
from tests.fuzz.damage import damaged

sys.path.append(str(Path(__file__).parents[1] / "contract"))

from byte_server import ByteServer

POLL_S = 20.0  # hardware/gauge.py allows 1.0 s: a busy computer is given more
FLOAT = Layout("f", 4, 2, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0))
GOOD_READ = bytes.fromhex("00 00 00 00 00 07 01 04 04 42 A0 80 00")  # 80.25 kPa, IEEE 754
GOOD_BITS = bytes.fromhex("00 00 00 00 00 04 01 02 01 3F")


class AnyClock:
    """A clock that never lets the link wait before it connects again."""

    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        self.now_s += 1.0
        return self.now_s


def lying(good: bytes, chance: Random) -> Callable[[bytes], bytes]:
    """A damaged answer, mostly with the number of the request it answers."""

    def reply(request: bytes) -> bytes:
        sent = damaged(good, chance)
        return request[:2] + sent[2:] if chance.random() < 0.8 else sent or b"\x00"

    return reply


def whole(pdu: bytes) -> Callable[[bytes], bytes]:
    """Any bytes as a well formed answer: header of Modbus on TCP/IP V1.0b, 3.1.3."""
    return lambda request: request[:2] + b"\0\0" + struct.pack(">H", len(pdu) + 1) + b"\x01" + pdu


@pytest.mark.parametrize("count", amounts(8, 3_000))
def test_a_gauge_that_sends_damaged_frames_gives_samples_or_faults(count: int) -> None:
    chance = Random(count)
    answers = [lying(GOOD_READ, chance) for _ in range(count)]
    answers += [whole(chance.randbytes(chance.randrange(1, 40))) for _ in range(4 * count)]
    answers += [whole(bytes((n % 256,)) + chance.randbytes(n % 7)) for n in range(4 * count)]
    with ByteServer(answers) as server:
        row = GaugeSite("table", "table", server.address, "register", "f", 1.0)
        gauge = open_gauge(row, FLOAT, AnyClock(), 101.3)
        faults = 0
        for _ in range(len(answers)):
            began = time.monotonic()
            sample = gauge.poll()
            assert time.monotonic() - began < POLL_S
            assert isinstance(sample, Reading | Fault)
            faults += isinstance(sample, Fault)
            assert isinstance(sample, Fault) or -5.0 <= sample.vacuum_kpa <= 102.0
        gauge.close()
    assert faults > len(answers) / 2


@pytest.mark.parametrize("count", amounts(20, 5_000))
def test_a_module_that_sends_damaged_frames_never_makes_up_a_signal(count: int) -> None:
    chance = Random(count)
    answers = [whole(chance.randbytes(chance.randrange(1, 12))) for _ in range(3 * count)]
    with ByteServer(answers) as server:
        wired = InputOutput(server.address, {"cycle_running": 0, "standstill": 1},
                            {"start_permit": 0, "alive": 2})  # fmt: skip
        machine = open_io(wired, AnyClock())
        for _ in range(count):
            wrote = machine.write({"start_permit": True})
            assert wrote is None or isinstance(wrote, Fault)
            for signals in (machine.read_inputs(), machine.read_contacts()):
                assert isinstance(signals, Signals | Fault)
        machine.close()


@pytest.mark.parametrize("count", amounts(8_000, 1_000_000))
def test_text_lines_in_any_pieces_give_whole_numbers_or_nothing(count: int) -> None:
    chance, lines, got = Random(7), WholeLines(), 0
    for _ in range(count):
        sent = damaged(b"-80.25 kPa\r\n", chance)
        at = chance.randrange(len(sent) + 1)
        for line in (*lines.feed(sent[:at]), *lines.feed(sent[at:])):
            assert len(line) <= LONGEST_LINE
            number = number_in(line, TextForm(), "kPa")
            if number is not None:
                got += 1
                sample = sample_of(number, number, TEXT_LAYOUT, None, 0.0)
                assert isinstance(sample, Fault) or -5.0 <= sample.vacuum_kpa <= 102.0
    assert got > count / 10


@pytest.mark.parametrize("count", amounts(8_000, 1_000_000))
def test_any_registers_give_a_number_in_range_or_a_fault(count: int) -> None:
    chance = Random(11)
    for _ in range(count):
        size, name = chance.choice(((1, "int16"), (1, "uint16"), (2, "int32"), (2, "float32")))
        registers = [chance.choice((0, 1, 0x7F80, 0x7FC0, 0xFF80, 0x8000, 0xFFFF,
                                    chance.randrange(65536))) for _ in range(size)]  # fmt: skip
        raw = number_of(registers, name, chance.choice(("ABCD", "CDAB", "BADC", "DCBA")))
        scale = chance.choice((1.0, 1e-3, 1e300, -1.0))
        layout = Layout("x", 3, 0, name, "ABCD", scale, 0.0, chance.choice(("kPa", "psi", "mbar")),
                        chance.choice(("vacuum", "gauge", "absolute")), (-5.0, 102.0))  # fmt: skip
        sample = sample_of(raw, raw * scale, layout, 101.3, 0.0)
        assert isinstance(sample, Fault) or -5.0 <= sample.vacuum_kpa <= 102.0


@pytest.mark.parametrize(
    ("current_ma", "measures"),
    [(3.8, True), (20.5, True), (3.799, False), (20.501, False), (3.6, False), (21.0, False),
     (math.nan, False), (math.inf, False), (-math.inf, False), (-4.0, False), (1e300, False)],
)  # fmt: skip
def test_only_currents_of_ne_43_measure(current_ma: float, measures: bool) -> None:
    """NAMUR NE 43: 3.8 to 20.5 mA."""
    assert (loop_fault(current_ma, 0.0) is None) is measures


@pytest.mark.parametrize("count", amounts(2_000, 300_000))
def test_any_address_is_one_or_words(count: int) -> None:
    good = (b"modbus-tcp://[::1]:502?unit=1", b"modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1",
            b"serial:///dev/ttyUSB1?baud=9600")  # fmt: skip
    refused = 0
    for seed in range(count):
        chance = Random(seed)
        text = damaged(chance.choice(good), chance).decode("utf-8", "replace")
        try:
            parse_address(text)
        except ValueError:
            refused += 1
    assert count / 4 < refused < count


@pytest.mark.parametrize("host", ["a..b", "x" * 70, "\x00", ".", "é" * 64, "a\ud800b"])
def test_a_host_that_no_resolver_takes_is_refused_in_words(host: str) -> None:
    with pytest.raises(ValueError, match="host"):
        parse_address(f"modbus-tcp://{host}:502?unit=1")


def test_a_gauge_with_such_a_host_is_refused_in_words() -> None:
    row = GaugeSite("table", "table", "modbus-tcp://a..b:502?unit=1", "register", "f", 1.0)
    with pytest.raises(BadInput, match="host"):
        open_gauge(row, FLOAT, time.monotonic, 101.3)
