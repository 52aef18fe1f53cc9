"""The Plan: what the planner made of one job on one site, immutable, as plain numbers.

Made in the planner's child process and by ``holdpoint check``; read by guard and screen.
Standard library and one leaf only.  Grid frame: mm, x right, y away from the operator; loads
and governed points are in the part frame as the job file has it.  kPa below local atmosphere.
Numbers that do not exist are None.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

from kiosk.typed import parsed, typed

Point = tuple[float, float]
RADIAL = "radial share"  # name of the input that stands square to the cutting force


class SeatState(StrEnum):
    """What is to be done with a seat for this job."""

    UP = "up"
    DOWN = "down"
    BLOCKED = "blocked"


@dataclass(frozen=True, slots=True)
class Seat:
    """One seat on the map.  ``why`` is words for a person when it is blocked, else empty."""

    name: str
    zone: str
    x_mm: float
    y_mm: float
    state: SeatState
    why: str = ""


@dataclass(frozen=True, slots=True)
class Zone:
    """A row or block that is set and confirmed as one: names that go up, that stay down."""

    name: str
    up: tuple[str, ...]
    down: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person should know.  Severity: note | warning | refuse."""

    code: str
    severity: str
    text: str


@dataclass(frozen=True, slots=True)
class Governed:
    """The load that sets the minimum: ``force_n`` without the safety factor, part frame."""

    mode: str  # slip | lift | floor
    at_mm: tuple[float, float, float]
    tip_mm: tuple[float, float, float]
    force_n: tuple[float, float, float]
    torque_nm: float
    factor: float
    tool: int | None
    line: int | None
    minimum_kpa: float


@dataclass(frozen=True, slots=True)
class Allowance:
    """What is taken off one gauge: drop to the worst cup and its own error, kPa."""

    gauge: str
    drop_kpa: float
    error_kpa: float


@dataclass(frozen=True, slots=True)
class CutPath:
    """One polyline of the cutter's centre in the grid frame, decimated for drawing.

    ``severity``: what it needs at most, as a share of the job's minimum; None: it meets nothing,
    or there is no minimum.
    """

    tool: int
    width_mm: float
    through: bool
    points: tuple[Point, ...]
    severity: float | None = None


@dataclass(frozen=True, slots=True)
class ToolShown:
    """A tool to name before the part is confirmed."""

    number: int
    kind: str
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class ProgramFacts:
    """Lengths, extents (cutting moves, part frame) and time of the NC program."""

    moves: int
    cut_length_mm: float
    rapid_length_mm: float
    min_mm: tuple[float, float, float] | None
    max_mm: tuple[float, float, float] | None
    tools: tuple[int, ...]
    seconds: float
    file: str = ""  # the program's file name


@dataclass(frozen=True, slots=True)
class Flex:
    """Largest bending under the cutter against the job's limit, and where (part frame).

    ``cups``: spare seats that would bring it within the limit when they were up too.
    ``places``: x, y (part frame) and the bending there, for a map.
    """

    deflection_mm: float
    limit_mm: float
    at_mm: Point
    cups: tuple[str, ...] = ()
    places: tuple[tuple[float, float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Input:
    """A number that went into the minimum.  ``value`` counts, out of low, typical and high.

    grade     A measured, B derived, C judgement or stated without a source
    governs   the minimum goes with it
    measured  ISO date when the shop has measured it itself, else None
    """

    name: str
    value: float
    low: float
    typical: float
    high: float
    unit: str  # empty for a pure number
    grade: str
    source: str
    governs: bool
    measured: str | None = None


@dataclass(frozen=True, slots=True)
class Cure:
    """A change that lowers the minimum, worked out with it; ``minimum_kpa`` is never below the
    floor.  ``lowers_kpa`` None: as the job is, no vacuum holds it.
    """

    code: str  # cup | all_cups | surface | lip | feed | sense | passes | edge
    change: str  # words for a person
    minimum_kpa: float
    lowers_kpa: float | None


def weakest(inputs: Sequence[Input]) -> Input | None:
    """Of those that govern, the one with the poorest grade; of one grade the widest range."""
    governing = [row for row in inputs if row.governs]
    return max(governing, key=lambda row: (row.grade, _width(row)), default=None)


def _width(row: Input) -> float:
    """What its high end makes of the minimum against its low end."""
    if row.name == RADIAL:  # of either sign
        return math.hypot(1.0, max(abs(row.low), abs(row.high)))
    return row.high / row.low if row.low > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class Plan:
    """One job on one site.

    ``digest`` covers job, drawing, program, site, materials and the shop file.
    """

    format: int
    digest: str
    site_digest: str
    job_id: str
    title: str
    revision: str
    job_file: str
    material: str
    thickness_mm: float
    surface: str
    verdict: str  # holds | does not hold
    model_kpa: float | None
    minimum_kpa: float | None
    required_kpa: float | None
    start_kpa: float | None
    predicted_kpa: float | None
    ceiling_kpa: float
    air_kpa: float
    drop_kpa: float
    gauge_error_kpa: float
    allowances: tuple[Allowance, ...]  # one row for each gauge of the site
    governed_by: Governed | None
    runners_up: tuple[Governed, ...]
    load_cases: int
    seats: tuple[Seat, ...]
    zones: tuple[Zone, ...]
    outline: tuple[Point, ...]  # the blank, grid frame
    openings: tuple[tuple[Point, ...], ...]
    keeps: tuple[tuple[Point, ...], ...]  # outlines of the kept pieces, grid frame
    paths: tuple[CutPath, ...]
    pins: tuple[Point, ...]
    tools: tuple[ToolShown, ...]
    program: ProgramFacts | None
    flex: Flex | None
    findings: tuple[Finding, ...]
    seat_diameter_mm: float
    outer_diameter_mm: float
    governed_grid_mm: Point | None = None  # governed_by.at_mm in the grid frame
    governed_push: Point | None = None  # unit vector of its lateral force, grid frame
    inputs: tuple[Input, ...] = ()
    loose: tuple[tuple[Point, ...], ...] = ()  # outlines of pieces that nothing holds, grid frame
    cures: tuple[Cure, ...] = ()  # what lowers the minimum, the most first; when it was asked

    def to_json(self) -> str:
        """One line of JSON; ``from_json`` gives the equal Plan back."""
        return json.dumps(asdict(self), separators=(",", ":"), allow_nan=False)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Codes that a person must acknowledge with the part."""
        return tuple(sorted({f.code for f in self.findings if f.severity == "warning"}))

    @property
    def refused(self) -> bool:
        """True when the guard must not adopt it."""
        return self.verdict != "holds" or any(f.severity == "refuse" for f in self.findings)


def from_json(text: str | bytes) -> Plan:
    """The Plan that ``to_json`` wrote.  Raises ValueError when it is damaged."""
    return typed(Plan, parsed(text))


def digest_of(contents: list[bytes]) -> str:
    """SHA-256 over the digests of all files that a plan was made from, hex."""
    whole = hashlib.sha256()
    for content in contents:
        whole.update(hashlib.sha256(content).digest())
    return whole.hexdigest()
