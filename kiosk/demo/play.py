"""Operator and machine of the demo: every step is awaited, with a deadline, and told in a line."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from typing import Any

from kiosk.demo.machine import Machine
from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan
from kiosk.job.plan import from_json as plan_from_json
from kiosk.link import Link, View
from kiosk.units import whole_percent

_LOOK_S = 0.02  # between two looks at the machine


class Missed(Exception):
    """A step did not happen, and which."""


class Play:
    """Asks the guard over its public socket and the machine over its remote.

    ``told`` counts the steps that happened.
    """

    def __init__(self, link: Link, machine: Machine) -> None:
        self.link = link
        self.machine = machine
        self.told = 0
        self._began_s = time.monotonic()

    def tell(self, words: str) -> None:
        """One plain line for a step that happened, with the time since the start."""
        self.told += 1
        print(f"{time.monotonic() - self._began_s:6.1f} s  {words}", flush=True)

    @property
    def now(self) -> Snapshot:
        """The newest snapshot; Missed when there is none."""
        snapshot = self.link.view().snapshot
        if snapshot is None:
            raise Missed("the guard has shown nothing yet")
        return snapshot

    def until(self, what: str, true: Callable[[Snapshot], bool], within_s: float) -> Snapshot:
        """Wait for a snapshot of which this is true, and return it.  Missed when none came."""
        found: list[Snapshot] = []

        def judge(view: View) -> bool:
            if view.connected and view.snapshot is not None and true(view.snapshot):
                found.append(view.snapshot)
            return bool(found)

        if not self.link.wait(judge, within_s):
            raise Missed(f"{what}: not within {within_s:.0f} s ({self._standing()})")
        return found[0]

    def state(self, word: str, within_s: float) -> Snapshot:
        """Wait for a state by its word."""
        return self.until(f"state {word}", lambda shown: shown.state == word, within_s)

    def command(self, name: str, **arguments: Any) -> dict[str, Any] | None:
        """A command that must be done; the plan's object when it was get_plan."""
        answer = self.link.call(name, **arguments)
        if answer is None or answer.refused is not None:
            why = "no reply" if answer is None else answer.refused
            raise Missed(f"command {name} {arguments}: {why} ({self._standing()})")
        return answer.plan

    def act(self, verb: str, **arguments: object) -> dict[str, Any]:
        """Something that the machine must do."""
        reply = self.machine.do(verb, **arguments)
        if reply.get("ok") is not True:
            raise Missed(f"machine {verb} {arguments}: {reply.get('why')} ({self._standing()})")
        return reply

    def act_soon(self, verb: str, within_s: float, **arguments: object) -> None:
        """Press until the machine does it: its contacts follow the module by a moment."""
        pause, until = threading.Event(), time.monotonic() + within_s
        while self.machine.do(verb, **arguments).get("ok") is not True:
            if time.monotonic() > until:
                self.act(verb, **arguments)  # its refusal is the words of the miss
            pause.wait(_LOOK_S)

    def machine_is(
        self, what: str, true: Callable[[dict[str, Any]], bool], within_s: float
    ) -> None:
        """Wait until this is true of the machine's own status.  Missed when it never was."""
        pause, until = threading.Event(), time.monotonic() + within_s
        while not true(self.act("status")):
            if time.monotonic() > until:
                raise Missed(f"{what}: not within {within_s:.0f} s ({self._standing()})")
            pause.wait(_LOOK_S)

    def plan(self, digest: str | None) -> Plan:
        """The plan that a snapshot names."""
        row = self.command("get_plan", plan=digest)
        if row is None:
            raise Missed("the guard sent no plan")
        return plan_of(row)

    def _standing(self) -> str:
        view = self.link.view()
        if view.snapshot is None:
            return "no guard"
        shown = view.snapshot
        missing = ", ".join(row.code for row in shown.permissives if not row.holds)
        hold = shown.hold
        return (
            f"state {shown.state}, {hold.vacuum_kpa} kPa, R {hold.ratio}, "
            f"missing: {missing or 'nothing'}, refusal: {shown.refusal}"
        )


def plan_of(row: dict[str, Any]) -> Plan:
    """The Plan of a get_plan reply."""
    return plan_from_json(json.dumps(row))


def cups_up(plan: Plan) -> int:
    """How many cups stand up for this plan."""
    return sum(seat.state == "up" for seat in plan.seats)


def percent(ratio: float | None) -> str:
    """R in per cent, as on the screen; a dash when unknown."""
    return "-" if ratio is None else f"{whole_percent(ratio)} %"


def kpa(value: float | None) -> str:
    """A vacuum in kPa; a dash when unknown."""
    return "-" if value is None else f"{round(value, 1) + 0.0:.1f} kPa"  # no minus before 0.0
