"""From what a gauge sends to vacuum in kPa: layouts, current loops, addresses."""

from __future__ import annotations

import math
import time

import pytest

from hardware.catalog import open_gauge, open_io
from hardware.current_loop import at_current, loop_fault
from hardware.frames import number_of
from hardware.modbus_io import runs_of
from hardware.scaling import sample_of
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.mistakes import BadInput
from kiosk.site import GaugeSite, InputOutput, Layout, TextForm
from kiosk.site.address import SerialAddress, TcpAddress, parse_address


def layout(unit: str = "kPa", reference: str = "vacuum", **words: object) -> Layout:
    row: dict[str, object] = {
        "name": "x", "function": 3, "register": 0, "type": "int16", "word_order": "ABCD",
        "scale": 1.0, "offset": 0.0, "unit": unit, "reference": reference,
        "valid_kpa": (-5.0, 102.0), **words,
    }  # fmt: skip
    return Layout(**row)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "unit", "reference", "vacuum_kpa"),
    [
        (25.0, "inHg", "vacuum", 84.6597),  # NIST SP 811: 1 inHg = 3386.389 Pa
        (-600.0, "mbar", "gauge", 60.0),
        (10.0, "psi", "vacuum", 68.94757),  # SP 811
        (600.0, "Torr", "absolute", 101.325 * (1 - 600.0 / 760.0)),  # 760 Torr = 1 atm, exact
        (300.0, "mbar", "absolute", 71.325),
        (-0.5, "bar", "gauge", 50.0),
    ],
)
def test_units_and_references_come_out_as_vacuum(
    value: float, unit: str, reference: str, vacuum_kpa: float
) -> None:
    sample = sample_of(value, value, layout(unit, reference), 101.325, 7.0)
    assert isinstance(sample, Reading)
    assert sample.vacuum_kpa == pytest.approx(vacuum_kpa, rel=1e-6)
    assert (sample.raw, sample.taken_s) == (value, 7.0)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_a_fault(bad: float) -> None:
    fault = sample_of(bad, bad, layout(), None, 1.0)
    assert isinstance(fault, Fault)
    assert fault.why is Why.BROKEN


@pytest.mark.parametrize(("value", "good"), [(-5.0, 1), (-5.01, 0), (102.0, 1), (102.01, 0)])
def test_the_ends_of_the_valid_range_are_in_it(value: float, good: int) -> None:
    sample = sample_of(value, value, layout(), None, 1.0)
    assert isinstance(sample, Reading) == bool(good)
    if isinstance(sample, Fault):
        assert sample.why is Why.OUT_OF_RANGE


@pytest.mark.parametrize(
    ("current_ma", "value"),
    [(3.8, 1.25), (4.0, 0.0), (12.0, -50.0), (20.0, -100.0), (20.5, -103.125)],
)
def test_a_current_loop_is_linear_over_its_span(current_ma: float, value: float) -> None:
    """4-20 mA for 0 to -100 kPa gauge: value = lo + (I - 4)/16 (hi - lo)."""
    assert loop_fault(current_ma, 0.0) is None
    assert at_current(current_ma, (0.0, -100.0)) == pytest.approx(value)


@pytest.mark.parametrize(
    ("current_ma", "why"),
    [
        (0.0, Why.BROKEN), (3.6, Why.BROKEN), (3.61, Why.OUT_OF_RANGE), (3.79, Why.OUT_OF_RANGE),
        (3.8, None), (20.5, None), (20.51, Why.OUT_OF_RANGE), (20.99, Why.OUT_OF_RANGE),
        (21.0, Why.BROKEN), (22.0, Why.BROKEN), (math.nan, Why.BROKEN), (math.inf, Why.BROKEN),
    ],
)  # fmt: skip
def test_the_limits_of_ne_43(current_ma: float, why: Why | None) -> None:
    """NAMUR NE 43: measurement 3.8 to 20.5 mA, failure at 3.6 or less and 21.0 or more."""
    fault = loop_fault(current_ma, 2.0)
    assert (None if fault is None else fault.why) == why


def test_a_number_takes_as_many_registers_as_its_type_has() -> None:
    with pytest.raises(ValueError, match="2 registers"):
        number_of([1], "float32", "ABCD")
    with pytest.raises(ValueError, match="1 registers"):
        number_of([1, 2], "int16", "ABCD")


@pytest.mark.parametrize(
    ("addresses", "runs"),
    [([], []), ([3], [(3, 1)]), ([0, 1, 2], [(0, 3)]), ([5, 0, 1], [(0, 2), (5, 1)])],
)
def test_addresses_fall_into_runs(addresses: list[int], runs: list[tuple[int, int]]) -> None:
    assert runs_of(addresses) == runs


def test_addresses_are_taken_apart() -> None:
    assert parse_address("modbus-tcp://192.0.2.7:1502?unit=9") == TcpAddress("192.0.2.7", 1502, 9)
    assert parse_address("modbus-tcp://[::1]") == TcpAddress("::1", 502, 1)
    assert parse_address("modbus-rtu:///dev/ttyUSB0?baud=9600&unit=3") == SerialAddress(
        True, "/dev/ttyUSB0", 3, 9600, "E", 1
    )
    assert parse_address("serial:///dev/ttyS1?parity=odd&stop=2") == SerialAddress(
        False, "/dev/ttyS1", 1, 9600, "O", 2
    )


def test_a_character_takes_its_bits() -> None:
    """Modbus over Serial Line V1.02, 2.5.1: 11 bits with parity; 9600 baud: 1.1458 ms."""
    address = parse_address("modbus-rtu:///dev/ttyS0?baud=9600")
    assert isinstance(address, SerialAddress)
    assert address.character_s == pytest.approx(11 / 9600)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("http://x", "begin with modbus-tcp"),
        ("modbus-tcp://", "the host is missing"),
        ("modbus-tcp://h:99999", "65535"),
        ("modbus-tcp://h:x", "x"),
        ("modbus-tcp://h?unit=256", "unit=256"),
        ("modbus-tcp://h?unit=one", "unit=one"),
        ("modbus-tcp://h?baud=9600", "baud is not known here"),
        ("modbus-rtu://ttyUSB0", "three strokes"),
        ("modbus-rtu:///dev/x?unit=0", "unit=0"),
        ("modbus-rtu:///dev/x?baud=1", "baud=1"),
        ("modbus-rtu:///dev/x?baud=19201", "baud=19201"),
        ("modbus-rtu:///dev/x?parity=maybe", "parity=maybe"),
        ("serial://", "the port is missing"),
        ("serial:///dev/x?unit=1", "unit is not known here"),
    ],
)
def test_a_wrong_address_is_named_with_its_mend(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=r".") as caught:
        parse_address(text)
    assert words in str(caught.value)
    assert text in str(caught.value)


WRONG_GAUGES = [
    ("register", layout(), "modbus-tcp://?", None, "host is missing"),
    ("register", layout(type="float16"), "modbus-tcp://h", None, "type is one of"),
    ("register", layout(word_order="ACBD"), "modbus-tcp://h", None, "word_order is one of"),
    ("register", layout(function=6), "modbus-tcp://h", None, "function is 3 or 4"),
    ("register", layout(reference="absolute"), "modbus-tcp://h", None, "altitude_m"),
    ("current", layout(), "modbus-tcp://h", None, "span"),
    ("text", layout(), "serial:///dev/x", None, 'type "text"'),
    ("text", layout(text=TextForm()), "modbus-tcp://h", None, "serial://"),
    ("text", layout(text=TextForm("# psi")), "serial:///dev/x", None, "says psi"),
    ("register", layout(), "serial:///dev/x", None, "modbus-tcp://"),
]


@pytest.mark.parametrize(("kind", "row", "address", "air_kpa", "words"), WRONG_GAUGES)
def test_a_gauge_that_cannot_be_opened_is_bad_input(
    kind: str, row: Layout, address: str, air_kpa: float | None, words: str
) -> None:
    site = GaugeSite("table", "table", address, kind, "x", 1.0)
    with pytest.raises(BadInput, match="gauge table") as caught:
        open_gauge(site, row, time.monotonic, air_kpa)
    assert words in str(caught.value)


def test_an_interface_that_cannot_be_opened_is_bad_input() -> None:
    with pytest.raises(BadInput, match=r"\[io\]"):
        open_io(InputOutput("serial:///dev/x"), time.monotonic)
