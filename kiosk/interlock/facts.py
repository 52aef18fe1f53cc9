"""Everything the decision may know, gathered by the guard for one step.

Times are monotonic seconds of the guard's process.  Unknown is None.  A plan reaches the
decision as plain numbers and seat names.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from kiosk.interlock.commands import Command
from kiosk.interlock.reading import Sample, SignalSample
from kiosk.limits import Limits


@dataclass(frozen=True, slots=True)
class GaugeSetting:
    """A gauge as the site file has it."""

    name: str
    role: str  # table | pump
    error_kpa: float
    rate_hz: float
    frozen_s: float = 30.0
    calibration_due: str | None = None  # ISO date; None: not watched


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """What the site file says, for the whole life of the process."""

    name: str
    gauges: tuple[GaugeSetting, ...]
    inputs: frozenset[str]  # names of the inputs that are wired
    outputs: frozenset[str]
    limits: Limits
    air_kpa: float
    advice_only: bool
    simulated: bool
    digest: str = ""  # of the site file: the configuration that a record was made under
    pull_down_s: float | None = None  # baseline from 0 to FILL_KPA
    lockout_inspected: str | None = None  # ISO date; None: not watched


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """One zone of the plan: seat names up and down."""

    name: str
    up: tuple[str, ...]
    down: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """A plan in plain numbers.  ``drops_kpa``, ``errors_kpa``: by gauge name."""

    digest: str
    job_id: str
    title: str
    revision: str
    minimum_kpa: float
    required_kpa: float
    start_kpa: float
    predicted_kpa: float | None
    drops_kpa: dict[str, float]
    errors_kpa: dict[str, float]
    zones: tuple[ZoneFacts, ...]
    warnings: tuple[str, ...]  # finding codes that confirm_part must list
    refused: str | None  # code of the finding or verdict that forbids adopting it
    leaks: bool = False  # air comes through the board itself


@dataclass(frozen=True, slots=True)
class PlannerAnswer:
    """What the planner made of one select_job: a plan, or the words of why not."""

    command_id: str  # id of the select_job it answers
    plan: PlanFacts | None
    refused: str | None  # one clear message


@dataclass(frozen=True, slots=True)
class JobOffer:
    """A job file in the jobs folder, good or bad."""

    file: str
    id: str
    title: str
    revision: str
    error: str | None = None  # one line; None when it can be chosen


@dataclass(frozen=True, slots=True)
class LogFacts:
    """State of the log, as the writer thread last told it."""

    exists: bool  # there was a log when the guard started
    readable: bool  # False: an existing log could not be read
    last_commit_s: float | None
    writable: bool
    free_share: float | None  # of the disk
    latch: str | None  # unreset latch found at start: "HOLD LOST" | "NO PERMIT"
    logged_plan: PlanFacts | None  # of the cycle that was open when the last guard ended
    logged_zones: frozenset[str] = frozenset()  # zones that stood confirmed in it
    service: bool = False  # service was begun and not ended


@dataclass(frozen=True, slots=True)
class ScreenFacts:
    """The screen that holds the right to command."""

    client: str | None
    seen_s: float | None  # its last message


@dataclass(frozen=True, slots=True)
class PeopleFacts:
    """Who is signed on.  ``set_up`` False: this machine knows no people."""

    set_up: bool = False
    role: str | None = None  # operator | setter | maintenance | supervisor; None: nobody
    name: str | None = None


NOBODY = PeopleFacts()


@dataclass(frozen=True, slots=True)
class Facts:
    """One step's facts.  Samples are the newest; the same ``taken_s`` means nothing new."""

    now_s: float
    site: SiteFacts
    gauges: dict[str, Sample | None]
    inputs: SignalSample | None
    contacts: SignalSample | None  # read-back of what was written
    commands: tuple[Command, ...]
    planner: PlannerAnswer | None  # newest answer not yet given to a step
    jobs: tuple[JobOffer, ...]
    log: LogFacts
    screen: ScreenFacts
    loop_late_s: float = 0.0  # how late this step ran
    self_test: bool = False  # start-up checks of the guard passed
    written_s: float | None = None  # when the contacts were last written
    rates_hz: dict[str, float] = field(default_factory=dict)  # achieved, by gauge
    people: PeopleFacts = NOBODY
    clock_synced: bool | None = None  # whether the wall clock follows a time server
    leak_ratio: float | None = None  # worst zone's newest leak test, to its baseline
    leak_zone: str | None = None  # that zone
