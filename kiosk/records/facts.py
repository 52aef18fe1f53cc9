"""The facts of a cycle, step by step, so that its decisions can be made again from the log.

A cycle's first piece holds the memory before the step in which it opened and that step's facts in
full; every later step holds what changed.  Times are whole microseconds, as the guard's clock gives
them, told as ages against the step; what is no such number stands as it is.  A piece is JSON,
compressed (RFC 1950) and written as text (RFC 4648, base 64), in an event of the kind ``facts``.

Left out: rates, the time of the last write and the read-back of ALIVE and BEACON, which decide
nothing, and how late a step was while that is less than what counts.  A value that a 32-bit number
gives exactly is told with the 9 digits that such a number has at most (IEEE 754, 5.12.2).
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from kiosk.interlock.commands import Command
from kiosk.interlock.decision import Decision, Note
from kiosk.interlock.delays import LOOP_LATE_S
from kiosk.interlock.facts import NOBODY, Facts, JobOffer, PeopleFacts, PlannerAnswer
from kiosk.interlock.memory import Memory
from kiosk.interlock.reading import Fault, Reading, Signals
from kiosk.interlock.signals import PERMIT_CONTACTS
from kiosk.records.thaw import frozen, thawed

PIECE_STEPS = 400
# Fields that are told as they are when they change; the others have a form of their own.
PLAIN = ("commands", "planner", "jobs", "self_test", "people", "clock_synced", "leak_ratio",
         "leak_zone", "loop_late_s")  # fmt: skip

Row = dict[str, Any]


class Piece:
    """A piece under way, compressed as its rows come, so that no step has a whole one to pack."""

    def __init__(self, head: Mapping[str, Any]) -> None:
        """``head``: what the piece holds beside its rows."""
        self._zlib = zlib.compressobj(9)
        self._done = bytearray()
        self.steps = 0
        self.day = ""  # of the newest row that tells its wall clock
        self._write(_json({**head, "rows": []})[:-2])  # list and object stay open

    def add(self, row: Row) -> None:
        """One step's row."""
        self._write(("," if self.steps else "") + _json(row))
        self.steps += 1

    def text(self) -> str:
        """The whole piece as text; nothing can be added after."""
        self._write("]}")
        return base64.b64encode(self._done + self._zlib.flush()).decode("ascii")

    def _write(self, text: str) -> None:
        self._done += self._zlib.compress(text.encode())


def _json(row: Mapping[str, Any]) -> str:
    return json.dumps(row, separators=(",", ":"))


def unpacked(text: str) -> Row:
    """The piece of a text.  Raises ValueError when it is damaged."""
    try:
        return dict(json.loads(zlib.decompress(base64.b64decode(text, validate=True))))
    except zlib.error as error:
        raise ValueError(str(error)) from error


def fingerprint(before: int, decision: Decision) -> int:
    """A check sum over what was decided so far: state, contacts, checks, alarms and replies."""
    shown = decision.snapshot
    said = (
        shown.state, shown.outputs, [row.holds for row in shown.permissives],
        [(a.code, a.active, a.acknowledged, a.latched) for a in shown.alarms],
        [(reply.id, reply.refused) for reply in decision.replies],
    )  # fmt: skip
    return zlib.crc32(json.dumps(said).encode(), before)


# -- times -------------------------------------------------------------------------------------


def _us(at_s: float) -> int | None:
    """Whole microseconds, when it is exactly that."""
    us = round(at_s * 1e6) if abs(at_s) < 1e9 else 0
    return us if us / 1e6 == at_s else None


def _age(at_s: float | None, now_us: int | None) -> Any:
    """A time against the step's: microseconds ago, or the time itself in a list."""
    us = None if at_s is None else _us(at_s)
    if us is None or now_us is None:
        return [at_s]
    return now_us - us


def _time(age: Any, now_us: int | None) -> float | None:
    if isinstance(age, list):
        at_s: float | None = age[0]
        return at_s
    assert now_us is not None
    return (now_us - int(age)) / 1e6


# -- one step ----------------------------------------------------------------------------------


def told(facts: Facts) -> Facts:
    """The facts that decide: what decides nothing is left out."""
    late_s = facts.loop_late_s if facts.loop_late_s >= LOOP_LATE_S else 0.0
    contacts = facts.contacts
    if isinstance(contacts, Signals):
        values = {key: value for key, value in contacts.values.items() if key in PERMIT_CONTACTS}
        contacts = Signals(contacts.taken_s, values)
    return replace(facts, rates_hz={}, written_s=None, loop_late_s=late_s, contacts=contacts)


def difference(before: Facts, after: Facts) -> Row:
    """What a step's facts have that the last one's had not; both as ``told`` gives them."""
    now_us = _us(after.now_s)
    row: Row = {"n": [after.now_s] if now_us is None else _step_us(before, now_us)}
    for name in after.gauges:
        old, new = before.gauges.get(name), after.gauges[name]
        if new != old:
            short = isinstance(new, Reading) and new.raw == new.vacuum_kpa == _single(new.raw)
            row.setdefault("f" if short else "g", {})[name] = _sample(new, now_us, short)
    if after.inputs != before.inputs:
        row["i"] = _signals(before.inputs, after.inputs, now_us)
    if after.contacts != before.contacts:
        row["c"] = _signals(before.contacts, after.contacts, _taken_us(after.inputs) or now_us)
    if after.screen != before.screen:
        row["s"] = [after.screen.client, _age(after.screen.seen_s, now_us)]
    if after.log != before.log:
        row["l"] = _log(before, after, now_us)
    changed = {name: frozen(getattr(after, name)) for name in PLAIN
               if getattr(after, name) != getattr(before, name)}  # fmt: skip
    return {**row, **changed}


def _step_us(before: Facts, now_us: int) -> Any:
    last_us = _us(before.now_s)
    return [now_us / 1e6] if last_us is None else now_us - last_us


def _single(value: float) -> float:
    """The 32-bit number nearest to a value; the value itself when it is beyond them."""
    try:
        return float(struct.unpack("<f", struct.pack("<f", value))[0])
    except OverflowError:
        return value


def _taken_us(signals: Any) -> int | None:
    """When the inputs were known: what the contacts' time, just after it, is told against."""
    return _us(signals.taken_s) if isinstance(signals, Signals) else None


def _sample(sample: Any, now_us: int | None, short: bool) -> Any:
    if isinstance(sample, Reading):
        kpa = float(f"{sample.vacuum_kpa:.9g}") if short else sample.vacuum_kpa
        row = [_age(sample.taken_s, now_us), kpa]
        if short:
            return row
        return row if sample.raw == sample.vacuum_kpa else [*row, sample.raw]
    return frozen(sample)


def _signals(before: Any, after: Any, now_us: int | None) -> Any:
    if not isinstance(after, Signals):
        return frozen(after)
    age = _age(after.taken_s, now_us)
    same = isinstance(before, Signals) and before.values == after.values
    return [age] if same else [age, dict(after.values)]


def _log(before: Facts, after: Facts, now_us: int | None) -> Any:
    age = _age(after.log.last_commit_s, now_us)
    same = replace(before.log, last_commit_s=None) == replace(after.log, last_commit_s=None)
    return [age] if same else [age, frozen(after.log)]


def followed(before: Facts, row: Row) -> Facts:
    """The facts of a step from the last one's and its row."""
    step = row["n"]
    last_us = _us(before.now_s)
    now_us = None if isinstance(step, list) else (last_us or 0) + int(step)
    now_s = step[0] if now_us is None else now_us / 1e6
    now_us = _us(now_s)
    changes: Row = {"now_s": now_s}
    gauges = {name: _sample_of(text, now_us) for name, text in row.get("g", {}).items()}
    for name, (age, kpa) in row.get("f", {}).items():
        gauges[name] = _sample_of([age, _single(kpa)], now_us)
    if gauges:
        changes["gauges"] = {**before.gauges, **gauges}
    inputs = before.inputs
    if "i" in row:
        inputs = changes["inputs"] = _signals_of(before.inputs, row["i"], now_us)
    if "c" in row:
        at_us = _taken_us(inputs) or now_us
        changes["contacts"] = _signals_of(before.contacts, row["c"], at_us)
    if "s" in row:
        client, age = row["s"]
        changes["screen"] = replace(before.screen, client=client, seen_s=_time(age, now_us))
    if "l" in row:
        log = before.log if len(row["l"]) == 1 else thawed(type(before.log), row["l"][1])
        changes["log"] = replace(log, last_commit_s=_time(row["l"][0], now_us))
    changes |= {name: _thawed_field(name, row[name]) for name in PLAIN if name in row}
    return replace(before, **changes)


def _sample_of(text: Any, now_us: int | None) -> Any:
    if not isinstance(text, list):
        return None if text is None else thawed(Fault, text)
    age, kpa, *raw = text
    return Reading(kpa, raw[0] if raw else kpa, _time(age, now_us) or 0.0)


def _signals_of(before: Any, text: Any, now_us: int | None) -> Any:
    if not isinstance(text, list):
        return None if text is None else thawed(Fault, text)
    values = text[1] if len(text) > 1 else before.values
    return Signals(_time(text[0], now_us) or 0.0, values)


def _thawed_field(name: str, value: Any) -> Any:
    return getattr(thawed(_Plain, {name: value}), name)


@dataclass(frozen=True, slots=True)
class _Plain:
    """The fields of ``PLAIN`` with their types, each with a default."""

    commands: tuple[Command, ...] = ()
    planner: PlannerAnswer | None = None
    jobs: tuple[JobOffer, ...] = ()
    self_test: bool = False
    people: PeopleFacts = NOBODY
    clock_synced: bool | None = None
    leak_ratio: float | None = None
    leak_zone: str | None = None
    loop_late_s: float = 0.0


# -- a cycle -----------------------------------------------------------------------------------


class Keeper:
    """Keeps the facts of each open cycle and hands them out as notes.  Knows no clock, no file."""

    def __init__(self) -> None:
        self._last: Facts | None = None
        self._cycle: str | None = None
        self._piece = Piece({})
        self._sum = 0

    def keep(self, before: Memory, facts: Facts, utc: str, decision: Decision) -> Iterator[Note]:
        """One step; pieces that are full, or the last of a cycle."""
        opened = next((n.cycle for n in decision.notes if _is(n, "opened")), None)
        if self._cycle is not None:
            yield from self._add(facts, utc, decision)
        if opened is not None and self._cycle is None:
            self._begin(opened, before, facts, utc)
            yield from self._add(facts, utc, decision)

    def _begin(self, cycle: str, before: Memory, facts: Facts, utc: str) -> None:
        self._cycle, self._sum, self._last = cycle, 0, told(facts)
        self._piece = Piece({"memory": frozen(before), "facts": frozen(self._last), "utc": utc})

    def _add(self, facts: Facts, utc: str, decision: Decision) -> Iterator[Note]:
        last = any(_is(n, "closed") and n.cycle == self._cycle for n in decision.notes)
        after = told(facts)
        assert self._last is not None
        row = difference(self._last, after)
        if decision.notes or utc[:10] != self._piece.day:
            row["u"], self._piece.day = utc, utc[:10]
        self._piece.add(row)
        self._last = replace(after, commands=(), planner=None)
        self._sum = fingerprint(self._sum, decision)
        if last or self._piece.steps >= PIECE_STEPS:
            steps, text = self._piece.steps, self._piece.text()
            yield Note("facts", self._cycle, {"steps": steps, "sum": self._sum, "piece": text})
            self._piece = Piece({})
        if last:
            self._cycle = None


def _is(note: Note, change: str) -> bool:
    return note.kind == "cycle" and note.data.get("change") == change
