"""Modbus TCP against bytes typed from the specification and against every way to lie.

Bytes: Modbus Application Protocol Specification V1.1b3, the examples of sections 6.1 to 6.11 and
7; header from the TCP/IP implementation guide V1.0b.  The server in the test only plays them back.
"""

from __future__ import annotations

import time

import pytest
from byte_server import (
    CLOSE,
    DRIP_FOR_EVER,
    RESET,
    SILENT,
    ByteServer,
    Reply,
    hexed,
    mbap,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plant_process import until

from hardware.catalog import open_gauge, open_io
from hardware.gauge import Gauge
from hardware.modbus_link import Answer, Request, TcpLink, checked
from kiosk.interlock.reading import Fault, Reading, Signals, Why
from kiosk.site import GaugeSite, InputOutput, Layout
from kiosk.site.address import TcpAddress

PATIENT_S = 20.0  # a device that answers is never too late, however busy the computer is


def link_to(server: ByteServer, timeout_s: float = PATIENT_S) -> TcpLink:
    return TcpLink(TcpAddress("127.0.0.1", server.port, 1), time.monotonic, timeout_s, 0.05)


def gauge_at(server: ByteServer, type_name: str, order: str = "ABCD", register: int = 8) -> Gauge:
    layout = Layout("x", 4, register, type_name, order, 1.0, 0.0, "kPa", "gauge", (-200.0, 200.0))
    row = GaugeSite("table", "table", server.address, "register", "x", 1.0)
    return open_gauge(row, layout, time.monotonic)


# request, bytes it must send from the function code on, answer, what must come out of it
SPECIFICATION = [
    (Request(1, 0x13, 0x13), "01 00 13 00 13", "01 03 CD 6B 05",
     Answer(0, bits=tuple(c == "1" for c in "1011001111010110101"))),
    (Request(2, 0xC4, 0x16), "02 00 C4 00 16", "02 03 AC DB 35",
     Answer(0, bits=tuple(c == "1" for c in "0011010111011011101011"))),
    (Request(3, 0x6B, 3), "03 00 6B 00 03", "03 06 02 2B 00 00 00 64",
     Answer(0, registers=(555, 0, 100))),
    (Request(4, 8, 1), "04 00 08 00 01", "04 02 00 0A", Answer(0, registers=(10,))),
    (Request(5, 0xAC, 1, (True,)), "05 00 AC FF 00", "05 00 AC FF 00", Answer(0)),
    (Request(15, 0x13, 10, tuple(c == "1" for c in "1011001110")),
     "0F 00 13 00 0A 02 CD 01", "0F 00 13 00 0A", Answer(0)),
]  # fmt: skip


@pytest.mark.parametrize("row", SPECIFICATION, ids=lambda row: f"function {row[0].function}")
def test_the_examples_of_the_specification(row: tuple[Request, str, str, Answer]) -> None:
    """V1.1b3 6.1, 6.2, 6.3, 6.4, 6.5, 6.11.  Bit strings are read off the same pages."""
    request, sent, reply, due = row
    with ByteServer([mbap(reply)]) as server:
        link = link_to(server)
        answer = link.ask(request)
        link.close()
    assert isinstance(answer, Answer), answer
    assert (answer.registers, answer.bits) == (due.registers, due.bits)
    pdu = hexed(sent)
    assert server.requests[0][2:] == hexed("00 00 00") + bytes((len(pdu) + 1, 1)) + pdu


# IEEE 754 single precision: value, its bytes in each order, as two registers
FLOATS = [
    (1.0, "3F80 0000", "0000 3F80", "803F 0000", "0000 803F"),
    (-20.5, "C1A4 0000", "0000 C1A4", "A4C1 0000", "0000 A4C1"),
    (123.456, "42F6 E979", "E979 42F6", "F642 79E9", "79E9 F642"),
    (-84.659725, "C2A9 51C7", "51C7 C2A9", "A9C2 C751", "C751 A9C2"),
    (101.325, "42CA A666", "A666 42CA", "CA42 66A6", "66A6 CA42"),
]


@pytest.mark.parametrize("place", range(4), ids=("ABCD", "CDAB", "BADC", "DCBA"))
@pytest.mark.parametrize("row", FLOATS, ids=lambda row: str(row[0]))
def test_numbers_of_two_registers_in_every_order(row: tuple[str, ...], place: int) -> None:
    order = ("ABCD", "CDAB", "BADC", "DCBA")[place]
    with ByteServer([mbap(f"04 04 {row[1 + place]}")]) as server:
        gauge = gauge_at(server, "float32", order)
        sample = gauge.poll()
        gauge.close()
    assert isinstance(sample, Reading)
    assert sample.raw == pytest.approx(float(row[0]), rel=1e-7)
    assert sample.vacuum_kpa == -sample.raw  # a gauge value below air is negative


@pytest.mark.parametrize(
    ("typed", "type_name", "raw"),
    [
        ("04 02 FF FE", "int16", -2.0),
        ("04 02 FF FE", "uint16", 65534.0),
        ("04 04 FF FF FF 38", "int32", -200.0),
        ("04 04 00 00 00 C8", "int32", 200.0),
    ],
)
def test_whole_numbers_are_twos_complement(typed: str, type_name: str, raw: float) -> None:
    with ByteServer([mbap(typed)]) as server:
        gauge = gauge_at(server, type_name)
        sample = gauge.poll()
        gauge.close()
    got = sample.raw if isinstance(sample, Reading) else sample
    if raw == 65534.0:  # a good number, outside the layout's range
        assert isinstance(sample, Fault)
        assert sample.why is Why.OUT_OF_RANGE
    else:
        assert got == raw


@pytest.mark.parametrize("typed", ["7FC0 0000", "FFC0 0000", "7F80 0000", "FF80 0000"])
def test_not_a_number_and_infinity_are_faults(typed: str) -> None:
    """IEEE 754: exponent all ones; quiet NaN of either sign, plus and minus infinity."""
    with ByteServer([mbap(f"04 04 {typed}")]) as server:
        gauge = gauge_at(server, "float32")
        sample = gauge.poll()
        gauge.close()
    assert isinstance(sample, Fault)
    assert sample.why is Why.BROKEN


def _with_transaction(number: int, typed: str) -> Reply:
    return lambda request: number.to_bytes(2, "big") + mbap(typed)(request)[2:]


def _next_transaction(request: bytes) -> bytes:
    number = int.from_bytes(request[:2], "big") + 1
    return number.to_bytes(2, "big") + mbap("04 02 00 63")(request)[2:]


GOOD = mbap("04 02 00 0A")
# name, reply, what may be said of it.  The request is function 4, one register, unit 1.
LIES: list[tuple[str, Reply, Why]] = [
    ("function 3 answers function 4", mbap("03 02 00 0A"), Why.GARBLED),
    ("coils in place of registers", mbap("01 02 00 0A"), Why.GARBLED),
    ("inputs in place of registers", mbap("02 02 00 0A"), Why.GARBLED),
    ("a write is acknowledged", mbap("06 00 08 00 0A"), Why.GARBLED),
    ("no registers", mbap("04 00"), Why.GARBLED),
    ("two registers for one", mbap("04 04 00 0A 00 0B"), Why.GARBLED),
    ("an odd count of bytes", mbap("04 03 00 0A 00"), Why.GARBLED),
    ("one byte", mbap("04 01 0A"), Why.GARBLED),
    ("a byte count larger than the frame", mbap("04 08 00 0A"), Why.GARBLED),
    ("a byte count smaller than the frame", mbap("04 02 00 0A 00 0B"), Why.GARBLED),
    ("another unit", mbap("04 02 00 0A", unit=2), Why.GARBLED),
    ("transaction 0", _with_transaction(0, "04 02 00 0A"), Why.GARBLED),
    ("another transaction", _next_transaction, Why.GARBLED),
    ("another protocol", lambda r: r[:2] + hexed("00 01 00 05 01 04 02 00 0A"), Why.GARBLED),
    ("two answers at once", lambda r: GOOD(r) + GOOD(r), Why.GARBLED),
    ("an unknown function", mbap("63 02 00 0A"), Why.GARBLED),
    ("an exception to another function", mbap("83 02"), Why.GARBLED),
    ("an exception from another unit", mbap("84 02", unit=9), Why.GARBLED),
    ("an exception", mbap("84 02"), Why.REFUSED),
    ("text", b"HTTP/1.1 400 Bad Request\r\n\r\n", Why.GARBLED),
    ("a frame cut short", lambda r: GOOD(r)[:-1], Why.GARBLED),
    ("a header alone", lambda r: GOOD(r)[:7], Why.GARBLED),
    ("one byte alone", b"\x00", Why.GARBLED),
    ("a flood", b"\xff" * 3000, Why.GARBLED),
    ("bytes for ever", DRIP_FOR_EVER, Why.GARBLED),
    ("nothing", SILENT, Why.SILENT),
    ("an end", CLOSE, Why.CLOSED),
    ("a reset", RESET, Why.CLOSED),
]


@pytest.mark.parametrize(("reply", "why"), [row[1:] for row in LIES], ids=[row[0] for row in LIES])
def test_a_lie_is_a_fault_and_the_next_answer_is_read(reply: Reply, why: Why) -> None:
    with ByteServer([GOOD, reply, mbap("04 02 00 0B")]) as server:
        link = link_to(server, timeout_s=PATIENT_S if why is Why.CLOSED else 0.4)
        assert isinstance(link.ask(Request(4, 8, 1)), Answer)
        began_s = time.monotonic()
        fault = link.ask(Request(4, 8, 1))
        assert time.monotonic() - began_s < 4.0  # far from the drip's end, on a busy computer too
        assert isinstance(fault, Fault), fault
        assert fault.why is why, fault
        if reply == DRIP_FOR_EVER:
            return
        good = until(
            lambda: isinstance(a := link.ask(Request(4, 8, 1)), Answer) and a, 2.0, "an answer"
        )
        link.close()
    assert good.registers == (11,)


def test_a_late_answer_is_never_taken_for_the_next() -> None:
    """Silence, then an answer to the request before: only a new connection is trusted."""
    with ByteServer([SILENT, mbap("04 02 00 0A")]) as server:
        link = link_to(server, timeout_s=0.1)
        first = link.ask(Request(4, 8, 1))
        assert isinstance(first, Fault)
        assert first.why is Why.SILENT
        link._timeout_s = PATIENT_S  # of the connection that is made next
        until(lambda: isinstance(link.ask(Request(4, 8, 1)), Answer), 2.0, "an answer")
        link.close()
        assert server.connections == 2


def test_a_plain_refusal_keeps_the_connection() -> None:
    with ByteServer([mbap("84 04"), GOOD]) as server:
        link = link_to(server)
        refused = link.ask(Request(4, 8, 1))
        assert isinstance(refused, Fault)
        assert refused.detail == "exception 4"  # V1.1b3 section 7: server device failure
        assert isinstance(link.ask(Request(4, 8, 1)), Answer)
        link.close()
        assert server.connections == 1


def test_attempts_to_connect_are_paced_and_never_slow_down() -> None:
    """Time is the test's own: an attempt at once, then one each 0.25 s, for an hour."""
    now_s = 0.0
    with ByteServer([CLOSE]) as server:
        link = TcpLink(TcpAddress("127.0.0.1", server.port, 1), lambda: now_s, 0.3, 0.25)
        for tenth in range(100):
            now_s = (3600.0 if tenth > 50 else 0.0) + tenth / 10.0
            fault = link.ask(Request(4, 8, 1))
            assert isinstance(fault, Fault)
            assert (fault.why, fault.taken_s) == (Why.CLOSED, now_s)
        link.close()
    # every third tenth of a second; one more where the time jumps
    assert server.connections == pytest.approx(34, abs=1)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(junk=st.binary(min_size=1, max_size=300), header=st.booleans())
def test_no_bytes_at_all_make_it_raise(junk: bytes, header: bool) -> None:
    reply: Reply = mbap(junk.hex()) if header else junk
    with ByteServer([reply]) as server:
        link = link_to(server, timeout_s=0.03)
        answer = link.ask(Request(4, 8, 1))
        link.close()
    if isinstance(answer, Answer):
        assert junk[:2] == b"\x04\x02"
        assert len(junk) == 4


IO = {"cycle_running": 0, "standstill": 1}
CONTACTS = {"start_permit": 0, "hold_healthy": 1, "alive": 2, "beacon": 5}


def _io(server: ByteServer) -> InputOutput:
    return InputOutput(server.address, IO, CONTACTS)


def test_contacts_are_written_in_runs_and_no_coil_between_is_touched() -> None:
    """Coils 0, 1, 2 in one request of function 15; coil 5 by function 5."""
    with ByteServer([mbap("0F 00 00 00 03"), mbap("05 00 05 FF 00")]) as server:
        io = open_io(_io(server), time.monotonic)
        assert io.write({"start_permit": True, "alive": True, "beacon": True}) is None
        io.close()
    assert [request[7:] for request in server.requests] == [
        hexed("0F 00 00 00 03 01 05"), hexed("05 00 05 FF 00"),
    ]  # fmt: skip


@pytest.mark.parametrize("contacts", [{}, {"start_permit": None}, {"start_permit": 1}])
def test_only_true_closes_a_contact(contacts: dict[str, bool]) -> None:
    with ByteServer([mbap("0F 00 00 00 03"), mbap("05 00 05 00 00")]) as server:
        io = open_io(_io(server), time.monotonic)
        assert io.write(contacts) is None
        io.close()
    assert server.requests[0][7:] == hexed("0F 00 00 00 03 01 00")
    assert server.requests[1][7:] == hexed("05 00 05 00 00")


@pytest.mark.parametrize(
    "replies",
    [
        ["0F 00 00 00 02"],  # fewer coils acknowledged
        ["0F 00 01 00 03"],  # from another coil on
        ["01 01 07"],  # a read answers the write
        ["8F 04"],  # refused
        ["0F 00 00 00 03", "05 00 05 00 00"],  # the opposite acknowledged
        ["0F 00 00 00 03", "05 00 04 FF 00"],  # another coil
    ],
)
def test_a_write_that_was_not_acknowledged_as_sent_is_a_fault(replies: list[str]) -> None:
    with ByteServer([mbap(reply) for reply in replies]) as server:
        io = open_io(_io(server), time.monotonic)
        assert isinstance(io.write({"beacon": True}), Fault)
        io.close()


SCATTERED = {"beacon": 0, "start_permit": 4, "hold_healthy": 6, "alive": 8}


def test_the_permit_and_the_hold_are_opened_first_whatever_becomes_of_the_others() -> None:
    """Coils 4 and 6, then 0 and 8; the module has no coil 0 (exception 2) and no coil 4."""
    acknowledged = [mbap("05 00 06 00 00"), mbap("85 02"), mbap("05 00 08 00 00")]
    with ByteServer([mbap("85 03"), *acknowledged]) as server:
        io = open_io(InputOutput(server.address, IO, SCATTERED), time.monotonic)
        fault = io.write({})
        io.close()
    assert [request[7:] for request in server.requests] == [
        hexed("05 00 04 00 00"), hexed("05 00 06 00 00"),
        hexed("05 00 00 00 00"), hexed("05 00 08 00 00"),
    ]  # fmt: skip
    assert isinstance(fault, Fault)
    assert (fault.why, fault.detail) == (Why.REFUSED, "exception 3")  # the first one


def test_on_a_line_in_trouble_only_the_permit_and_the_hold_are_still_tried() -> None:
    """Each silent request costs its time-out; the next contacts to write must not wait long."""
    with ByteServer([SILENT]) as server:
        io = open_io(InputOutput(server.address, IO, SCATTERED), time.monotonic)
        fault = io.write({"start_permit": True, "hold_healthy": True})
        io.close()
    assert [request[7:] for request in server.requests] == [
        hexed("05 00 04 FF 00"), hexed("05 00 06 FF 00"),
    ]  # fmt: skip
    assert isinstance(fault, Fault)
    assert fault.why is Why.SILENT


def test_inputs_and_contacts_are_read_by_name() -> None:
    with ByteServer([mbap("02 01 02"), mbap("01 01 05"), mbap("01 01 01")]) as server:
        io = open_io(_io(server), time.monotonic)
        inputs, contacts = io.read_inputs(), io.read_contacts()
        io.close()
    assert isinstance(inputs, Signals)
    assert isinstance(contacts, Signals)
    assert inputs.values == {"cycle_running": False, "standstill": True}
    assert contacts.values == {
        "start_permit": True, "hold_healthy": False, "alive": True, "beacon": True,
    }  # fmt: skip
    assert [request[7:] for request in server.requests] == [
        hexed("02 00 00 00 02"), hexed("01 00 00 00 03"), hexed("01 00 05 00 01"),
    ]  # fmt: skip


@pytest.mark.parametrize("reply", ["02 02 02 00", "01 01 02", "02 00", "82 02", "04 02 00 02"])
def test_inputs_that_are_not_what_was_asked_are_a_fault(reply: str) -> None:
    with ByteServer([mbap(reply)]) as server:
        io = open_io(_io(server), time.monotonic)
        inputs = io.read_inputs()
        io.close()
    assert isinstance(inputs, Fault)


@pytest.mark.parametrize(("unit", "good"), [(1, True), (2, False), (0, False)])
def test_an_answer_from_another_unit_is_refused_by_our_own_check(unit: int, good: bool) -> None:
    """The pinned client checks it too, but on a serial line not for every unit."""
    from pymodbus.pdu.register_message import ReadInputRegistersResponse

    pdu = ReadInputRegistersResponse(dev_id=unit, registers=[10])
    answer = checked(Request(4, 8, 1), 1, pdu, 4, 0.0)
    assert isinstance(answer, Answer) == good


@pytest.mark.parametrize(("unit", "why"), [(1, Why.REFUSED), (9, Why.GARBLED)])
def test_only_the_unit_that_was_asked_can_refuse(unit: int, why: Why) -> None:
    from pymodbus.pdu import ExceptionResponse

    fault = checked(Request(4, 8, 1), 1, ExceptionResponse(4, 2, device_id=unit), 2, 0.0)
    assert isinstance(fault, Fault)
    assert fault.why is why


def test_the_library_alone_would_accept_these_lies() -> None:
    """Why the checks are ours: the pinned client calls them good."""
    from pymodbus.client import ModbusTcpClient

    for reply in ("03 02 00 0A", "01 02 00 0A", "04 00", "04 04 00 0A 00 0B"):
        with ByteServer([mbap(reply)]) as server:
            client = ModbusTcpClient("127.0.0.1", port=server.port, timeout=PATIENT_S, retries=0)
            assert not client.read_input_registers(8, count=1, device_id=1).isError()
            client.close()
