"""Makes the decisions of a logged cycle again from its facts, and tells where they differ.

The same program must decide the same; another version may differ, and then this shows in what.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from kiosk.interlock.decision import Decision, Note
from kiosk.interlock.facts import Facts
from kiosk.interlock.memory import Memory
from kiosk.interlock.step import step
from kiosk.mistakes import BadInput, Mistake
from kiosk.records import review
from kiosk.records.chain import canonical, storable
from kiosk.records.facts import fingerprint, followed, unpacked
from kiosk.records.rows import EventRow
from kiosk.records.thaw import thawed

_NOT_DECIDED = ("facts", "person", "clock", "log")  # kinds of events that no step makes
_ADDED = ("text", "language")  # by the guard, to an alarm's row
MOST_TOLD = 5


@dataclass(frozen=True, slots=True)
class Replayed:
    """What came of it.  ``differences`` has one line each, the first ``MOST_TOLD``."""

    cycle: str
    steps: int
    events: int
    whole: bool  # the facts reach to the end of the cycle
    differences: tuple[str, ...]


def replay(path: Path, key: str) -> Replayed:
    """Replay the cycle with that id or number, or the ``last`` one.  Raises BadInput."""
    cycle = review.cycle(path, key).cycle
    logged = [e for e in review.events(path, cycle.id) if e.kind not in _NOT_DECIDED]
    pieces = review.facts(path, cycle.id)
    if not pieces:
        words = f"cycle {cycle.id} has no facts in it: it was made before they were kept"
        raise BadInput([Mistake(str(path), None, words)])
    try:
        made, steps, wrong = _again(pieces, cycle.id)
    except (ValueError, KeyError, TypeError) as error:
        words = f"the facts of cycle {cycle.id} cannot be read: {error}"
        raise BadInput([Mistake(str(path), None, words)]) from error
    whole = any(n.kind == "cycle" and n.data.get("change") == "closed" for n in made)
    wrong += _compared(made, logged if whole else logged[: len(made)])
    return Replayed(cycle.id, steps, len(made), whole, tuple(wrong[:MOST_TOLD]))


def _again(pieces: tuple[EventRow, ...], cycle: str) -> tuple[list[Note], int, list[str]]:
    """Notes of the cycle as they are decided now, steps, and pieces that do not add up."""
    made: list[Note] = []
    wrong: list[str] = []
    steps = total = 0
    run = _steps(pieces)
    for piece in pieces:
        for _ in range(int(str(piece.data["steps"]))):
            decision = next(run)
            total, steps = fingerprint(total, decision), steps + 1
            made += [note for note in decision.notes if note.cycle == cycle]
        if total != piece.data["sum"]:
            wrong.append(f"event {piece.number}: within its {piece.data['steps']} steps")
    return made, steps, wrong


def _steps(pieces: tuple[EventRow, ...]) -> Iterator[Decision]:
    """Each step of the cycle, decided again."""
    whole = [unpacked(str(piece.data["piece"])) for piece in pieces]
    memory, facts = thawed(Memory, whole[0]["memory"]), thawed(Facts, whole[0]["facts"])
    utc = str(whole[0]["utc"])
    for row in (row for piece in whole for row in piece["rows"]):
        utc = str(row.get("u", utc))
        facts = followed(facts, row)
        memory, decision = step(memory, facts, utc)
        facts = _spent(facts)
        yield decision


def _spent(facts: Facts) -> Facts:
    """Commands and a planner's answer belong to one step."""
    return replace(facts, commands=(), planner=None)


def _compared(made: list[Note], logged: list[EventRow]) -> list[str]:
    now = [f"{note.kind} {canonical(storable(note.data))}" for note in made]
    then = [f"{event.kind} {canonical(_bare(event.data))}" for event in logged]
    wrong = [
        f"event {event.number}: logged {old[:200]}; now {new[:200]}"
        for event, old, new in zip(logged, then, now, strict=False)
        if old != new
    ]
    if len(now) != len(then):
        wrong.append(f"{len(then)} events were logged, {len(now)} are made now")
    return wrong


def _bare(data: Any) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key not in _ADDED}
