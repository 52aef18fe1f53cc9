"""The log as CSV (RFC 4180), for a spreadsheet: cycles, events, or the samples of a trace.

A cell of text that begins with = + - @, a tab or a carriage return gets an apostrophe before it,
so that a spreadsheet does not run it: OWASP, "CSV Injection".
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

from kiosk.records import review
from kiosk.records.chain import canonical
from kiosk.records.rows import CycleRow, EventRow

Row = Sequence[object]

_ALL = 2**62  # more than any log holds


def guarded(cell: object) -> object:
    """A cell that a spreadsheet takes as what it is; None becomes empty, numbers stay numbers."""
    if cell is None:
        return ""
    if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")):
        return "'" + cell
    return cell


def axis_utc(at_ms: int) -> str:
    """A label for a time on the axis of the log: near UTC, see ``docs/log.md``."""
    moment = datetime.fromtimestamp(at_ms / 1000, UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def cycle_rows(path: Path, site_digest: str | None = None) -> Iterator[Row]:
    """A head and one row a cycle, oldest first."""
    names = [field.name for field in fields(CycleRow)]
    yield names
    for row in reversed(review.cycles(path, _ALL, site_digest)):
        cells = [getattr(row, name) for name in names]
        yield [" ".join(cell) if isinstance(cell, tuple) else cell for cell in cells]


def event_rows(path: Path, cycle_id: str | None = None) -> Iterator[Row]:
    """A head and one row an event, in order; ``data`` is JSON."""
    names = [field.name for field in fields(EventRow)]
    yield names
    for row in review.events(path, cycle_id):
        yield [canonical(row.data) if n == "data" else getattr(row, n) for n in names]


def sample_rows(path: Path, channel: str, from_ms: int, to_ms: int) -> Iterator[Row]:
    """A head and one row a sample; no value is an empty cell."""
    yield ("at_ms", "utc", "channel", "vacuum_kpa")
    for at_ms, vacuum_kpa in review.samples(path, channel, from_ms, to_ms):
        yield (at_ms, axis_utc(at_ms), channel, vacuum_kpa)


def write(rows: Iterable[Row], file: TextIO) -> int:
    """Write rows as CSV; returns how many there were, without the head."""
    out = csv.writer(file, lineterminator="\r\n")
    count = -1
    for row in rows:
        out.writerow([guarded(cell) for cell in row])
        count += 1
    return max(count, 0)
