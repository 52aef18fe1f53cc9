"""One invented machine's log, written by the real writer.

A small plan, the notes of one cycle as ``kiosk.interlock.decision.Note`` describes them, and
waiting with a deadline.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from kiosk.interlock.decision import Note
from kiosk.job.plan import Finding, Governed, Plan, Seat, SeatState, Zone
from kiosk.records import review
from kiosk.records.writer import Writer

UTC = "2026-11-25T09:00:00.000Z"
DIGEST = "d1" * 32
_TICK = threading.Event()  # never set: only waited on


def until(true: Callable[[], bool], deadline_s: float = 20.0) -> None:
    """Wait for a condition; fails when it does not come."""
    end_s = time.monotonic() + deadline_s
    while not true():
        assert time.monotonic() < end_s, "the condition did not come in time"
        _TICK.wait(0.005)


def a_plan(digest: str = DIGEST, site_digest: str = "5e" * 32) -> Plan:
    governed = Governed("slip", (10.0, 20.0, 22.0), (10.0, 20.0, -0.5), (150.0, 0.0, 40.0), 0.0,
                        2.0, 3, 148, 42.0)  # fmt: skip
    seats = tuple(
        Seat(f"{zone}{k}", zone, 100.0 * k, 0.0, SeatState.UP if k < 3 else SeatState.DOWN)
        for zone in "AB"
        for k in (1, 2, 3)
    )
    zones = tuple(Zone(z, (f"{z}1", f"{z}2"), (f"{z}3",)) for z in "AB")
    return Plan(
        format=1, digest=digest, site_digest=site_digest, job_id="SR-210",
        title="Shelf rail, beech", revision="C", job_file="shelf-rail.job.toml", material="beech",
        thickness_mm=22.0, surface="clean", verdict="holds", model_kpa=42.0, minimum_kpa=42.0,
        required_kpa=44.0, start_kpa=50.3, predicted_kpa=70.0, ceiling_kpa=80.0, air_kpa=100.0,
        drop_kpa=1.0, gauge_error_kpa=1.0, allowances=(), governed_by=governed, runners_up=(),
        load_cases=12, seats=seats, zones=zones, outline=((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)),
        openings=(), keeps=(), paths=(), pins=(), tools=(), program=None, flex=None,
        findings=(Finding("loose_offcut", "warning", "An offcut comes loose."),),
        seat_diameter_mm=82.0, outer_diameter_mm=72.0,
    )  # fmt: skip


def state(frm: str, to: str, event: str = "e", cycle: str | None = None) -> Note:
    return Note("state", cycle, {"event": event, "from": frm, "to": to})


def adopted(digest: str = DIGEST) -> Note:
    return Note(
        "plan", None, {"change": "adopted", "digest": digest, "job_id": "SR-210", "words": ""}
    )


def zone(name: str) -> Note:
    data = {"what": "zone", "zone": name, "up": [f"{name}1", f"{name}2"], "down": [f"{name}3"]}
    return Note("confirm", None, {**data, "warnings": []})


def alarm(code: str, change: str, cycle: str) -> Note:
    data = {"code": code, "change": change, "priority": 2, "value": 1.05, "limit": 1.07,
            "unit": "", "first": True}  # fmt: skip
    return Note("alarm", cycle, data)


CLOSED = {"change": "closed", "result": "done", "minimum_kpa": 42.0, "start_kpa": 50.3,
          "start_vacuum_kpa": 61.5, "lowest_ratio": 1.05, "lowest_vacuum_kpa": 46.1,
          "cutting_s": 312.0, "alarms": ["A05", "A06"]}  # fmt: skip


def set_up() -> list[Note]:
    return [state("SELECT JOB", "SET UP", "plan_adopted"), adopted(), zone("A"), zone("B")]


def cut(cycle: str) -> list[Note]:
    """From the part confirmed to the cycle closed."""
    part = {"what": "part", "zone": None, "up": [], "down": [], "warnings": ["loose_offcut"]}
    contacts = {"start_permit": True, "hold_healthy": True}
    return [
        Note("cycle", cycle, {"change": "opened", "result": None}),
        Note("confirm", cycle, part),
        state("READY", "PERMIT", "requested", cycle),
        Note("output", cycle, contacts),
        state("PERMIT", "CUTTING", "cycle_started", cycle),
        alarm("A05", "raised", cycle),
        alarm("A06", "raised", cycle),
        alarm("A05", "cleared", cycle),
        Note("cycle", cycle, CLOSED),
    ]


def write(
    path: Path,
    notes: Iterable[Note],
    plans: Iterable[Plan] = (),
    samples: Iterable[tuple[str, float, float | None]] = (),
) -> None:
    """One whole run of a writer: start, hand over, close."""
    writer = Writer(path, "epoch")
    writer.start()
    for plan in plans:
        writer.plan(plan.digest, plan.to_json())
    for note in notes:
        writer.note(note, time.monotonic(), UTC)
    for channel, at_s, value_kpa in samples:
        writer.sample(channel, at_s, value_kpa)
    assert writer.close(20.0), writer.status


def one_cycle(path: Path, cycle: str = "c-1") -> None:
    """A log with one whole cycle in it."""
    write(path, [*set_up(), *cut(cycle)], [a_plan()])


def other_site(plan: Plan, digest: str) -> Plan:
    return replace(plan, digest=digest, site_digest="77" * 32)


# A writer that goes on


@contextmanager
def writing(path: Path, **options: Any) -> Iterator[Writer]:
    """A writer that runs, and is closed afterwards."""
    writer = Writer(path, "epoch", **options)
    writer.start()
    try:
        yield writer
    finally:
        writer.close(20.0)


def add(writer: Writer, count: int = 1, cycle: str | None = None) -> int:
    """Hand over notes with running numbers; returns the number of the last."""
    last = 0
    for k in range(count):
        note = Note("state", cycle, {"event": "e", "from": "A", "to": "B", "k": k})
        last = writer.note(note, time.monotonic(), UTC)
    return last


def add_committed(writer: Writer) -> None:
    """One more, and wait until it is in the file."""
    number = add(writer)
    until(lambda: writer.acknowledged == number)


def notes_in(path: Path) -> list[int | None]:
    """Numbers of the notes of ``add``."""
    return [event.note for event in review.events(path) if event.kind == "state"]


def own_events(path: Path) -> list[dict[str, object]]:
    """What the log says of itself."""
    return [dict(event.data) for event in review.events(path) if event.kind == "log"]
