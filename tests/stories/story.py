"""How a fault story is told: brought about, watched, mended, and what came of it in one row."""

from __future__ import annotations

import contextlib
import json
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from disks import disk
from machine import Bench
from whole_rig import eventually, holdpoint

from kiosk.demo.play import Missed

OPEN, HELD, PERMIT_OPEN = (False, False), (True, True), (False, True)
CONTACTS = {OPEN: "both open", HELD: "both closed", PERMIT_OPEN: "START PERMIT open"}
TRIES = 3  # to begin: a plan is given up after 60 s, which a busy computer may need
Act = Callable[[Bench], object]
Asked = Callable[[Bench], bool]


@dataclass(frozen=True)
class Story:
    """One fault.

    at        "cut" or "permit": the state in which the fault comes
    before    what must be so first
    begin     brings it about; what it returns is given to ``end``
    contacts  what the machine must see once the fault has had its effect
    states    in one of which the guard must then be; empty: there is no guard to ask
    seen      what else must then be so
    end       mends it
    back      true when the fault has left no trace but what is latched
    stays     seconds for which it is then watched that nothing changes
    room      a disk for the data folder, see ``disks.disk``; None: an ordinary folder
    flicker   True: the contacts need not stay as they first were
    timed     whose coming is timed, where the contacts flicker; None: the contacts themselves
    keeps     False: the log is put aside, and a new one begun
    """

    name: str
    at: str
    begin: Callable[[Bench], object]
    contacts: tuple[bool, bool]
    states: tuple[str, ...] = ()
    seen: Asked = lambda _: True
    end: Callable[[Bench, object], object] = lambda _, __: None
    back: Asked = lambda _: True
    stays: float = 0.0
    within_s: float = 15.0
    back_s: float = 30.0
    bench: dict[str, object] = field(default_factory=dict)
    room: str | None = None
    flicker: bool = False
    timed: Asked | None = None
    keeps: bool = True
    before: Act = lambda _: None
    note: str = ""
    quick: bool = False


@dataclass(frozen=True)
class Told:
    """One row of the table.  ``wrong`` is empty when all was as it must be."""

    story: Story
    contacts: str
    contact_s: float | None  # until the contacts were as they must be
    screen: str
    log: str
    back_s: float | None
    wrong: tuple[str, ...]


def tell(story: Story) -> Told:
    """Play a story on a machine of its own.  Raises CannotBe, and Missed when it cannot begin."""
    for _ in range(TRIES - 1):
        with contextlib.suppress(Missed):
            return _tell(story)
    return _tell(story)


def _tell(story: Story) -> Told:
    with tempfile.TemporaryDirectory(prefix="story-") as made, disk(Path(made), story.room):
        bench = Bench(Path(made), **story.bench)  # type: ignore[arg-type]
        try:
            return _told(story, bench)
        finally:
            bench.close()


def _told(story: Story, bench: Bench) -> Told:
    {"cut": bench.to_cutting, "permit": bench.to_permit}[story.at]()
    assert eventually(lambda: bench.contacts() == HELD, 10.0)
    story.before(bench)
    before = bench.logged()
    wrong: list[str] = []
    began_s = time.monotonic()
    held = story.begin(bench)
    contact_s = _reached(story, bench, began_s, wrong)
    contacts, screen = _contacts(story, bench), _screen(bench)
    mended_s = time.monotonic()
    story.end(bench, held)
    back_s: float | None = None
    if eventually(lambda: _asked(story.back, bench), story.back_s):
        back_s = time.monotonic() - mended_s
    else:
        wrong.append(f"not back within {story.back_s:.0f} s: {_screen(bench)}")
    log = _log(bench, before, wrong) if story.keeps else _aside(bench, wrong)
    return Told(story, contacts, contact_s, screen, log, back_s, tuple(wrong))


def _contacts(story: Story, bench: Bench) -> str:
    """As they are; where they change all the time, what they were seen to come to."""
    if story.flicker:
        return f"{CONTACTS[story.contacts]} at times"
    return CONTACTS.get(bench.contacts(), "HOLD HEALTHY open")


def _reached(story: Story, bench: Bench, began_s: float, wrong: list[str]) -> float | None:
    """Wait for the effect, and watch that nothing changes where nothing may."""
    contact_s = None

    def right(bench: Bench) -> bool:
        return bench.contacts() == story.contacts

    timed = story.timed or right
    if eventually(lambda: timed(bench), story.within_s):
        contact_s = time.monotonic() - began_s
    else:
        wrong.append(f"not within {story.within_s:.0f} s: what is timed")
    if not eventually(lambda: right(bench), story.within_s):
        wrong.append(f"contacts {bench.contacts()}, not {story.contacts}")
    ok = eventually(lambda: _effect(story, bench), story.within_s)
    if not ok:
        wrong.append(f"seen {_screen(bench)}, not {story.states or 'no guard'}")
    if story.flicker:
        return contact_s
    until_s = time.monotonic() + story.stays
    changed = eventually(
        lambda: bench.contacts() != story.contacts or time.monotonic() > until_s, story.stays + 5.0
    )
    if not changed or bench.contacts() != story.contacts or not _effect(story, bench):
        wrong.append(f"did not stay: {bench.contacts()}, {_screen(bench)}")
    return contact_s


def _effect(story: Story, bench: Bench) -> bool:
    return (not story.states or bench.state(*story.states)) and _asked(story.seen, bench)


def _asked(question: Asked, bench: Bench) -> bool:
    return bench.link.view().snapshot is not None and question(bench)


def _screen(bench: Bench) -> str:
    """State, flags and the first-out or newest alarms, as a screen has them."""
    view = bench.link.view()
    if not view.connected or view.snapshot is None:
        return "no guard"
    if view.silent(time.monotonic()):
        return "guard silent"
    shown = view.snapshot
    flags = [flag for flag in shown.flags if flag != "SIMULATED"]
    alarms = [row.code for row in shown.alarms if row.active or row.latched]
    missing = [row.code for row in shown.permissives if not row.holds]
    why = missing[:3] if shown.state in ("CHECKING", "SET UP") and not alarms else []
    return " ".join([shown.state, *flags, *alarms, *why])


def _log(bench: Bench, before: list[tuple[object, ...]], wrong: list[str]) -> str:
    """End the guard in order; what was committed is all there, and the chain fits."""
    if "guard" in bench.children.running:
        bench.children.end("guard")
    done = holdpoint("log", "verify", "--data", str(bench.data))
    if done.returncode != 0:
        wrong.append(f"log: {done.stdout.strip()[:200]}")
    after = bench.logged()
    if after[: len(before)] != before:
        wrong.append("log: what was committed before is not all there")
    for run in {row[1] for row in after}:
        _whole(run, after, wrong)
    return f"{len(after) - len(before)} more, chain whole" if not wrong else "see below"


def _aside(bench: Bench, wrong: list[str]) -> str:
    """The old log lies beside the new one."""
    if not list(bench.data.glob("log.unreadable-*.db")):
        wrong.append("log: it was not put aside")
    return "put aside, a new one begun"


def _whole(run: object, after: list[tuple[object, ...]], wrong: list[str]) -> None:
    """The notes of one run are counted through; an adopted plan took the number before its note."""
    notes = {row[2]: row for row in after if row[1] == run and row[2] is not None}
    missing = set(range(1, max(map(int, notes), default=0) + 1)) - notes.keys()  # type: ignore[call-overload]
    lost = [number for number in sorted(missing) if not _adopts(notes.get(number + 1))]
    if lost:
        wrong.append(f"log: notes {lost} of run {run} are not there")


def _adopts(row: tuple[object, ...] | None) -> bool:
    return (
        row is not None and row[4] == "plan" and json.loads(str(row[5])).get("change") == "adopted"
    )
