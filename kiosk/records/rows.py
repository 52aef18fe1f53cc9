"""What the log holds, as rows: read by the screen, maintenance and the export.

Times in ms are on the axis of the log (see ``schema/001_cycles.sql``); ``utc`` is a label.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class EventRow:
    """One event.  ``note`` is its number within its run; None for the log's own events.

    ``previous`` is the hash of the event before, ``hash`` its own: see ``docs/log.md``.
    """

    number: int
    run: int
    note: int | None
    at_ms: int
    utc: str
    cycle: str | None
    kind: str
    data: Mapping[str, object]
    previous: str
    hash: str


@dataclass(frozen=True, slots=True)
class CycleRow:
    """One cycle.  Fields from ``closed_ms`` on are None until it closes."""

    number: int
    id: str
    run: int
    plan: str | None  # digest
    job_id: str | None
    title: str | None
    revision: str | None
    opened_ms: int
    opened_utc: str
    closed_ms: int | None
    closed_utc: str | None
    result: str | None
    minimum_kpa: float | None
    start_kpa: float | None
    start_vacuum_kpa: float | None
    lowest_ratio: float | None
    lowest_vacuum_kpa: float | None
    cutting_s: float | None
    alarms: tuple[str, ...]  # codes, in the order they came; of an open cycle: so far


@dataclass(frozen=True, slots=True)
class CycleRecord:
    """The whole record of a cycle: its row, the plan as it was adopted, its events in order.

    ``set_up`` is what was confirmed for the plan before the cycle opened.
    """

    cycle: CycleRow
    plan_json: str | None
    set_up: tuple[EventRow, ...]
    events: tuple[EventRow, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a trace: ``from_ms <= t < to_ms``.  Values are None where ``n`` is 0."""

    from_ms: int
    to_ms: int
    n: int  # valid samples
    missing: int  # samples without a valid value
    low_kpa: float | None
    mean_kpa: float | None
    high_kpa: float | None
