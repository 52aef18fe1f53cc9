"""Two gauges on one serial line, through the guard's own readers, on a real pseudo-terminal.

Frames: Modbus Application Protocol V1.1b3, 6.3; check sums of Modbus over Serial Line V1.02, 6.2.2,
made with the plant's routine, which another test holds against the specification's examples.
Numbers: 0x0190 = 400 and 0x0258 = 600 tenths of a kilopascal.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

import pytest
from plant_process import until
from pty_server import PtyServer

from hardware.catalog import open_gauge
from hardware.lines import Lines
from hardware.modbus_link import Answer, Request
from hardware.plant.serial_face import check_sum
from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell
from kiosk.guard.reader import Reader
from kiosk.guard.worker import Shared
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.mistakes import BadInput
from kiosk.site import GaugeSite
from kiosk.site.address import parse_address
from kiosk.site.layouts import shipped_layouts

RATE_HZ = 15.0
LAYOUT = shipped_layouts()["vacuum-int16-0.1kPa"]


def framed(typed: str) -> bytes:
    body = bytes.fromhex(typed)
    return body + check_sum(body)


NUMBERS = {1: "01 90", 2: "02 58"}


def answer(request: bytes) -> bytes:
    """The unit's number in each register that was asked for."""
    unit, count = request[0], request[5]
    return framed(f"{unit:02X} 03 {2 * count:02X}" + count * NUMBERS[unit])


class TwoUnits:
    """Units 1 and 2 on one line; those in ``silent`` do not answer."""

    def __init__(self) -> None:
        self.silent: set[int] = set()
        self.late: set[int] = set()

    def __call__(self, server: PtyServer) -> None:
        unit = server.requests[-1][0]
        if unit in self.late:
            self.late.discard(unit)
            server.busy(0.4)  # later than the time-out, within what is kept from the next request
        if unit not in self.silent:
            server.put(answer(server.requests[-1]))


def row(path: str, unit: int, words: str = "&parity=none") -> GaugeSite:
    address = f"modbus-rtu://{path}?baud=19200&unit={unit}{words}"
    return GaugeSite(f"unit {unit}", "table", address, "register", LAYOUT.name, 1.0, RATE_HZ)


@contextmanager
def readers_on(path: str) -> Iterator[list[Reader]]:
    bell = Bell()
    shared = Shared(bell, time.monotonic, Failure(bell.ring))
    lines = Lines(time.monotonic)
    readers = [
        Reader(
            open_gauge(row(path, unit), LAYOUT, time.monotonic, None, lines=lines), RATE_HZ, shared
        )
        for unit in (1, 2)
    ]
    with ExitStack() as ends:
        for reader in readers:
            reader.start()
            ends.callback(reader.join, 20.0)
            ends.callback(reader.stop)
        yield readers
    assert shared.failure.words is None
    assert not any(reader.is_alive() for reader in readers)


def vacuum(reader: Reader) -> float | None:
    newest = reader.newest
    return newest.vacuum_kpa if isinstance(newest, Reading) else None


def fast(readers: list[Reader]) -> bool:
    """The rate that the wiring page asks of a gauge."""
    return all(reader.rate_hz(time.monotonic()) >= 10.0 for reader in readers)


def test_two_units_on_one_line_are_both_read_ten_times_a_second() -> None:
    with PtyServer([TwoUnits()]) as server, readers_on(server.path) as readers:
        until(lambda: fast(readers), 8.0, "ten good readings a second of both")
        assert [vacuum(reader) for reader in readers] == [pytest.approx(40.0), pytest.approx(60.0)]
        assert {request[0] for request in server.requests} == {1, 2}


def test_a_silent_unit_is_told_apart_and_the_other_is_read_on() -> None:
    units = TwoUnits()
    with PtyServer([units]) as server, readers_on(server.path) as (first, second):
        until(lambda: vacuum(first) and vacuum(second), 5.0, "both")
        units.silent.add(2)
        until(lambda: isinstance(second.newest, Fault), 2.0, "unit 2 silent")
        silent_s = time.monotonic()
        until(lambda: vacuum(first), 2.0, "unit 1")
        until(lambda: time.monotonic() > silent_s + 2.0, 3.0, "two silent seconds")
        assert isinstance(second.newest, Fault)
        assert second.newest.why is Why.SILENT
        asked = [r[0] for r, at in zip(server.requests, server.asked_s, strict=False)
                 if at > silent_s]  # fmt: skip
        assert asked.count(1) > 4 * asked.count(2)  # left alone between
        units.silent.clear()
        until(lambda: vacuum(second) == pytest.approx(60.0), 4.0, "unit 2 back by itself")


def test_a_late_answer_of_one_unit_is_never_taken_for_the_others() -> None:
    units = TwoUnits()
    with PtyServer([units]) as server, readers_on(server.path) as readers:
        until(lambda: all(map(vacuum, readers)), 5.0, "both")
        for _ in range(3):
            units.late.add(2)
            until(lambda: not units.late, 3.0, "a late answer")
            until(lambda: all(map(vacuum, readers)), 6.0, "both again")
            assert vacuum(readers[0]) == pytest.approx(40.0)
            assert vacuum(readers[1]) == pytest.approx(60.0)


def test_an_unplugged_line_is_closed_for_both() -> None:
    with PtyServer([TwoUnits()]) as server, readers_on(server.path) as readers:
        until(lambda: all(map(vacuum, readers)), 5.0, "both")
        server.hang_up()
        for reader in readers:
            until(
                lambda reader=reader: isinstance(f := reader.newest, Fault) and f.why is Why.CLOSED,
                3.0, "closed",
            )  # fmt: skip


def test_a_line_is_free_again_only_when_the_last_device_lets_it_go() -> None:
    with PtyServer([TwoUnits()]) as server:
        lines = Lines(time.monotonic)
        address = f"modbus-rtu://{server.path}?parity=none&unit="
        links = [lines.link(parse_address(f"{address}{unit}")) for unit in (1, 2)]
        for link in links:
            until(lambda link=link: isinstance(link.ask(Request(3, 0, 1)), Answer), 3.0, "answer")
        links[0].close()
        stranger = Lines(time.monotonic).link(parse_address(f"{address}1"))
        refused = stranger.ask(Request(3, 0, 1))
        assert isinstance(refused, Fault)
        assert refused.why is Why.CLOSED
        assert isinstance(links[1].ask(Request(3, 0, 1)), Answer)
        links[1].close()
        until(lambda: isinstance(stranger.ask(Request(3, 0, 1)), Answer), 3.0, "the port")
        stranger.close()


@pytest.mark.parametrize("words", ["&parity=even", "&parity=none&stop=2"])
def test_two_settings_of_one_line_are_refused_in_words(words: str) -> None:
    lines = Lines(time.monotonic)
    open_gauge(row("/dev/null", 1), LAYOUT, time.monotonic, None, lines=lines)
    with pytest.raises(BadInput, match="set in two ways"):
        open_gauge(row("/dev/null", 2, words), LAYOUT, time.monotonic, None, lines=lines)
