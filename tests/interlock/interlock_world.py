"""A world for stories about the interlock: a gauge, a machine, a screen, and a clock that obeys.

Everything is set by hand and given to ``step`` as facts; nothing of the program is replaced.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field, replace
from typing import Any

from interlock_site import DROP_KPA, EPOCH, OFFER, PUMP_DROP_KPA, UTC, kpa_of, plan_of, site_of

from kiosk.interlock.commands import Command, Name
from kiosk.interlock.decision import Decision, Note, Outputs
from kiosk.interlock.facts import (
    Facts,
    JobOffer,
    LogFacts,
    PeopleFacts,
    PlanFacts,
    PlannerAnswer,
    ScreenFacts,
    SiteFacts,
)
from kiosk.interlock.memory import Memory
from kiosk.interlock.reading import Fault, Reading, Sample, Signals, SignalSample, Why
from kiosk.interlock.snapshot import Snapshot
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at, start, step
from kiosk.interlock.turn import Turn

STEP_S = 0.05


@dataclass
class World:
    """The world outside, by hand.  ``vacuum`` maps gauge names to kPa or a fault or None."""

    site: SiteFacts = field(default_factory=site_of)
    step_s: float = STEP_S
    now_s: float = 100.0
    vacuum: dict[str, float | Why | None] = field(default_factory=dict)
    inputs: dict[str, bool] = field(default_factory=dict)
    io: bool = True  # the module answers
    stuck: dict[str, bool] = field(default_factory=dict)  # contacts that do not follow
    screen: str | None = "s1"
    screen_alive: bool = True
    log: LogFacts = field(
        default_factory=lambda: LogFacts(False, True, None, True, 0.5, None, None)
    )
    log_alive: bool = True
    self_test: bool = True
    loop_late_s: float = 0.0
    plan: PlanFacts | None = field(default_factory=plan_of)
    jobs: tuple[JobOffer, ...] = (OFFER,)
    planner_alive: bool = True
    answer: PlannerAnswer | None = None
    epoch: str = EPOCH
    utc: str = UTC
    people: PeopleFacts = field(default_factory=PeopleFacts)
    clock_synced: bool | None = None
    leak_ratio: float | None = None
    leak_zone: str | None = None
    gauge_every_s: float = 0.05  # 20 Hz
    staggered: bool = False  # never two gauges in one step: each has a line of its own

    memory: Memory = field(init=False)
    decision: Decision = field(init=False)
    notes: list[Note] = field(default_factory=list)
    dropped_planner: int = 0
    asked_plans: list[str] = field(default_factory=list)
    _seen_s: float | None = None
    _commit_s: float | None = None
    _samples: dict[str, Sample | None] = field(default_factory=dict)
    _sampled_s: dict[str, float] = field(default_factory=dict)
    _ids: int = 0
    _commands: list[Command] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.memory = start(self.site, self.epoch)
        self.read_cautions()
        for gauge in self.site.gauges:
            self.vacuum.setdefault(gauge.name, 0.0)
        quiet = {"standstill": True, "stop_healthy": True}
        for name in self.site.inputs:
            self.inputs.setdefault(name, quiet.get(name, False))

    def twin(self) -> World:
        """Another world in the same state, with lists and maps of its own."""
        other = copy.copy(self)
        for name, value in vars(self).items():
            if isinstance(value, dict | list):
                setattr(other, name, value.copy())
        return other

    # -- time ------------------------------------------------------------------------------

    def step(self, advance_s: float | None = None) -> Decision:
        """One step later."""
        self.now_s = round(self.now_s + (self.step_s if advance_s is None else advance_s), 6)
        self.memory, self.decision = step(self.memory, self.facts(), self.utc)
        self._commands, self.answer = [], None
        self.notes += self.decision.notes
        self.dropped_planner += self.decision.drop_planner
        if self.decision.plan_request is not None:
            request = self.decision.plan_request
            self.asked_plans.append(request.job)
            if self.planner_alive:
                self.answer = PlannerAnswer(request.command_id, self.plan, None)
        return self.decision

    def run(self, seconds: float) -> None:
        """Let time pass; all but the ends of a long time by twice as much: 10 samples a second."""
        steps = round(seconds / self.step_s)
        longer = (steps - 200) // 2 if self.step_s == STEP_S and steps > 400 else 0
        for number in range(steps - longer):
            self.step(2.0 * STEP_S if 0 <= number - 100 < longer else None)

    def facts(self) -> Facts:
        """The facts of this instant."""
        self._tell()
        return Facts(
            now_s=self.now_s,
            site=self.site,
            gauges=dict(self._samples),
            inputs=self._signals(self.inputs),
            contacts=self._contacts(),
            commands=tuple(self._commands),
            planner=self.answer,
            jobs=self.jobs,
            log=replace(self.log, last_commit_s=self._commit_s),
            screen=ScreenFacts(self.screen, self._seen_s),
            loop_late_s=self.loop_late_s,
            self_test=self.self_test,
            written_s=self.now_s,
            people=self.people,
            clock_synced=self.clock_synced,
            leak_ratio=self.leak_ratio,
            leak_zone=self.leak_zone,
        )

    def _tell(self) -> None:
        if self.screen_alive:
            self._seen_s = self.now_s
        if self.log_alive:
            self._commit_s = self.now_s
        for name in self._due():
            self._sampled_s[name] = self.now_s
            self._sample(name, self.vacuum[name])

    def _due(self) -> list[str]:
        """Gauges whose next sample comes with this step, the longest waiting first."""
        last_s = {name: self._sampled_s.get(name, float("-inf")) for name in self.vacuum}
        due = [n for n in last_s if self.now_s - last_s[n] >= self.gauge_every_s - 1e-9]
        return sorted(due, key=last_s.__getitem__)[: 1 if self.staggered else None]

    def _sample(self, name: str, value: float | Why | None) -> None:
        if isinstance(value, Why):
            self._samples[name] = Fault(value, "", self.now_s)
        elif value is not None:
            self._samples[name] = Reading(value, value, self.now_s)

    def _signals(self, values: dict[str, bool]) -> SignalSample | None:
        if not values:
            return None
        return Signals(self.now_s, dict(values)) if self.io else Fault(Why.SILENT, "", self.now_s)

    def _contacts(self) -> SignalSample | None:
        written: Outputs = self.memory.outputs
        values = {name: getattr(written, name) for name in sorted(self.site.outputs)}
        if "contact_feedback" in self.site.inputs and "contact_feedback" not in self.stuck:
            self.inputs["contact_feedback"] = written.start_permit
        return self._signals({**values, **{k: v for k, v in self.stuck.items() if k in values}})

    # -- what a person does ----------------------------------------------------------------

    def send(self, name: Name, plan: object = ..., **arguments: object) -> str | None:
        """Send one command, take one step; the refusal code, or None when done."""
        self.queue(name, plan, **arguments)
        ident = f"c{self._ids}"
        return next(reply.refused for reply in self.step().replies if reply.id == ident)

    def queue(self, name: Name, plan: object = ..., **arguments: object) -> None:
        """Send a command with the next step."""
        self._ids += 1
        known = None if self.memory.plan is None else self.memory.plan.digest
        digest = known if plan is ... else plan
        assert digest is None or isinstance(digest, str)
        client = self.screen or "nobody"
        self._commands.append(Command(name, f"c{self._ids}", self.epoch, digest, client, arguments))

    def see(self, **arguments: object) -> str | None:
        """Acknowledge every alarm that the newest snapshot shows as unseen."""
        unseen = [alarm.code for alarm in self.shown.alarms if not alarm.acknowledged]
        return self.send(Name.ACKNOWLEDGE, alarm=unseen, **arguments)

    # -- what is seen ----------------------------------------------------------------------

    @property
    def state(self) -> State:
        return self.memory.state

    @property
    def shown(self) -> Snapshot:
        return self.decision.snapshot

    @property
    def outputs(self) -> tuple[bool, bool]:
        return self.decision.outputs.start_permit, self.decision.outputs.hold_healthy

    def alarms(self) -> set[str]:
        """Codes of the active alarms."""
        return {alarm.code for alarm in self.shown.alarms if alarm.active}

    def unmet(self) -> set[str]:
        """Codes of the permissives that do not hold."""
        return {row.code for row in self.shown.permissives if not row.holds}

    def of_kind(self, kind: str) -> list[dict[str, Any]]:
        """Data of all notes of a kind so far."""
        return [dict(note.data) for note in self.notes if note.kind == kind]

    def changes(self, kind: str) -> list[str]:
        """What the rows of a kind say that changed, in their order."""
        return [str(row.get("change", row.get("on"))) for row in self.of_kind(kind)]

    # -- ways into the states --------------------------------------------------------------

    def set_vacuum(self, kpa: float | Why | None) -> None:
        """At the table's gauge; the pump's shows as much more as its drop is larger."""
        for name in self.vacuum:
            more = 0.0 if name == "table" else PUMP_DROP_KPA - DROP_KPA
            self.vacuum[name] = kpa + more if isinstance(kpa, float) else kpa

    def set_ratio(self, ratio: float) -> None:
        """Vacuum for this R at every gauge."""
        self.set_vacuum(kpa_of(ratio))

    def ramp(self, ratio: float, kpa_per_s: float = 8.0) -> None:
        """Let the vacuum go there no faster than a leak that is no collapse."""
        here = self.vacuum["table"]
        assert isinstance(here, float)
        goal, most = kpa_of(ratio), kpa_per_s * self.step_s
        while abs(goal - here) > 1e-9:
            here += max(-most, min(most, goal - here))
            self.set_vacuum(here)
            self.step()

    def select(self) -> None:
        """To SET UP by choosing the job."""
        for _ in self.site.gauges:
            if self.state is State.STARTING:
                self.step()
        assert self.state is State.SELECT_JOB, self.state
        assert self.send(Name.SELECT_JOB, job=OFFER.file) is None
        self.step()
        assert self.state is State.SET_UP, self.state

    def confirm(self) -> None:
        """To CHECKING by confirming every zone and the part."""
        if self.state in (State.STARTING, State.SELECT_JOB):
            self.select()
        for zone in self.plan.zones if self.plan else ():
            if zone.name not in self.memory.zones:
                assert self.send(Name.CONFIRM_ZONE, zone=zone.name) is None
        assert self.send(Name.CONFIRM_PART, warnings=["loose_offcut"]) is None
        assert self.state in (State.CHECKING, State.READY), self.state

    def prove(self, ratio: float = 1.5) -> None:
        """To READY by drawing vacuum."""
        if self.state is not State.CHECKING:
            self.confirm()
        self.set_ratio(ratio)
        self.run(4.0)
        assert self.state is State.READY, (self.state, self.unmet())

    def permit(self, ratio: float = 1.5) -> None:
        """To PERMIT by asking."""
        if self.state is not State.READY:
            self.prove(ratio)
        assert self.send(Name.REQUEST_PERMIT) is None
        assert self.state is State.PERMIT

    def cut(self, ratio: float = 1.5) -> None:
        """To CUTTING by starting the cycle."""
        self.permit(ratio)
        self.cycle(True)
        assert self.state is State.CUTTING

    def sign_on(self, role: str | None) -> None:
        """People are set up, and one of this role is signed on; None: nobody."""
        self.people = PeopleFacts(True, role, None if role is None else f"the {role}")
        self.read_cautions()
        self.step()

    def read_cautions(self) -> None:
        """Whoever stands there has read the cautions of the shift."""
        read_s = {**self.memory.cautions_s, self.people.name or "": self.now_s}
        self.memory = replace(self.memory, cautions_s=read_s)

    def cycle(self, running: bool, standstill: bool | None = None) -> None:
        """The machine's program starts or stops; the spindle with it unless told."""
        self.inputs["cycle_running"] = running
        self.inputs["standstill"] = (not running) if standstill is None else standstill
        self.step()

    def low(self) -> None:
        """To LOW HOLD."""
        self.cut()
        self.ramp(1.05)
        self.run(2.5)
        assert self.state is State.LOW_HOLD, self.state

    def pause(self) -> None:
        """To PAUSED, the spindle still turning."""
        self.cut()
        self.cycle(False, standstill=False)
        assert self.state is State.PAUSED, (self.state, self.unmet())

    def lose(self) -> None:
        """To HOLD LOST."""
        self.cut()
        self.ramp(0.9)
        self.run(0.5)
        assert self.state is State.HOLD_LOST

    def start_unpermitted(self) -> None:
        """To NO PERMIT, in a job."""
        self.prove()
        self.cycle(True)
        assert self.state is State.NO_PERMIT

    def release(self) -> None:
        """To RELEASE after a good cut."""
        self.cut()
        self.cycle(False)
        assert self.send(Name.FINISH) is None
        assert self.state is State.RELEASE

    def part_held(self) -> None:
        """To PART HELD from the start."""
        self.set_vacuum(60.0)
        self.step()
        assert self.state is State.PART_HELD


_REACHED: dict[tuple[State, str], World] = {}


def reach(state: State, **changes: Any) -> World:
    """A world in this state, by the way a shop would come there; walked once, then copied."""
    key = (state, repr(sorted(changes.items())))
    if key not in _REACHED:
        _REACHED[key] = _walk(state, **changes)
    return _REACHED[key].twin()


def signed(state: State, role: str | None, **changes: Any) -> World:
    """The same, with someone of that role signed on; None: people are set up and nobody is."""
    world = reach(state, **changes)
    world.sign_on(role)
    return world


def _walk(state: State, **changes: Any) -> World:
    world = World(**changes)
    if state is State.STARTING:
        world.vacuum["table"] = None
    world.step()
    ways = {
        State.PART_HELD: _to_part_held,
        State.SET_UP: World.select,
        State.CHECKING: World.confirm,
        State.READY: World.prove,
        State.PERMIT: World.permit,
        State.CUTTING: World.cut,
        State.LOW_HOLD: World.low,
        State.PAUSED: World.pause,
        State.HOLD_LOST: World.lose,
        State.NO_PERMIT: World.start_unpermitted,
        State.RELEASE: World.release,
    }
    if state in ways:
        ways[state](world)
    assert world.state is state, (world.state, state)
    return world


def _to_part_held(world: World) -> None:
    """From a start without permit, which keeps the plan to be taken again."""
    world.start_unpermitted()
    world.cycle(False)
    assert world.send(Name.RESET, cause="wrong_start") is None


def turn_of(world: World, facts: dict[str, Any] | None = None, **memory: Any) -> Turn:
    """The turn that begins now, with some facts and some of the memory as they are given."""
    seen = replace(world.facts(), **(facts or {}))
    return look_at(replace(world.memory, **memory), seen, world.utc)
