"""The writer's transactions: notes to chained events and cycles, samples to tail and chunks.

Knows no thread and no clock.  Everything runs inside a transaction that the writer opened; after
an error the writer rolls back and makes a new ``Store`` from what the file holds.
"""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from kiosk.records import traces
from kiosk.records.chain import START, canonical, link, storable
from kiosk.records.standing import after, end_ms, standing_of

CHUNK_SAMPLES = 600

_NUMBERS = ("minimum_kpa", "start_kpa", "start_vacuum_kpa", "lowest_ratio", "lowest_vacuum_kpa",
            "cutting_s")  # fmt: skip
SEALED = ("number", "id", "run", "plan", "opened_ms", "opened_utc", "opened_event", "closed_ms",
          "closed_utc", "closed_event", "result", *_NUMBERS, "alarms")  # fmt: skip
_PLAN_TEXTS = ("job_id", "title", "revision", "site_digest")
_ADD_TO_BUCKET = """
    INSERT INTO pyramid VALUES (?, ?, ?, ?, ?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET n = n + excluded.n, missing = missing + excluded.missing,
        low = min(coalesce(low, excluded.low), coalesce(excluded.low, low)),
        high = max(coalesce(high, excluded.high), coalesce(excluded.high, high)),
        total = total + excluded.total"""


@dataclass(frozen=True, slots=True)
class Moment:
    """When: ms of the monotonic clock, and the label."""

    mono_ms: int
    utc: str


@dataclass(frozen=True, slots=True)
class NoteItem:
    """A note as it was handed over; ``number`` counts from 1 within the run."""

    number: int
    at: Moment
    kind: str
    cycle: str | None
    data: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class PlanItem:
    """A plan to keep; numbered with the notes."""

    number: int
    digest: str
    json: str


@dataclass(frozen=True, slots=True)
class SampleItem:
    """One sample of one channel; None for no valid value."""

    channel: str
    mono_ms: int
    value_kpa: float | None


@dataclass(frozen=True, slots=True)
class RunItem:
    """One run of a guard."""

    epoch: str
    boot_id: str
    library: str


def utc_ms(utc: str) -> int:
    """Milliseconds since 1970-01-01 of an RFC 3339 label; ValueError when it is none."""
    moment = datetime.fromisoformat(utc)
    return round((moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp() * 1000)


def _number(value: object) -> float | None:
    if not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:  # a whole number beyond any double
        return None
    return number if math.isfinite(number) else None


def _text(value: object) -> str | None:
    return str(value) if isinstance(value, str) else None


def _offset_ms(db: sqlite3.Connection, boot_id: str, at: Moment) -> int:
    """Axis minus monotonic clock.  One boot keeps one offset; a new boot goes by the wall clock,
    but never back behind what is logged."""
    last = end_ms(db)
    row = db.execute("SELECT boot_id, offset_ms FROM run ORDER BY number DESC LIMIT 1").fetchone()
    if row is not None and row[0] == boot_id and (last is None or at.mono_ms + row[1] >= last):
        return int(row[1])
    by_wall_clock = utc_ms(at.utc) - at.mono_ms
    return by_wall_clock if last is None else max(by_wall_clock, last + 1 - at.mono_ms)


def begin_run(db: sqlite3.Connection, run: RunItem, at: Moment) -> int:
    """Add a run; returns its number."""
    offset_ms = _offset_ms(db, run.boot_id, at)
    values = (run.epoch, run.boot_id, offset_ms, at.mono_ms + offset_ms, at.utc, run.library)
    sql = """INSERT INTO run (epoch, boot_id, offset_ms, at_ms, utc, library)
             VALUES (?, ?, ?, ?, ?, ?)"""
    return int(db.execute(sql, values).lastrowid or 0)


def mark_of(db: sqlite3.Connection, run: int) -> bytes:
    """The hash of the run's first event: no other log has it.  LookupError when there is none."""
    sql = "SELECT hash FROM event WHERE run = ? ORDER BY number LIMIT 1"
    row = db.execute(sql, (run,)).fetchone()
    if row is None:
        raise LookupError("the log does not know this run")
    return bytes(row[0])


class Store:
    """The open log of one run that ``begin_run`` added."""

    def __init__(self, db: sqlite3.Connection, run: int) -> None:
        self._db = db
        self._run = run
        self.offset_ms = int(self._one("SELECT offset_ms FROM run WHERE number = ?", run)[0])
        row = self._one("SELECT number, hash FROM event ORDER BY number DESC LIMIT 1")
        self._event: int = row[0] if row else 0
        self._hash: bytes = row[1] if row else START
        row = self._one("SELECT number, hash FROM chunk ORDER BY number DESC LIMIT 1")
        self._chunk: int = row[0] if row else 0
        self._chunk_hash: bytes = row[1] if row else START
        self._standing = standing_of(db)
        self._tail = dict(db.execute("SELECT channel, sum(n) FROM tail GROUP BY channel"))
        self._noted = self._one("SELECT coalesce(max(note), 0) FROM event WHERE run = ?", run)[0]

    def _one(self, sql: str, *values: object) -> Any:
        return self._db.execute(sql, values).fetchone()

    def _axis(self, at: Moment) -> int:
        return at.mono_ms + self.offset_ms

    # Events and cycles

    def event(
        self,
        kind: str,
        data: Mapping[str, object],
        at: Moment,
        cycle: str | None = None,
        note: int | None = None,
    ) -> None:
        """Add one event to the chain."""
        number, text = self._event + 1, canonical(data)
        record = (number, self._run, note, self._axis(at), at.utc, cycle, kind, text)
        new_hash = link(self._hash, record)
        sql = "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
        self._db.execute(sql, (*record, self._hash, new_hash))
        self._event, self._hash = number, new_hash

    def note(self, item: NoteItem) -> None:
        """Add a note, unless an earlier try already did, and what follows from it."""
        if item.number <= self._noted:
            return
        data = storable(item.data)
        self.event(item.kind, data, item.at, item.cycle, item.number)
        self._noted = item.number
        self._standing = after(self._standing, item.kind, data)
        if item.kind == "cycle" and item.cycle is not None:
            self._open_cycle(item.cycle, item.at, _text(data.get("digest")))
            if data.get("change") == "closed":
                self._close_cycle(item.cycle, item.at, data)

    def _open_cycle(self, cycle: str, at: Moment, digest: str | None) -> None:
        if self._one("SELECT 1 FROM cycle WHERE id = ?", cycle) is not None:
            return
        plan = digest or self._standing.plan
        values = (cycle, self._run, plan, self._axis(at), at.utc, self._event)
        sql = """INSERT INTO cycle (id, run, plan, opened_ms, opened_utc, opened_event)
                 VALUES (?, ?, ?, ?, ?, ?)"""
        self._db.execute(sql, values)

    def _close_cycle(self, cycle: str, at: Moment, data: Mapping[str, object]) -> None:
        listed = data.get("alarms")
        alarms = canonical(listed if isinstance(listed, list) else [])
        numbers = [_number(data.get(key)) for key in _NUMBERS]
        names = ("closed_ms", "closed_utc", "closed_event", "result", *_NUMBERS, "alarms")
        values = (self._axis(at), at.utc, self._event, _text(data.get("result")), *numbers, alarms)
        assigned = ", ".join(f"{name} = ?" for name in names)
        sql = f"UPDATE cycle SET {assigned} WHERE id = ? AND seal IS NULL"
        if self._db.execute(sql, (*values, cycle)).rowcount == 1:
            self._seal(cycle)

    def _seal(self, cycle: str) -> None:
        row = self._one(f"SELECT {', '.join(SEALED)} FROM cycle WHERE id = ?", cycle)
        self._db.execute("UPDATE cycle SET seal = ? WHERE id = ?", (link(self._hash, row), cycle))

    def plan(self, item: PlanItem, at: Moment) -> None:
        """Keep a plan, once, and bind its text into the chain."""
        try:
            row = json.loads(item.json)
        except (ValueError, RecursionError):
            row = {}
        texts = [_text(row.get(key)) if isinstance(row, dict) else None for key in _PLAN_TEXTS]
        sha256 = hashlib.sha256(item.json.encode()).digest()
        values = (item.digest, *texts, self._axis(at), at.utc, item.json, sha256)
        sql = "INSERT INTO plan VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING"
        if self._db.execute(sql, values).rowcount == 1:
            kept = {"change": "plan_kept", "digest": item.digest, "sha256": sha256.hex()}
            self.event("log", kept, at)

    # Traces

    def samples(self, items: Sequence[SampleItem]) -> None:
        """Add samples to the tail of their channels, and make chunks of full tails."""
        by_channel: dict[str, list[tuple[int, int | None]]] = {}
        for item in items:
            sample = (item.mono_ms + self.offset_ms, traces.to_count(item.value_kpa))
            by_channel.setdefault(item.channel, []).append(sample)
        for channel, found in by_channel.items():
            for start in range(0, len(found), CHUNK_SAMPLES):
                self._add_to_tail(channel, found[start : start + CHUNK_SAMPLES])

    def _add_to_tail(self, channel: str, found: list[tuple[int, int | None]]) -> None:
        data = traces.encode(traces.block_of(found))
        sql = "INSERT INTO tail (channel, from_ms, to_ms, n, data) VALUES (?, ?, ?, ?, ?)"
        times = [at for at, _ in found]
        self._db.execute(sql, (channel, min(times), max(times), len(found), data))
        self._tail[channel] = self._tail.get(channel, 0) + len(found)
        if self._tail[channel] >= CHUNK_SAMPLES:
            self._make_chunk(channel)

    def end_tails(self) -> None:
        """Make chunks of every tail: a chunk never spans two runs."""
        for channel in [name for name, n in self._tail.items() if n]:
            self._make_chunk(channel)

    def _make_chunk(self, channel: str) -> None:
        rows = self._db.execute(
            "SELECT data FROM tail WHERE channel = ? ORDER BY number", (channel,)
        )
        try:
            block = traces.joined([traces.decode(row[0]) for row in rows])
        except ValueError as error:
            raise sqlite3.DatabaseError(str(error)) from error
        self._add_chunk(channel, block)
        for length_ms in traces.LENGTHS_MS:
            for b in traces.buckets(block, length_ms):
                values = (channel, length_ms, b.from_ms, b.n, b.missing, b.low, b.high, b.total)
                self._db.execute(_ADD_TO_BUCKET, values)
        self._db.execute("DELETE FROM tail WHERE channel = ?", (channel,))
        self._tail[channel] = 0

    def _add_chunk(self, channel: str, block: traces.Block) -> None:
        data, number = traces.encode(block), self._chunk + 1
        times = block.times_ms
        record = (number, channel, int(times.min()), int(times.max()), int(times.size))
        new_hash = link(self._chunk_hash, record, data)
        sql = "INSERT INTO chunk VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
        self._db.execute(sql, (*record, data, self._chunk_hash, new_hash))
        self._chunk, self._chunk_hash = number, new_hash

    def heartbeat(self, at: Moment) -> None:
        """Write the row that shows that the log is written when there is nothing else."""
        sql = "INSERT OR REPLACE INTO heartbeat VALUES (1, ?, ?, ?)"
        self._db.execute(sql, (self._run, self._axis(at), at.utc))
