"""Readers and the outlet against the simulated machine, and what a failing thread does."""

from __future__ import annotations

import math
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from guard_clients import deaf_stderr, eventually, running

from hardware.catalog import open_gauge, open_io
from kiosk.demo.machine import Machine
from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell, Tray
from kiosk.guard.outlet import HUNG_S, Outlet
from kiosk.guard.reader import Reader
from kiosk.guard.shelf import PLANS_KEPT, Shelf
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.decision import Outputs
from kiosk.interlock.reading import Fault, Reading, Sample, Signals, SignalSample
from kiosk.site import Site


@pytest.fixture
def outlet(site: Site, shared: Shared) -> Iterator[Outlet]:
    assert site.io is not None
    interface = open_io(site.io, shared.clock)
    with running(Outlet(frozenset(site.io.outputs), interface, shared)) as made:
        yield made


def reported(outlet: Outlet) -> dict[str, bool]:
    contacts = outlet.contacts
    return dict(contacts.values) if isinstance(contacts, Signals) else {}


class Typed:
    """A gauge that takes 10 ms of the test's clock for an answer, and once 120 ms."""

    name = "table"

    def __init__(self, now: list[float]) -> None:
        self.now, self.asked_s = now, list[float]()

    def poll(self) -> Sample:
        self.asked_s.append(self.now[0])
        self.now[0] += 0.12 if len(self.asked_s) == 5 else 0.01
        return Reading(80.0, 80.0, self.now[0])

    def close(self) -> None:
        pass


class Waits(threading.Event):
    """A wait moves the test's clock on, until it shows ``end_s``."""

    def __init__(self, now: list[float], end_s: float) -> None:
        super().__init__()
        self.now, self.end_s = now, end_s

    def wait(self, timeout: float | None = None) -> bool:
        self.now[0] += timeout or 0.0
        if self.now[0] >= self.end_s:
            self.set()
        return self.is_set()


def test_a_reader_asks_at_its_rate_does_not_make_up_for_a_late_answer_and_counts() -> None:
    now, bell = [0.0], Bell()
    gauge = Typed(now)
    reader = Reader(gauge, 20.0, Shared(bell, lambda: now[0], Failure(bell.ring)))
    reader.stopping = Waits(now, 1.05)
    reader.work()
    late = [0.32 + 0.05 * n for n in range(15)]  # the fifth answer came at 0.32 s
    assert gauge.asked_s == pytest.approx([0.0, 0.05, 0.1, 0.15, 0.2, *late])
    assert reader.rate_hz(1.07) == 10.0  # 20 readings in 2 s
    assert reader.rate_hz(2.2) == 8.0  # those of 0.01 to 0.16 are older


def test_a_reader_keeps_the_newest_reading_rings_and_knows_its_rate(
    site: Site, shared: Shared, machine: Machine
) -> None:
    gauge = site.gauges[0]
    opened = open_gauge(gauge, site.layouts[gauge.layout], shared.clock, 101.325)
    reader = Reader(opened, gauge.rate_hz, shared)
    reader.start()
    assert shared.bell.wait(20.0)
    assert eventually(lambda: isinstance(reader.newest, Reading))
    first = reader.newest
    assert eventually(lambda: reader.newest != first)
    assert eventually(lambda: reader.rate_hz(time.monotonic()) > 0.0)
    machine.do("fault", name="silent", on=True)
    assert eventually(lambda: isinstance(reader.newest, Fault))
    machine.do("fault", name="silent", on=False)
    assert eventually(lambda: isinstance(reader.newest, Reading))
    reader.stop()
    reader.join(20.0)
    assert not reader.is_alive()


def test_the_outlet_writes_the_newest_contacts_and_reads_them_back(
    outlet: Outlet, machine: Machine
) -> None:
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert outlet.settle(20.0)
    assert outlet.written_s is not None
    assert eventually(lambda: reported(outlet).get("start_permit") is True)
    assert eventually(lambda: isinstance(outlet.inputs, Signals))
    outlet.put(Outputs(), time.monotonic())
    assert outlet.settle(20.0)
    assert eventually(lambda: reported(outlet).get("start_permit") is False)


def test_the_outlet_never_writes_by_itself_so_the_module_opens_when_the_loop_is_silent(
    outlet: Outlet, machine: Machine
) -> None:
    def closed() -> bool:
        return machine.do("status")["coils"]["start_permit"] is True

    def put_and_closed() -> bool:
        """Once more where the computer stood still so long that it is open again."""
        outlet.put(Outputs(start_permit=True), time.monotonic())
        return outlet.settle(20.0) and closed()

    assert eventually(put_and_closed)
    written = outlet.written_s
    assert eventually(lambda: not closed())
    assert outlet.written_s == written


def test_what_another_master_wrote_is_seen_before_it_is_written_over(
    outlet: Outlet, ready: dict[str, Any]
) -> None:
    """Function 15, both contacts open: MODBUS Application Protocol V1.1b3, 6.11; MBAP header of
    MODBUS Messaging on TCP/IP V1.0b, 3.1.3."""
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert eventually(lambda: reported(outlet).get("start_permit") is True)
    port = int(ready["io"].rpartition(":")[2].split("?")[0])
    with socket.create_connection(("127.0.0.1", port), timeout=20.0) as other:
        other.sendall(bytes.fromhex("0001 0000 0008 01 0f 0000 0002 01 00"))
        assert other.recv(20) == bytes.fromhex("0001 0000 0006 01 0f 0000 0002")
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert eventually(lambda: reported(outlet).get("start_permit") is False)
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert eventually(lambda: reported(outlet).get("start_permit") is True)


def test_a_change_of_a_machine_signal_rings_and_an_unchanged_one_does_not(
    outlet: Outlet, machine: Machine, shared: Shared
) -> None:
    outlet.put(Outputs(), time.monotonic())
    assert eventually(lambda: isinstance(outlet.inputs, Signals))
    shared.bell.wait(0.0)

    def exchange() -> bool:
        before = outlet.inputs
        outlet.put(Outputs(), time.monotonic())
        assert eventually(lambda: outlet.inputs is not before)
        return shared.bell.wait(0.0)

    assert not exchange()
    machine.do("key", on=True)
    assert eventually(exchange)
    machine.do("key", on=False)


def test_trouble_with_the_interface_is_a_fault_and_the_outlet_goes_on(
    outlet: Outlet, machine: Machine
) -> None:
    def faulty() -> bool:
        outlet.put(Outputs(), time.monotonic())
        return isinstance(outlet.inputs, Fault)

    machine.do("fault", name="silent", on=True, face="io")
    assert eventually(faulty)
    machine.do("fault", name="silent", on=False, face="io")
    assert eventually(lambda: not faulty())


class Slow:
    """A machine interface whose every look at the inputs waits until it is let go on."""

    def __init__(self) -> None:
        self.done: list[
            object
        ] = []  # what was written, and "contacts" for each time they were read
        self.reading, self.go = threading.Event(), threading.Event()

    @property
    def written(self) -> object:
        return next((done for done in reversed(self.done) if done != "contacts"), {})

    def write(self, contacts: Mapping[str, bool], until_s: float = math.inf) -> Fault | None:
        late = time.monotonic() > until_s
        self.done.append(dict.fromkeys(contacts, False) if late else dict(contacts))
        return None

    def read_inputs(self) -> SignalSample:
        self.reading.set()
        self.go.wait(20.0)
        return Signals(0.0, {})

    def read_contacts(self) -> SignalSample:
        self.done.append("contacts")
        return Signals(0.0, {})

    def close(self) -> None:
        pass


CONTACTS = frozenset({"start_permit", "hold_healthy"})
CLOSED = {"start_permit": True, "hold_healthy": True}
OPEN = {"start_permit": False, "hold_healthy": False}


def test_contacts_put_during_an_exchange_are_written_though_the_end_comes_first(
    shared: Shared,
) -> None:
    slow = Slow()
    outlet = Outlet(CONTACTS, slow, shared)
    outlet.start()
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert slow.reading.wait(20.0)
    assert outlet.settle(20.0)
    assert slow.written == CLOSED
    outlet.put(Outputs(), time.monotonic())
    assert not outlet.settle(0.0)  # sent is what was written, not what waits
    outlet.stop()
    slow.go.set()
    assert outlet.settle(20.0)
    outlet.join(20.0)
    assert not outlet.is_alive()
    assert slow.written == OPEN


def test_a_decision_of_before_a_standstill_closes_nothing(shared: Shared) -> None:
    """The loop, or the whole process, stood still between the decision and its write."""
    slow = Slow()
    slow.go.set()
    outlet = Outlet(CONTACTS, slow, shared)
    outlet.start()
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic() - HUNG_S - 0.1)
    assert outlet.settle(20.0)
    assert slow.written == OPEN
    outlet.stop()
    outlet.join(20.0)


@pytest.mark.parametrize("stays", [False, True])
def test_contacts_that_change_wait_for_one_question_at_most(shared: Shared, stays: bool) -> None:
    """After a write of contacts that changed, and before one of contacts that stay."""
    slow = Slow()
    outlet = Outlet(CONTACTS, slow, shared)
    outlet.start()
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert slow.reading.wait(20.0)
    before: list[object] = [CLOSED]
    if stays:
        slow.go.set()
        assert eventually(lambda: slow.done == [CLOSED, "contacts"])
        slow.reading.clear()
        slow.go.clear()
        outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
        assert slow.reading.wait(20.0)
        before.append("contacts")
    outlet.put(Outputs(), time.monotonic())
    slow.go.set()
    assert eventually(lambda: slow.done[-1] == "contacts" and len(slow.done) > len(before))
    assert slow.done == [*before, OPEN, "contacts"]
    outlet.stop()
    outlet.join(20.0)


def test_nothing_is_written_by_an_outlet_that_ends_before_it_was_told_anything(
    shared: Shared,
) -> None:
    slow = Slow()
    outlet = Outlet(CONTACTS, slow, shared)
    outlet.start()
    outlet.stop()
    outlet.join(20.0)
    assert not outlet.is_alive()
    assert slow.written == {}


class Failing(Worker):
    """A thread with a bug."""

    def work(self) -> None:
        raise ZeroDivisionError("a bug")


def test_a_failing_thread_leaves_words_and_wakes_the_loop(
    monkeypatch: pytest.MonkeyPatch, shared: Shared, capsys: pytest.CaptureFixture[str]
) -> None:
    ended: list[int] = []
    monkeypatch.setattr("kiosk.guard.failure.HARD_END_S", 0.01)
    monkeypatch.setattr("kiosk.guard.failure.os._exit", ended.append)
    Failing("gauge table", shared).start()
    assert shared.bell.wait(20.0)
    assert eventually(lambda: ended == [70])  # the process would have ended, loop or no loop
    assert shared.failure.words is not None
    assert "gauge table failed: ZeroDivisionError: a bug at " in shared.failure.words
    assert "outputs off" in capsys.readouterr().err


def test_a_stderr_that_nobody_reads_holds_up_neither_the_wake_nor_the_end(
    monkeypatch: pytest.MonkeyPatch, shared: Shared
) -> None:
    ended: list[int] = []
    monkeypatch.setattr("kiosk.guard.failure.HARD_END_S", 0.01)
    monkeypatch.setattr("kiosk.guard.failure.os._exit", ended.append)
    failing = Failing("gauge table", shared)
    with deaf_stderr():
        failing.start()
        assert shared.bell.wait(20.0)
        assert eventually(lambda: ended == [70])
        assert failing.is_alive()  # it still waits to say so
    failing.join(20.0)
    assert not failing.is_alive()


def test_a_ring_while_awake_is_kept_for_the_next_wait() -> None:
    bell = Bell()
    bell.ring()
    assert bell.wait(0.0)
    assert not bell.wait(0.0)


def test_a_tray_refuses_when_full_and_gives_all_in_order() -> None:
    tray: Tray[int] = Tray(3)
    assert [tray.put(n) for n in range(5)] == [True, True, True, False, False]
    assert tray.take_all() == (0, 1, 2)
    assert tray.take_all() == ()


def test_the_shelf_keeps_the_last_plans() -> None:
    shelf = Shelf()
    for n in range(PLANS_KEPT + 1):
        shelf.put(str(n), f"plan {n}")
    assert shelf.get("0") is None
    assert shelf.get(str(PLANS_KEPT)) == f"plan {PLANS_KEPT}"
    assert shelf.get(None) is None
