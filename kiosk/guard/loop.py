"""The loop: gather -> step -> act -> publish -> record, on every new sample and every 50 ms.

Nothing in it waits for a disk, a screen, a gauge or the planner.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from kiosk import words
from kiosk.guard.clock import ClockWatch, synced
from kiosk.guard.failure import utc_now
from kiosk.guard.leak_look import LeakLook
from kiosk.guard.outlet import HUNG_S, Outlet
from kiosk.guard.planner import Lister, Planner
from kiosk.guard.reader import Reader
from kiosk.guard.server import Server
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.told import with_text
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.decision import Decision, Note, Outputs
from kiosk.interlock.facts import Facts, LogFacts, SiteFacts
from kiosk.interlock.reading import Reading
from kiosk.interlock.step import start, step
from kiosk.limits import STEP_S
from kiosk.records.facts import Keeper
from kiosk.records.writer import Writer

OFF_WITHIN_S = 1.0  # at the end: for the last write of the contacts
ASK_CLOCK_S = 60.0


class Hung(Exception):
    """The loop stood still so long that what it remembers is no longer what the machine did."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The threads around the loop.  ``found`` is what the log said at the start."""

    readers: tuple[Reader, ...]
    outlet: Outlet | None
    server: Server
    people: SignOn
    planner: Planner
    lister: Lister
    leaks: LeakLook
    shelf: Shelf
    writer: Writer
    found: LogFacts

    @property
    def workers(self) -> tuple[Worker, ...]:
        """Every thread that is started and stopped with the guard, the outlet last."""
        outlet = () if self.outlet is None else (self.outlet,)
        own = (self.people, self.server, self.planner, self.lister, self.leaks)
        return (*self.readers, *own, *outlet)


class Loop:
    """Runs the decision.  ``self_test`` False withholds the permit for the whole run.

    ``stepped`` is called with the time of each completed step; it must return at once.
    """

    def __init__(
        self,
        site: SiteFacts,
        epoch: str,
        parts: Parts,
        shared: Shared,
        *,
        self_test: bool,
        stepped: Callable[[float], None] = lambda _: None,
    ) -> None:
        self._site = site
        self._parts = parts
        self._shared = shared
        self._self_test = self_test
        self._stepped = stepped
        self._memory = start(site, epoch)
        self._logged: dict[str, float] = {}  # time of the newest logged sample, by gauge
        self._last_s = shared.clock()
        self._words = words.load()
        self._keeper = Keeper()
        self._synced: bool | None = None
        self._asked_clock_s: float | None = None
        self._clock_watch = ClockWatch()

    def run(self, stop: threading.Event) -> None:
        """Step until told to stop or a thread failed; the contacts are off afterwards."""
        failure = self._shared.failure
        self._last_s = self._shared.clock()
        try:
            while not stop.is_set() and failure.words is None:
                due = self._last_s + STEP_S
                self._shared.bell.wait(due - self._shared.clock())
                now = self._shared.clock()
                self._check_gap(now - self._last_s)
                self._once(now, max(0.0, now - due))
                self._last_s = now
                self._stepped(now)
        except Exception as bug:
            failure.keep("the loop", bug)
        finally:
            self._off()
        failure.tell()  # words last: they may have to wait

    @staticmethod
    def _check_gap(gap_s: float) -> None:
        """After a standstill nothing is written on again: the guard ends and begins anew."""
        if gap_s > HUNG_S:
            raise Hung(f"no step for {gap_s:.1f} s")

    def _once(self, now_s: float, late_s: float) -> None:
        before, facts, utc = self._memory, self._gather(now_s, late_s), utc_now()
        self._memory, decision = step(before, facts, utc)
        try:
            self._act(decision, now_s)
            self._publish(decision)
        finally:  # what was decided is in the log whatever becomes of the rest
            self._record(decision, now_s)
            for note in self._keeper.keep(before, facts, utc, decision):
                self._parts.writer.note(note, now_s, utc)

    def _gather(self, now_s: float, late_s: float) -> Facts:
        parts = self._parts
        outlet, screen = parts.outlet, parts.server.screen()
        zone, ratio = parts.leaks.worst or (None, None)
        return Facts(
            now_s=now_s,
            site=self._site,
            gauges={reader.gauge: reader.newest for reader in parts.readers},
            inputs=None if outlet is None else outlet.inputs,
            contacts=None if outlet is None else outlet.contacts,
            commands=parts.server.commands(),
            planner=parts.planner.answer(),
            jobs=parts.lister.jobs,
            log=self._log(),
            screen=screen,
            loop_late_s=late_s,
            self_test=self._self_test,
            written_s=None if outlet is None else outlet.written_s,
            rates_hz={reader.gauge: reader.rate_hz(now_s) for reader in parts.readers},
            people=parts.people.facts(screen.client),
            clock_synced=self._clock_synced(now_s),
            leak_ratio=ratio,
            leak_zone=zone,
        )

    def _clock_synced(self, now_s: float) -> bool | None:
        """What the kernel says, asked now and then."""
        if self._asked_clock_s is None or now_s - self._asked_clock_s >= ASK_CLOCK_S:
            self._synced, self._asked_clock_s = synced(), now_s
        return self._synced

    def _log(self) -> LogFacts:
        status, found = self._parts.writer.status, self._parts.found
        return LogFacts(
            exists=found.exists,
            readable=found.readable,
            last_commit_s=status.last_commit_s,
            writable=status.writable,
            free_share=status.free_share,
            latch=found.latch,
            logged_plan=found.logged_plan,
            logged_zones=found.logged_zones,
            service=found.service,
        )

    def _act(self, decision: Decision, now_s: float) -> None:
        if self._parts.outlet is not None:
            self._parts.outlet.put(decision.outputs, now_s)
        if decision.drop_planner:
            self._parts.planner.drop()
        if decision.plan_request is not None:
            self._parts.planner.ask(decision.plan_request)

    def _publish(self, decision: Decision) -> None:
        line = decision.snapshot.to_json().encode() + b"\n"
        replies = (*decision.replies, *self._parts.people.replies())
        self._parts.server.publish(line, replies)

    def _record(self, decision: Decision, now_s: float) -> None:
        writer = self._parts.writer
        for note in decision.notes:
            self._keep_plan(note)
            writer.note(with_text(note, self._words), now_s, decision.snapshot.utc)
        utc, cycle = decision.snapshot.utc, decision.snapshot.cycle
        for note in self._clock_watch.look(now_s, utc, self._synced, cycle):
            writer.note(note, now_s, utc)
        for data in self._parts.people.notes():
            note = Note("person", decision.snapshot.cycle, data)
            writer.note(note, now_s, decision.snapshot.utc)
        for reader in self._parts.readers:
            sample = reader.newest
            if sample is not None and sample.taken_s != self._logged.get(reader.gauge):
                self._logged[reader.gauge] = sample.taken_s
                value = sample.vacuum_kpa if isinstance(sample, Reading) else None
                writer.sample(reader.gauge, sample.taken_s, value)

    def _keep_plan(self, note: Note) -> None:
        """An adopted plan goes into the log whole, before the note that names it."""
        digest = note.data.get("digest")
        if note.kind == "plan" and note.data.get("change") == "adopted" and digest is not None:
            text = self._parts.shelf.get(str(digest))
            if text is not None:
                self._parts.writer.plan(str(digest), text)

    def _off(self) -> None:
        if self._parts.outlet is not None:
            self._parts.outlet.put(Outputs(), self._shared.clock())
            self._parts.outlet.settle(OFF_WITHIN_S)
