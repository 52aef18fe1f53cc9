"""The whole public state, published after every step; a screen needs nothing else but the plan.

On the wire: one JSON object a line, ``{"snapshot": {...}}``.  Codes, not words: the words are
in the catalogue.  Unknown is null.  kPa below local atmosphere, seconds.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, fields
from typing import Any

from kiosk.typed import parsed, typed


@dataclass(frozen=True, slots=True)
class GaugeShown:
    """One gauge.  ``health`` is an NE 107 letter (F C S M) or empty when good."""

    name: str
    role: str
    vacuum_kpa: float | None  # None when there is no valid value
    age_s: float | None
    health: str
    fault: str | None  # Why code of the newest fault
    rate_hz: float | None
    ratio: float | None


@dataclass(frozen=True, slots=True)
class HoldShown:
    """The hold against the plan.  ``ratio`` is R of the gauge that decides."""

    gauge: str | None  # name of the gauge that decides
    vacuum_kpa: float | None
    ratio: float | None
    minimum_kpa: float | None
    required_kpa: float | None
    start_kpa: float | None
    predicted_kpa: float | None
    slope_kpa_per_s: float | None  # negative: falling
    time_left_s: float | None  # to R = 1 at the present fall
    settled: bool | None
    drawing_down_s: float | None  # since vacuum began to rise, while not yet at start level


@dataclass(frozen=True, slots=True)
class ZoneShown:
    """One zone.  ``kept``: confirmed before the guard restarted, asked for once as a whole."""

    name: str
    up: tuple[str, ...]
    down: tuple[str, ...]
    confirmed: bool
    kept: bool


@dataclass(frozen=True, slots=True)
class PermissiveShown:
    """One condition for the permit.  ``value`` is the number it was judged by, if any."""

    code: str
    holds: bool
    value: float | None
    limit: float | None
    unit: str
    bypassed: bool = False  # set aside for this job
    bypassable: bool = False  # a supervisor may set it aside


@dataclass(frozen=True, slots=True)
class BypassShown:
    """A check that a supervisor set aside for this job."""

    check: str
    reason: str
    by: str | None  # name
    since_s: float  # seconds ago


@dataclass(frozen=True, slots=True)
class ShelvedShown:
    """An alarm that was taken off the list for a time."""

    code: str
    priority: int
    active: bool
    reason: str
    left_s: float  # until it comes back


@dataclass(frozen=True, slots=True)
class AlarmShown:
    """One alarm that is active, unacknowledged or latched, and not shelved.

    ``quiet``: while a priority 1 of the group is active it is for the list only.  ``cut_over``: it
    is cleared because the machine does not cut any more, which says nothing of the hold.
    ``about``: which of several it is about (of A15 the zone), when it came.  ``raised_utc``: when
    it came last; ``utc`` of a first stays when it comes again.
    """

    code: str
    priority: int
    active: bool
    acknowledged: bool
    latched: bool
    first: bool  # first-out of its group
    since_s: float  # seconds ago
    utc: str  # when it came
    value: float | None
    limit: float | None
    unit: str
    quiet: bool = False
    cut_over: bool = False
    about: str | None = None
    raised_utc: str = ""


@dataclass(frozen=True, slots=True)
class JobShown:
    """A job on offer in the folder."""

    file: str
    id: str
    title: str
    revision: str
    error: str | None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything a screen shows."""

    epoch: str
    seq: int
    at_s: float  # guard's monotonic clock
    utc: str
    state: str
    flags: tuple[str, ...]
    site: str
    air_kpa: float
    waiting_for: tuple[str, ...]  # STARTING: facts not seen yet, by code
    plan: str | None  # digest of the adopted plan
    job_id: str | None
    job_title: str | None
    job_revision: str | None
    planning: str | None  # job being planned
    refusal: str | None  # why the last select_job came to nothing, one line
    jobs: tuple[JobShown, ...]
    gauges: tuple[GaugeShown, ...]
    hold: HoldShown
    zones: tuple[ZoneShown, ...]
    seats_up: int
    seats_to_turn_up: int
    map_kept: bool  # confirm_map is what is asked for
    part_confirmed: bool
    warnings: tuple[str, ...]  # finding codes confirm_part must list
    permissives: tuple[PermissiveShown, ...]
    alarms: tuple[AlarmShown, ...]
    inputs: dict[str, bool | None]
    outputs: dict[str, bool]  # as decided: start_permit hold_healthy alive beacon
    contacts: dict[str, bool | None]  # as the module reports them
    permit_left_s: float | None
    pause_left_s: float | None
    allowed: tuple[str, ...]  # commands that would be done now
    forbids_reset: tuple[str, ...]  # codes of what forbids the reset
    release: str | None  # not_yet | may_release | vented
    forbids_release: tuple[str, ...]
    cycle: str | None  # id of the open cycle
    commanding: str | None  # client that holds the right to command
    feed_hold_asked_s: float | None = None  # seconds since HOLD HEALTHY was dropped
    log_writing: bool = False
    shelved: tuple[ShelvedShown, ...] = ()
    bypasses: tuple[BypassShown, ...] = ()
    person: str | None = None  # who is signed on
    role: str | None = None
    details: dict[str, Any] = field(default_factory=dict)

    def to_json(self) -> str:
        """One line of JSON, without the newline."""
        whole = {"snapshot": self}
        return json.dumps(whole, separators=(",", ":"), allow_nan=False, default=_plain)


def _plain(row: Any) -> dict[str, Any]:
    """One row as the encoder meets it: ``asdict`` copies all first, which takes five times longer
    and would be felt with thousands of jobs on offer."""
    return {field.name: getattr(row, field.name) for field in fields(row)}


def from_json(line: str | bytes) -> Snapshot:
    """The Snapshot of a line.  Raises ValueError when it is not one."""
    row = parsed(line)
    if not isinstance(row, dict):
        raise ValueError("no object")
    return typed(Snapshot, row.get("snapshot"))
