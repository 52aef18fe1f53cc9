"""Scenes of the Cycle book: being read, empty, unreadable, a full list, and records of cycles."""

from __future__ import annotations

import math
from dataclasses import replace

import screen_scenes as scenes
from screen_scenes import DESK

from kiosk.interlock.snapshot import Snapshot
from kiosk.records.rows import Column, CycleRow
from kiosk.screen.book import Found, Opened
from kiosk.screen.show.shown import Desk

Scene = tuple[Snapshot, Desk]
RESULTS = ("done", "hold_lost", "no_permit", "cancelled", "unconfirmed", "not_run")
PLAN = {"air_kpa": 100.4, "minimum_kpa": 51.2, "required_kpa": 52.7, "start_kpa": 60.4}


def row(number: int, result: str | None = "done", alarms: tuple[str, ...] = ()) -> CycleRow:
    """A cycle; without a result it is not closed."""
    closed = None if result is None else 61_000
    ratio = {None: None, "not_run": None, "hold_lost": 0.93}.get(result, 1.18)
    return CycleRow(
        number, f"e1-{number}", 1, "d" * 64, "SR-210", "Shelf rail, beech", "C", 1_000,
        f"2026-11-27T{8 + number // 60:02d}:{number % 60:02d}:10.000Z", closed,
        None if closed is None else "2026-11-27T10:00:00.000Z", result,
        None if closed is None else 51.2, None if closed is None else 60.4, 66.0, ratio,
        48.3, 74.0, alarms,
    )  # fmt: skip


def columns(lost: bool = False) -> tuple[Column, ...]:
    """The gauge of one cycle: drawn down, a stretch without a valid value, a fall at the end."""
    found = []
    for at in range(240):
        level = 66.0 * (1.0 - math.exp(-at / 8.0)) - (max(0, at - 180) * 0.35 if lost else 0.0)
        gap, none = 100 <= at < 108, at < 4
        n = 0 if gap or none else 5
        kpa = (None, None, None) if not n else (level - 0.6, level, level + 0.6)
        found.append(Column(at * 300, (at + 1) * 300, n, 5 if gap else 0, *kpa))
    return tuple(found)


def book_scenes() -> dict[str, Scene]:
    """Every state of the Cycle book."""
    snap = scenes.no_plan("SELECT JOB")
    desk = replace(DESK, has_book=True)
    listed, one = replace(desk, overlay="cycles"), replace(desk, overlay="cycle", about="e1-2")
    many = tuple(row(n, RESULTS[n % 6]) for n in range(19, 0, -1))
    lost = Opened(row(2, "hold_lost", ("A01", "A03", "A07", "A16", "A14")),
                  ("Operator 2", "Supervisor 1"), PLAN, "table", columns(lost=True),
                  ("leak_at_edge",))  # fmt: skip
    still = Opened(row(2, None), (), PLAN, "table", columns())
    bare = Opened(row(2, "cancelled"))
    return {
        "select-job-book": (snap, desk),
        "cycles-reading": (snap, listed),
        "cycles-none": (snap, replace(listed, book=Found(""))),
        "cycles-trouble": (
            snap,
            replace(listed, book=Found("", trouble="/var/lib/holdpoint/log.db: cannot be read: "
                                       "file is not a database; see `holdpoint log verify`")),
        ),
        "cycles-few": (snap, replace(listed, book=Found("", (row(2, None), row(1))))),
        "cycles": (snap, replace(listed, book=Found("", many))),
        "cycle-lost": (snap, replace(one, book=Found("e1-2", opened=lost))),
        "cycle-done": (
            snap,
            replace(one, book=Found("e1-2", opened=replace(lost, row=row(2), causes=()))),
        ),
        "cycle-open": (snap, replace(one, book=Found("e1-2", opened=still))),
        "cycle-bare": (snap, replace(one, book=Found("e1-2", opened=bare))),
        "cycle-reading": (snap, replace(one, book=Found(""))),
    }  # fmt: skip
