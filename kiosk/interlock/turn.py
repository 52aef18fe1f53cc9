"""One step's working copy: memory and facts side by side, and what they add up to.

Permissives, alarms and commands ask it; only ``step`` and ``moves`` change it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from kiosk.interlock.commands import Command, Reply
from kiosk.interlock.decision import Note, PlanRequest
from kiosk.interlock.delays import FUTURE_S, TINY_S
from kiosk.interlock.events import Event
from kiosk.interlock.facts import Facts, SiteFacts
from kiosk.interlock.measure import Seen
from kiosk.interlock.memory import Memory
from kiosk.interlock.signals import Lines
from kiosk.interlock.states import STOPPED_BY, State
from kiosk.interlock.timer import is_young, reached
from kiosk.interlock.watch import Hold
from kiosk.limits import (
    CONTACT_WRONG_S,
    IO_LOST_S,
    LATE_START_S,
    SCREEN_SILENT_S,
    Limits,
)

IN_CUT = frozenset({State.CUTTING, State.LOW_HOLD})
HELD_AFTER_PROOF = frozenset({State.READY, State.PERMIT, State.PAUSED}) | IN_CUT


@dataclass(frozen=True, slots=True)
class Move:
    """One event and what it did."""

    before: State
    event: Event
    after: State


@dataclass(slots=True)
class Turn:
    """Everything of one step.  ``began`` is the state it began in."""

    memory: Memory
    facts: Facts
    utc: str
    lines: Lines
    seen: Seen
    hold: Hold
    began: State
    standing: set[Event] = field(default_factory=set)
    moves: list[Move] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    replies: list[Reply] = field(default_factory=list)
    pending: list[Command] = field(default_factory=list)  # commands not judged yet
    plan_request: PlanRequest | None = None
    drop_planner: bool = False

    @property
    def now_s(self) -> float:
        """Monotonic seconds of this step."""
        return self.facts.now_s

    @property
    def site(self) -> SiteFacts:
        """The site."""
        return self.facts.site

    @property
    def limits(self) -> Limits:
        """The site's limits."""
        return self.facts.site.limits

    @property
    def state(self) -> State:
        """The state as it is now, within the step."""
        return self.memory.state

    def put(self, **changes: Any) -> None:
        """Change fields of the memory."""
        self.memory = replace(self.memory, **changes)

    def note(self, kind: str, **data: object) -> None:
        """Keep a row for the log, in the open cycle."""
        cycle = self.memory.cycle
        self.notes.append(Note(kind, None if cycle is None else cycle.id, data))

    @property
    def cycle_running(self) -> bool | None:
        """Whether an automatic program runs; None when not known or not wired."""
        return self.lines.said("cycle_running")

    @property
    def standstill(self) -> bool | None:
        """Whether the spindle stands still; a person's word counts where no contacts are."""
        if self.site.advice_only and self.memory.word_standstill:
            return True
        return self.lines.said("standstill")

    @property
    def key_on(self) -> bool | None:
        """The machine maker's key; None when not known, False when none is wired."""
        if "key_bypass" not in self.site.inputs:
            return False
        return self.lines.said("key_bypass")

    @property
    def held(self) -> bool | None:
        """Whether vacuum is above the vented level; None when not known."""
        vacuum_kpa = self.seen.vacuum_kpa
        return None if vacuum_kpa is None else vacuum_kpa >= self.limits.vented_kpa

    @property
    def lost_for_s(self) -> float:
        """How long the machine signals have not been known; 0 while they are."""
        link = self.memory.link
        if link.lost_since_s is None:
            return 0.0
        since_s = link.lost_since_s if link.whole_s is None else link.whole_s
        return self.now_s - since_s

    @property
    def link_lost(self) -> bool:
        """Whether the machine signals are lost for longer than a hiccup."""
        return reached(self.lost_for_s, IO_LOST_S)

    @property
    def wrong_for_s(self) -> float:
        """How long a contact has been unlike what was written."""
        since_s = self.memory.link.wrong_since_s
        return 0.0 if since_s is None else self.now_s - since_s

    @property
    def contact_wrong(self) -> bool:
        """Whether a contact is seen to be unlike what was written, and has been for too long."""
        return self.lines.known and reached(self.wrong_for_s, CONTACT_WRONG_S)

    @property
    def screen_age_s(self) -> float | None:
        """Age of the commanding screen's last message; None without one."""
        screen = self.facts.screen
        if screen.client is None or screen.seen_s is None:
            return None
        age_s = self.now_s - screen.seen_s
        return None if age_s < -FUTURE_S else max(age_s, 0.0)

    @property
    def screen_there(self) -> bool:
        """Whether a screen that may command was heard lately."""
        return is_young(self.screen_age_s, SCREEN_SILENT_S)

    @property
    def seats_confirmed(self) -> bool:
        """Whether every zone of the plan is confirmed; no plan and no zone is "no"."""
        plan = self.memory.plan
        if plan is None or not plan.zones:
            return False
        return all(zone.name in self.memory.zones for zone in plan.zones)

    @property
    def late_start(self) -> bool:
        """Whether a start now crossed with the end of its permit."""
        gone_s = self.memory.gone_s
        return gone_s is not None and self.now_s - gone_s <= LATE_START_S + TINY_S

    @property
    def cutting(self) -> bool:
        """Whether the cutter may be in the part: what is not known counts as cutting."""
        lost = any(move.after is State.HOLD_LOST for move in self.moves)  # of the last cut
        if self.began in IN_CUT or self.state in IN_CUT or lost:
            return True
        if self.site.advice_only:
            return self.state is State.READY
        return self.state in STOPPED_BY and self.cycle_running is not False

    @property
    def stopped_for_s(self) -> float | None:
        """How long the cycle has been stopped with the part held; None when it is not."""
        since_s = self.memory.stopped_s
        if since_s is None or self.held is False or not self.memory.part_confirmed:
            return None
        return self.now_s - since_s

    @property
    def unsynced_for_s(self) -> float:
        """How long the wall clock has been known to follow no time server."""
        since_s = self.memory.unsynced_s
        return 0.0 if since_s is None else self.now_s - since_s

    @property
    def permit_left_s(self) -> float | None:
        """Seconds until the unused permit ends."""
        if self.state is not State.PERMIT or self.memory.asked_s is None:
            return None
        return max(0.0, self.limits.permit_s - (self.now_s - self.memory.asked_s))

    @property
    def pause_left_s(self) -> float | None:
        """Seconds until the pause ends."""
        if self.state is not State.PAUSED:
            return None
        return max(0.0, self.limits.pause_s - (self.now_s - self.memory.entered_s))

    @property
    def drawing_for_s(self) -> float | None:
        """Seconds since vacuum began to rise, while it is not at the start level."""
        since_s = self.memory.drawing_s
        return None if since_s is None else self.now_s - since_s
