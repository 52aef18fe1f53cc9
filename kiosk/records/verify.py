"""Does the log still say what was written?  Names the first record that does not fit.

Tamper-evident, no more: see ``chain``.  What the chains do not cover is the tail of the traces
(the newest samples, before they become a chunk) and the newest records being cut off; against
the latter a link can be noted outside the computer.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kiosk.records.chain import START, link
from kiosk.records.open import reader
from kiosk.records.store import SEALED

_NOTED_LEAST = 8  # characters of a noted link


@dataclass(frozen=True, slots=True)
class Broken:
    """The first record that does not fit, and how."""

    record: str  # such as "event 17"
    words: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found.  ``head``: the newest link, hex; None for a log without events."""

    broken: Broken | None
    events: int
    cycles: int
    chunks: int
    head: str | None


def _as_text(name: str, cycle: str | None) -> str:
    return name if cycle is None else f"{name} (cycle {cycle})"


def _broken_link(
    db: sqlite3.Connection, table: str, columns: str, blob: str, where: str
) -> Broken | None:
    """The first row of a chained table whose number, link to the last or hash is wrong."""
    sql = f"SELECT {columns}, {blob}, {where}, previous, hash FROM {table} ORDER BY number"
    expected, last, last_name = 1, START, ""
    for *record, content, cycle, previous, stored in db.execute(sql):
        name = _as_text(f"{table} {record[0]}", cycle)
        if record[0] != expected:
            return Broken(f"{table} {expected}", "it is missing")
        if link(previous, record, content) != stored:
            return Broken(name, "its content was changed after it was written")
        if previous != last:
            return Broken(last_name or name, "the next record was made from other content")
        expected, last, last_name = expected + 1, stored, name
    sql = "SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = ?"
    if db.execute(sql, (table,)).fetchone()[0] >= expected:
        return Broken(f"{table} {expected}", "it is missing")
    return None


def _events(db: sqlite3.Connection) -> Broken | None:
    columns = "number, run, note, at_ms, utc, cycle, kind, data"
    return _broken_link(db, "event", columns, "x''", "cycle")


def _chunks(db: sqlite3.Connection) -> Broken | None:
    return _broken_link(db, "chunk", "number, channel, from_ms, to_ms, n", "data", "NULL")


def _plans(db: sqlite3.Connection) -> Broken | None:
    sql = """SELECT json_extract(data, '$.digest'), json_extract(data, '$.sha256') FROM event
             WHERE kind = 'log' AND json_extract(data, '$.change') = 'plan_kept' ORDER BY number"""
    kept = dict(db.execute(sql).fetchall())
    present = dict(db.execute("SELECT digest, json FROM plan").fetchall())
    for digest, sha256 in kept.items():
        if digest not in present:
            return Broken(f"plan {digest}", "it is missing")
        if hashlib.sha256(present[digest].encode()).hexdigest() != sha256:
            return Broken(f"plan {digest}", "its content was changed after it was written")
    strange = sorted(present.keys() - kept.keys())
    return Broken(f"plan {strange[0]}", "no event says that it was kept") if strange else None


def _runs(db: sqlite3.Connection) -> Broken | None:
    sql = """SELECT number, data FROM event
             WHERE kind = 'log' AND json_extract(data, '$.change') = 'opened' ORDER BY number"""
    told = [json.loads(data) for _, data in db.execute(sql)]
    sql = "SELECT number, epoch, boot_id, offset_ms FROM run ORDER BY number"
    rows = db.execute(sql).fetchall()
    for (number, *row), data in zip(rows, told, strict=False):
        if row != [data["epoch"], data["boot_id"], data["offset_ms"]]:
            return Broken(f"run {number}", "it differs from the event that began it")
    return (
        None if len(rows) == len(told) else Broken("run", "runs and their events differ in number")
    )


def _sealed_rows(db: sqlite3.Connection) -> Iterator[tuple[dict[str, Any], bytes | None, bytes]]:
    columns = ", ".join(f"c.{name}" for name in SEALED)
    sql = f"""SELECT {columns}, c.seal, e.hash FROM cycle c
              LEFT JOIN event e ON e.number = coalesce(c.closed_event, c.opened_event)
              ORDER BY c.number"""
    for *row, seal, event_hash in db.execute(sql):
        yield dict(zip(SEALED, row, strict=True)), seal, event_hash or b""


def _cycle_trouble(row: dict[str, Any], seal: bytes | None, event_hash: bytes, told: Any) -> str:
    closed = told is not None and told[1] is not None
    if told is None:
        return "no event says that it was opened"
    if closed != (seal is not None) or (closed and told[1] != row["closed_event"]):
        return "it and the event that closed it do not fit"
    if seal is not None and link(event_hash, list(row.values())) != seal:
        return "its content was changed after it was closed"
    if (row["opened_event"], row["opened_ms"], row["opened_utc"]) != (told[0], *told[2:]):
        return "it and the event that opened it do not fit"
    return ""


def _cycles(db: sqlite3.Connection) -> Broken | None:
    # With one bare min(), SQLite takes the other columns from the row of the minimum:
    # sqlite.org/lang_select.html, "bare columns in an aggregate query".
    sql = """SELECT cycle, min(number), at_ms, utc FROM event
             WHERE kind = 'cycle' AND cycle IS NOT NULL GROUP BY cycle"""
    opened = {cycle: rest for cycle, *rest in db.execute(sql)}
    sql = """SELECT cycle, min(number) FROM event WHERE kind = 'cycle' AND cycle IS NOT NULL
             AND json_extract(data, '$.change') = 'closed' GROUP BY cycle"""
    closed = dict(db.execute(sql).fetchall())
    for row, seal, event_hash in _sealed_rows(db):
        first = opened.pop(row["id"], None)
        told = None if first is None else (first[0], closed.get(row["id"]), *first[1:])
        trouble = _cycle_trouble(row, seal, event_hash, told)
        if trouble:
            return Broken(f"cycle {row['number']} ({row['id']})", trouble)
    return Broken(f"cycle {min(opened)}", "it is missing") if opened else None


def _whole_file(db: sqlite3.Connection) -> Broken | None:
    said = db.execute("PRAGMA integrity_check(1)").fetchone()[0]
    return None if said == "ok" else Broken("the file", str(said).replace("\n", " "))


CHECKS: tuple[Callable[[sqlite3.Connection], Broken | None], ...] = (
    _events, _plans, _cycles, _runs, _chunks, _whole_file,
)  # fmt: skip


def _verdict(db: sqlite3.Connection, noted: str | None) -> Verdict:
    try:
        head = db.execute("SELECT lower(hex(hash)) FROM event ORDER BY number DESC").fetchone()
        counts = {f"{table}s": _count(db, table) for table in ("event", "cycle", "chunk")}
        broken = next((found for check in CHECKS if (found := check(db)) is not None), None)
        if broken is None and noted is not None:
            broken = _noted(db, noted)
        return Verdict(broken, head=head[0] if head else None, **counts)
    except (sqlite3.Error, ValueError, KeyError, TypeError) as error:
        return Verdict(Broken("the file", f"cannot be read to its end: {error}"), 0, 0, 0, None)


def verify(path: Path, noted: str | None = None) -> Verdict:
    """Check every record.  ``noted``: the first characters (at least 8) of a link noted earlier.

    Raises BadInput when there is no log or it cannot be opened.
    """
    with reader(path) as db:
        return _verdict(db, noted)


def _count(db: sqlite3.Connection, table: str) -> int:
    return int(db.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def _noted(db: sqlite3.Connection, noted: str) -> Broken | None:
    start = noted.strip().lower()
    sql = "SELECT 1 FROM event WHERE substr(lower(hex(hash)), 1, ?) = ?"
    if len(start) >= _NOTED_LEAST and db.execute(sql, (len(start), start)).fetchone():
        return None
    return Broken(f"the record with link {noted}", "it is not in the log")
