"""Reads past cycles from the log, in a thread of its own: no drawing waits for the disk.  No Kivy.

It only reads, at most ``MOST`` cycles and ``COLUMNS`` columns of a trace, and holds the newest
answer.  The thread begins with the first question.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput
from kiosk.records import review
from kiosk.records.rows import Column, CycleRecord, CycleRow

MOST = 96  # cycles of the list; `holdpoint log list` has them all
COLUMNS = 240
BEFORE_MS, AFTER_MS = 10_000, 5_000  # of the trace, around a cycle


@dataclass(frozen=True, slots=True)
class Opened:
    """One cycle: its row, who was signed on, the levels of its plan, one gauge's trace.

    ``causes``: those that were picked at a reset, by code.
    """

    row: CycleRow
    who: tuple[str, ...] = ()
    plan: dict[str, Any] | None = None
    gauge: str = ""
    columns: tuple[Column, ...] = ()
    causes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """The answer to ``asked``, a cycle's id or empty for the list; ``trouble`` says why not."""

    asked: str
    cycles: tuple[CycleRow, ...] = ()
    opened: Opened | None = None
    trouble: str = ""


class Book:
    """Past cycles of the log at ``path``; every method returns at once."""

    def __init__(self, path: Path, read: Callable[[Path, str], Found] | None = None) -> None:
        self._path, self._read = path, read or look_up
        self._asked: str | None = None
        self._found: Found | None = None
        self._news = threading.Condition()
        self._thread: threading.Thread | None = None

    def ask(self, key: str = "") -> None:
        """Ask for the list, or for the cycle of that id; an earlier question is dropped."""
        with self._news:
            self._asked, self._found = key, None
            self._news.notify()
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="book", daemon=True)
                self._thread.start()

    def found(self) -> Found | None:
        """The answer to what was asked last; None until it is there."""
        return self._found

    def _work(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._asked is not None)
                key, self._asked = self._asked or "", None
            found = self._look(key)
            with self._news:
                if self._asked is None:
                    self._found = found

    def _look(self, key: str) -> Found:
        try:
            return self._read(self._path, key)
        except BadInput as bad:
            return Found(key, trouble=str(bad))
        except Exception as bug:  # top of the thread: the screen says it and goes on
            return Found(key, trouble=f"{type(bug).__name__}: {bug}")


def look_up(path: Path, key: str) -> Found:
    """Read the list, or one cycle with its trace.  Raises BadInput."""
    if not key:
        return Found(key, review.cycles(path, MOST))
    record = review.cycle(path, key)
    plan = None if record.plan_json is None else json.loads(record.plan_json)
    gauge, columns = _trace(path, record.cycle)
    row = record.cycle
    opened = Opened(row, _who(record), plan, gauge, columns, _causes(record))
    return Found(key, opened=opened)


def _who(record: CycleRecord) -> tuple[str, ...]:
    """Everyone who asked for something, in the order of the first time."""
    events = (*record.set_up, *record.events)
    names = [event.data.get("user") for event in events if event.kind == "command"]
    return tuple(dict.fromkeys(str(name) for name in names if name))


def _causes(record: CycleRecord) -> tuple[str, ...]:
    """What was picked at each reset that was done."""
    asked: list[Mapping[str, Any]] = [e.data for e in record.events if e.kind == "command"]
    resets = [row for row in asked if row.get("name") == "reset" and not row.get("refused")]
    causes = [row.get("arguments", {}).get("cause") for row in resets]
    return tuple(dict.fromkeys(str(cause) for cause in causes if cause))


def _trace(path: Path, row: CycleRow) -> tuple[str, tuple[Column, ...]]:
    """The first gauge, by name, that has a trace of this cycle."""
    from_ms = row.opened_ms - BEFORE_MS
    to_ms = (review.end_ms(path) if row.closed_ms is None else row.closed_ms) + AFTER_MS
    for name in review.channels(path):
        columns = review.trace(path, name, from_ms, max(to_ms, from_ms + 1), COLUMNS)
        if any(column.n or column.missing for column in columns):
            return name, columns
    return "", ()
