"""What the decision remembers from one step to the next; nothing else survives a step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kiosk.interlock.alarms import Alarm
from kiosk.interlock.decision import Outputs
from kiosk.interlock.doubt import Doubt
from kiosk.interlock.events import Event
from kiosk.interlock.facts import PlanFacts
from kiosk.interlock.states import State
from kiosk.interlock.supply import Supply
from kiosk.interlock.watch import Watch
from kiosk.interlock.window import Window


@dataclass(frozen=True, slots=True)
class Planning:
    """A plan that was asked for."""

    command_id: str
    job: str
    since_s: float


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan and zones from before: offered again, as one map."""

    plan: PlanFacts
    zones: frozenset[str]


@dataclass(frozen=True, slots=True)
class Cycle:
    """The open unit of the log."""

    id: str
    minimum_kpa: float | None = None
    start_kpa: float | None = None
    start_vacuum_kpa: float | None = None
    lowest_ratio: float | None = None
    lowest_vacuum_kpa: float | None = None
    cutting_s: float = 0.0
    alarms: tuple[str, ...] = ()
    worst: str | None = None  # hold_lost | no_permit
    ran: bool = False  # on this part a program was seen to run, or may have run before


@dataclass(frozen=True, slots=True)
class Bypass:
    """A check that a supervisor set aside for one job."""

    check: str
    reason: str
    by: str | None
    since_s: float


@dataclass(frozen=True, slots=True)
class Link:
    """Machine signals: when they were last whole, and what was last believed of them."""

    whole_s: float | None = None  # when every wired signal was last known
    inputs_seen: bool = False
    contacts_seen: bool = False
    lost_since_s: float | None = None
    running: bool | None = None  # newest cycle_running that events were made of
    wrong_since_s: float | None = None  # contacts unlike what was written


@dataclass(frozen=True, slots=True)
class Memory:
    """Everything remembered.  Times are monotonic seconds."""

    epoch: str
    seq: int = 0
    state: State = State.STARTING
    entered_s: float = 0.0
    last_s: float | None = None
    windows: Mapping[str, Window] = field(default_factory=dict)
    watch: Watch = field(default_factory=Watch)
    doubts: Mapping[str, Doubt] = field(default_factory=dict)
    supply: Supply = field(default_factory=Supply)
    link: Link = field(default_factory=Link)
    standing: frozenset[Event] = frozenset()
    sound_s: Mapping[str, float] = field(default_factory=dict)  # permissives: since when they hold
    alarms: tuple[Alarm, ...] = ()
    turning_s: Mapping[str, float] = field(default_factory=dict)  # alarms whose delay runs
    first_out: str | None = None
    bypasses: tuple[Bypass, ...] = ()
    service: bool = False  # the machine is being worked on
    cautions_s: Mapping[str, float] = field(default_factory=dict)  # who read them when; "" nobody
    unsynced_s: float | None = None  # since when the wall clock follows no time server
    plan: PlanFacts | None = None
    kept: Kept | None = None
    kept_zones: frozenset[str] = frozenset()  # confirmed before, asked for as one map
    zones: frozenset[str] = frozenset()  # confirmed
    part_confirmed: bool = False
    rose: bool = False  # vacuum was above the vented level since the part was confirmed
    planning: Planning | None = None
    refusal: str | None = None
    refused_job: str | None = None  # its file, while ``refusal`` stands
    asked_s: float | None = None  # when the permit was given
    gone_s: float | None = None  # when a permit went in a way that a late start may cross
    stopped_s: float | None = None  # when the cycle last stopped with the part held
    pause_left: bool = False  # a pause ended, and since then neither standstill nor proof
    drawing_s: float | None = None
    word_standstill: bool = False  # a person said so, where no input is wired
    ran_unseen: bool = False  # a cycle was seen before the first round
    restarted: bool = False  # first round found a cycle or a latch
    cycle: Cycle | None = None
    cycles: int = 0
    outputs: Outputs = field(default_factory=Outputs)
    alive_s: float | None = None  # newest edge of ALIVE
