"""Reads the log for people: cycles, the whole record of one, traces at any zoom.

Every function opens the file by itself with ``mode=ro`` and raises ``BadInput`` when there is no
log, when it cannot be read, or when it does not hold what is asked for.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput, Mistake
from kiosk.records import standing
from kiosk.records.open import reader
from kiosk.records.rows import Column, CycleRecord, CycleRow, EventRow

_CYCLE = """
    SELECT c.number, c.id, c.run, c.plan, p.job_id, p.title, p.revision, c.opened_ms,
        c.opened_utc, c.closed_ms, c.closed_utc, c.result, c.minimum_kpa, c.start_kpa,
        c.start_vacuum_kpa, c.lowest_ratio, c.lowest_vacuum_kpa, c.cutting_s, c.alarms
    FROM cycle c LEFT JOIN plan p ON p.digest = c.plan"""
_EVENT = """
    SELECT number, run, note, at_ms, utc, cycle, kind, data, lower(hex(previous)), lower(hex(hash))
    FROM event"""
_READABLE = "kind <> 'facts'"  # facts are for the replay alone
_RAISED = """
    SELECT json_extract(data, '$.code') FROM event
    WHERE cycle = ? AND kind = 'alarm' AND json_extract(data, '$.change') = 'raised'
    ORDER BY number"""
# From the newest adoption of a plan before the cycle: who confirmed what, until it opened.
_SET_UP = f"""
    {_EVENT}, (SELECT opened_event AS opened FROM cycle WHERE id = ?)
    WHERE kind IN ('plan', 'confirm', 'command') AND number < opened AND number >= (
        SELECT max(number) FROM event WHERE kind = 'plan' AND number < opened
        AND json_extract(data, '$.change') = 'adopted')
    AND CASE kind
        WHEN 'confirm' THEN json_extract(data, '$.what') <> 'part'
        WHEN 'plan' THEN json_extract(data, '$.change') = 'adopted'
        ELSE json_extract(data, '$.name') = 'undo_zone'
            AND json_extract(data, '$.refused') IS NULL END
    ORDER BY number"""


def _cycle_row(db: sqlite3.Connection, row: tuple[Any, ...]) -> CycleRow:
    *fields, alarms = row
    if alarms is None:  # not closed
        codes = [code for (code,) in db.execute(_RAISED, (row[1],))]
    else:
        codes = json.loads(alarms)
    return CycleRow(*(*fields, tuple(dict.fromkeys(codes))))


def _event_row(row: tuple[Any, ...]) -> EventRow:
    *fields, data, previous, own = row
    return EventRow(*(*fields, json.loads(data), previous, own))


def cycles(path: Path, limit: int = 50, site_digest: str | None = None) -> tuple[CycleRow, ...]:
    """The last cycles, newest first; with ``site_digest`` only those planned for that site file."""
    where = "" if site_digest is None else " WHERE p.site_digest = :site"
    sql = f"{_CYCLE}{where} ORDER BY c.number DESC LIMIT :limit"
    with reader(path) as db:
        rows = db.execute(sql, {"site": site_digest, "limit": limit}).fetchall()
        return tuple(_cycle_row(db, row) for row in rows)


def _find(db: sqlite3.Connection, path: Path, key: str) -> tuple[Any, ...]:
    """The cycle of an id, of a number, or the ``last`` one."""
    if key == "last":
        row = db.execute(f"{_CYCLE} ORDER BY c.number DESC LIMIT 1").fetchone()
    else:
        sql = f"{_CYCLE} WHERE c.id = ?1 OR CAST(c.number AS TEXT) = ?1 ORDER BY c.id = ?1 DESC"
        row = db.execute(sql, (key,)).fetchone()
    if row is None:
        words = f"no cycle {key!r} in it; see `holdpoint log list`"
        raise BadInput([Mistake(str(path), None, words)])
    return tuple(row)


def cycle(path: Path, key: str) -> CycleRecord:
    """The whole record of the cycle with that id or number, or of the ``last`` one."""
    with reader(path) as db:
        row = _cycle_row(db, _find(db, path, key))
        plan = db.execute("SELECT json FROM plan WHERE digest = ?", (row.plan,)).fetchone()
        own = db.execute(f"{_EVENT} WHERE cycle = ? AND {_READABLE} ORDER BY number", (row.id,))
        before = db.execute(_SET_UP, (row.id,))
        return CycleRecord(
            row,
            plan[0] if plan else None,
            tuple(map(_event_row, before)),
            tuple(map(_event_row, own)),
        )


def events(path: Path, cycle_id: str | None = None) -> Iterator[EventRow]:
    """Events in order but for facts: all of them, or those of one cycle."""
    of_cycle = "" if cycle_id is None else " AND cycle = ?"
    sql = f"{_EVENT} WHERE {_READABLE}{of_cycle} ORDER BY number"
    with reader(path) as db:
        for row in db.execute(sql, (cycle_id,) if of_cycle else ()):
            yield _event_row(row)


def facts(path: Path, cycle_id: str) -> tuple[EventRow, ...]:
    """The facts that a cycle was decided from, piece by piece (``kiosk/records/facts.py``)."""
    sql = f"{_EVENT} WHERE cycle = ? AND kind = 'facts' ORDER BY number"
    with reader(path) as db:
        return tuple(map(_event_row, db.execute(sql, (cycle_id,))))


def channels(path: Path) -> tuple[str, ...]:
    """Names of every channel that has a trace."""
    sql = "SELECT channel FROM chunk UNION SELECT channel FROM tail ORDER BY channel"
    with reader(path) as db:
        return tuple(name for (name,) in db.execute(sql))


def end_ms(path: Path) -> int:
    """The newest time in the log, on its axis; 0 when it is empty."""
    with reader(path) as db:
        return standing.end_ms(db) or 0


def trace(path: Path, channel: str, from_ms: int, to_ms: int, columns: int) -> tuple[Column, ...]:
    """Least, mean and most of ``from_ms <= t < to_ms`` in ``columns`` equal columns.

    Narrow columns are read from the samples, wide ones from the pyramid: there a sample is shown
    up to one bucket early, and a bucket is never wider than a column.  ValueError when there is
    no time or no column.
    """
    from kiosk.records import columns as view  # numpy: only when a trace is asked for

    with reader(path) as db:
        return view.columns_of(db, channel, from_ms, to_ms, columns)


def samples(
    path: Path, channel: str, from_ms: int, to_ms: int
) -> tuple[tuple[int, float | None], ...]:
    """Every sample with ``from_ms <= t < to_ms``: (ms, kPa or None for no valid value)."""
    from kiosk.records import columns as view

    with reader(path) as db:
        block = view.samples(db, channel, from_ms, to_ms)
    return tuple(view.in_kpa(block))
