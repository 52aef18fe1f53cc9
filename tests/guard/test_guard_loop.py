"""The loop with its real parts: outputs are off at its end, whatever ends it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from guard_clients import deaf_stderr, eventually

from hardware.catalog import open_gauge, open_io
from kiosk.demo.machine import Machine
from kiosk.guard import self_test
from kiosk.guard.failure import Failure
from kiosk.guard.gather import site_facts
from kiosk.guard.leak_look import LeakLook
from kiosk.guard.loop import Loop, Parts
from kiosk.guard.mailbox import Bell
from kiosk.guard.main import _parts
from kiosk.guard.outlet import Outlet
from kiosk.guard.planner import Lister, OwnFiles, Planner
from kiosk.guard.reader import Reader
from kiosk.guard.server import Server, listen
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.interlock.decision import Decision, Note, Outputs
from kiosk.interlock.facts import Facts, LogFacts
from kiosk.interlock.memory import Memory
from kiosk.interlock.reading import Sample, Signals
from kiosk.interlock.step import step
from kiosk.limits import Limits
from kiosk.link import Link
from kiosk.records.open import inspect
from kiosk.records.review import cycles
from kiosk.records.writer import Writer
from kiosk.site import Site

NEW_LOG = LogFacts(
    exists=False,
    readable=True,
    last_commit_s=None,
    writable=False,
    free_share=None,
    latch=None,
    logged_plan=None,
)


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """That the computer stands still for a second is not tried here."""
    for limit in ("loop.HUNG_S", "loop.OFF_WITHIN_S", "outlet.HUNG_S"):
        monkeypatch.setattr(f"kiosk.guard.{limit}", 20.0)


class BuggyGauge:
    """A driver with a bug: raises on its tenth poll, against what a gauge must do."""

    name = "table"

    def __init__(self, polled: Callable[[], Sample]) -> None:
        self._polled = polled
        self.count = 0

    def poll(self) -> Sample:
        self.count += 1
        if self.count == 10:
            raise ZeroDivisionError("a bug in a driver")
        return self._polled()

    def close(self) -> None:
        pass


def parts_of(site: Site, data: Path, shared: Shared, gauge: object) -> Parts:
    assert site.io is not None
    shelf, lister, people = Shelf(), Lister(data / "jobs", shared), SignOn(data, shared)
    return Parts(
        readers=(Reader(gauge, 20.0, shared),),  # type: ignore[arg-type]
        outlet=Outlet(frozenset(site.io.outputs), open_io(site.io, shared.clock), shared),
        server=Server(listen(data / "guard.sock"), "e1", shelf, shared, people),
        people=people,
        planner=Planner(site, lister, shelf, shared),
        lister=lister,
        leaks=LeakLook(data / "leaks.toml", site, shared),
        shelf=shelf,
        writer=Writer(data / "log.db", "e1", shared.clock),
        found=NEW_LOG,
    )


def real_gauge(site: Site, shared: Shared) -> Any:
    row = site.gauges[0]
    return open_gauge(row, site.layouts[row.layout], shared.clock, 101.325)


class NotingBell(Bell):
    """Notes how long each wait may last."""

    def __init__(self) -> None:
        super().__init__()
        self.may_last_s: list[float] = []

    def wait(self, timeout_s: float) -> bool:
        self.may_last_s.append(timeout_s)
        return super().wait(timeout_s)


def begun(
    parts: Parts, site: Site, shared: Shared, stepped: Callable[[float], None] = lambda _: None
) -> Loop:
    loop = Loop(site_facts(site), "e1", parts, shared, self_test=True, stepped=stepped)
    parts.writer.start()
    for worker in parts.workers:
        worker.start()
    return loop


def ended(parts: Parts) -> None:
    for worker in parts.workers:
        worker.stop()
    for worker in parts.workers:
        worker.join(20.0)
        assert not worker.is_alive()
    assert parts.writer.close(20.0)


def test_it_steps_at_least_every_50_ms_publishes_and_logs(
    site: Site, tmp_path: Path, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what it lets itself wait: how long a busy computer makes of that is not asked."""
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)
    bell, stop = NotingBell(), threading.Event()
    shared = Shared(bell, time.monotonic, Failure(bell.ring))
    steps: list[float] = []
    parts = parts_of(site, tmp_path, shared, real_gauge(site, shared))
    thread = threading.Thread(target=begun(parts, site, shared, steps.append).run, args=(stop,))
    link = Link(tmp_path / "guard.sock")
    thread.start()
    link.start()
    try:
        assert link.wait(lambda v: v.snapshot is not None and v.snapshot.state != "STARTING", 20.0)
        first = link.view().snapshot
        assert first is not None
        enough = first.seq + 20
        assert link.wait(lambda v: v.snapshot is not None and v.snapshot.seq > enough, 20.0)
        later = link.view().snapshot
        assert later is not None
        assert not any((later.outputs["start_permit"], later.outputs["hold_healthy"]))
        assert eventually(lambda: parts.writer.status.last_commit_s is not None)
    finally:
        stop.set()
        thread.join(20.0)
        link.close()
        ended(parts)
    assert not thread.is_alive()
    assert shared.failure.words is None
    assert len(steps) == len(bell.may_last_s)
    assert max(bell.may_last_s) <= 0.05
    assert cycles(tmp_path / "log.db", 10) == () or list(cycles(tmp_path / "log.db", 10)) == []


def test_a_bug_in_a_thread_ends_the_loop_with_the_contacts_off(
    site: Site, tmp_path: Path, shared: Shared, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)
    parts = parts_of(site, tmp_path, shared, BuggyGauge(real_gauge(site, shared).poll))
    loop = begun(parts, site, shared)
    assert parts.outlet is not None
    parts.outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    began = time.monotonic()
    loop.run(threading.Event())
    assert time.monotonic() - began < 20.0
    assert "a bug in a driver" in str(shared.failure.words)
    assert not any(machine.do("status")["coils"].values())
    ended(parts)


def test_a_bug_in_a_step_ends_the_loop_with_the_contacts_off(
    site: Site, tmp_path: Path, shared: Shared, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)

    def broken(*_: object) -> None:
        raise KeyError("no row for it")

    parts = parts_of(site, tmp_path, shared, real_gauge(site, shared))
    loop = begun(parts, site, shared)
    assert parts.outlet is not None
    parts.outlet.put(Outputs(start_permit=True), time.monotonic())
    assert parts.outlet.settle(20.0)
    monkeypatch.setattr("kiosk.guard.loop.step", broken)
    loop.run(threading.Event())
    assert "the loop failed: KeyError" in str(shared.failure.words)
    assert not any(machine.do("status")["coils"].values())
    ended(parts)


def test_a_stderr_that_nobody_reads_does_not_keep_the_contacts_closed(
    site: Site, tmp_path: Path, shared: Shared, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)

    def broken(*_: object) -> None:
        raise KeyError("no row for it")

    parts = parts_of(site, tmp_path, shared, real_gauge(site, shared))
    loop, outlet = begun(parts, site, shared), parts.outlet
    assert outlet is not None
    monkeypatch.setattr("kiosk.guard.loop.step", broken)
    thread = threading.Thread(target=loop.run, args=(threading.Event(),), daemon=True)
    outlet.put(Outputs(start_permit=True, hold_healthy=True), time.monotonic())
    assert eventually(lambda: closed_contacts(outlet) == {"start_permit", "hold_healthy"})
    with deaf_stderr():
        thread.start()
        # The outlet reads back only after it wrote: the loop had the contacts written off.
        assert eventually(lambda: closed_contacts(outlet) == set())
        assert thread.is_alive()  # it still waits to say so
    thread.join(20.0)
    assert not thread.is_alive()
    ended(parts)


def test_a_step_that_cannot_be_published_is_in_the_log_all_the_same(
    site: Site, tmp_path: Path, shared: Shared, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)
    lost = Note("state", None, {"event": "e", "from": "CUTTING", "to": "HOLD LOST"})

    def unpublishable(memory: Memory, facts: Facts, utc: str) -> tuple[Memory, Decision]:
        after, decision = step(memory, facts, utc)
        snapshot = replace(decision.snapshot, at_s=float("nan"))  # no JSON
        return after, replace(decision, snapshot=snapshot, notes=(*decision.notes, lost))

    parts = parts_of(site, tmp_path, shared, real_gauge(site, shared))
    loop = begun(parts, site, shared)
    monkeypatch.setattr("kiosk.guard.loop.step", unpublishable)
    loop.run(threading.Event())
    assert "the loop failed: ValueError" in str(shared.failure.words)
    ended(parts)
    assert inspect(tmp_path / "log.db").latch == "HOLD LOST"


def closed_contacts(outlet: Outlet) -> set[str]:
    assert isinstance(outlet.contacts, Signals | None)
    values = {} if outlet.contacts is None else outlet.contacts.values
    return {name for name, closed in values.items() if closed}


def test_a_bug_in_the_log_writer_ends_the_loop_with_the_contacts_off(
    site: Site, tmp_path: Path, shared: Shared, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.guard.failure.os._exit", lambda status: None)
    parts = _parts(site, Lister(tmp_path / "jobs", shared), tmp_path, OwnFiles(), "e1")
    loop = begun(parts, site, shared)
    assert parts.outlet is not None
    parts.writer.sample("table", 1.0, "no number")  # type: ignore[arg-type]
    loop.run(threading.Event())
    assert "the log writer failed: TypeError" in str(shared.failure.words)
    assert not any(machine.do("status")["coils"].values())
    for worker in parts.workers:
        worker.stop()
    for worker in parts.workers:
        worker.join(20.0)
    assert not parts.writer.close(1.0)  # what waits is not in the log, and it says so


def test_the_start_up_checks_pass_for_the_demo_site_and_name_limits_out_of_order(
    site: Site,
) -> None:
    facts = site_facts(site)
    assert self_test.faults(facts) == ()
    wrong = replace(facts, limits=Limits(start_ratio=1.06, unproved_ratio=1.10, stale_s=9.0))
    assert self_test.faults(wrong) == (
        "limit stale_s = 9.0 is outside 0.1 to 0.5",
        "limit start_ratio must be above unproved_ratio",
    )
