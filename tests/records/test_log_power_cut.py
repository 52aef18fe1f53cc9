"""A power cut loses nothing acknowledged: files as the disk could hold them, opened again.

What a commit, a checkpoint or a new turn of the write-ahead log changed on disk is known from
copies before and after.  A cut keeps what was there before and any part of what was not yet
synced (a prefix, or some of its 512-byte sectors, the unit a disk writes whole: sqlite.org/atomic
section 2).  The order in which SQLite syncs is its own: sqlite.org/wal.html, "synchronous=FULL".
Disks that lie about a flush are not covered.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import log_story as story
import pytest

from kiosk.records import review
from kiosk.records.book import Book
from kiosk.records.inbox import Batch
from kiosk.records.open import PAGE_BYTES
from kiosk.records.store import Moment, NoteItem, PlanItem, RunItem, SampleItem
from kiosk.records.verify import verify

SECTOR = 512


@dataclass(frozen=True)
class Disk:
    """Both files after a commit, and how many notes and samples it had acknowledged."""

    db: bytes
    wal: bytes
    notes: int
    samples: int


def batch_of(turn: int) -> Batch:
    first = 3 * turn
    notes: list[NoteItem | PlanItem] = [
        NoteItem(n, Moment(1000 * turn, story.UTC), "state", "c", {"k": n, "pad": "x" * 20_000})
        for n in range(first + 1, first + 4)
    ]
    samples = (SampleItem("table", 1000 * turn + 5 * k, 0.01 * k) for k in range(200))
    return Batch(tuple(notes), tuple(samples))


def history(folder: Path, turns: int) -> list[Disk]:
    """Commits until the write-ahead log was checkpointed and began anew, more than once."""
    path = folder / "log.db"
    book, disks = Book(path, RunItem("epoch", "boot", "")), []
    for turn in range(turns):
        book.commit(batch_of(turn), [], Moment(1000 * turn + 999, story.UTC))
        wal = path.with_name("log.db-wal").read_bytes()
        disks.append(Disk(path.read_bytes(), wal, 3 * (turn + 1), 200 * (turn + 1)))
    book.close()
    return disks


def torn(old: bytes, new: bytes, unit: int, keep: Callable[[int], bool]) -> bytes:
    """``old`` with those units of ``new`` that ``keep`` says reached the disk."""
    length = max(len(old), len(new))
    old_full, new_full = old.ljust(length, b"\0"), new.ljust(length, b"\0")
    units = range(0, length, unit)
    whole = b"".join((new_full if keep(k) else old_full)[k : k + unit] for k in units)
    kept_end = max((k + unit for k in units if keep(k) and k < len(new)), default=0)
    return whole[: max(len(old), min(kept_end, len(new)))]


def cuts(old: Disk, new: Disk, chance: random.Random, count: int) -> Iterator[Disk]:
    """Disks as a cut between two commits could leave them, with what each must still hold."""
    for k in range(count):
        if k % 2:  # a prefix
            end = chance.randrange(0, len(new.wal) + 1)
            wal = new.wal[:end] + old.wal[end:]
        else:
            kept = {s for s in range(0, len(new.wal), SECTOR) if chance.random() < 0.5}
            wal = torn(old.wal, new.wal, SECTOR, kept.__contains__)
        yield Disk(old.db, wal, old.notes, old.samples)
    if old.db != new.db:  # a checkpoint, after the commit was synced
        for _ in range(count):
            pages = {p for p in range(0, len(new.db), PAGE_BYTES) if chance.random() < 0.5}
            db = torn(old.db, new.db, PAGE_BYTES, pages.__contains__)
            yield Disk(db, new.wal, new.notes, new.samples)


def check(disk: Disk, folder: Path) -> None:
    """Every acknowledged note and sample is there, and the whole log fits."""
    folder.mkdir()
    path = folder / "log.db"
    path.write_bytes(disk.db)
    path.with_name("log.db-wal").write_bytes(disk.wal)
    kept = [event.note for event in review.events(path, "c")]
    assert kept == list(range(1, len(kept) + 1))
    assert len(kept) >= disk.notes
    traced = [value for _, value in review.samples(path, "table", 0, 2**60)]
    assert traced == [round(0.01 * (k % 200), 4) for k in range(len(traced))]
    assert len(traced) >= disk.samples
    assert verify(path).broken is None


def run_cuts(folder: Path, turns: int, count: int) -> None:
    disks, chance, checked = history(folder, turns), random.Random(11), 0
    anew = [k for k in range(1, turns) if disks[k].wal[:32] != disks[k - 1].wal[:32]]
    checkpoints = [k for k in range(1, turns) if disks[k].db != disks[k - 1].db]
    assert len(anew) > 1
    assert len(checkpoints) > 1
    for old, new in pairwise(disks):
        for cut in cuts(old, new, chance, count):
            check(cut, folder / str(checked))
            checked += 1
    assert checked >= count * (turns - 1)


def test_power_cuts_lose_nothing_acknowledged(tmp_path: Path) -> None:
    run_cuts(tmp_path, turns=45, count=2)


@pytest.mark.long
def test_thousands_of_power_cuts_lose_nothing_acknowledged(tmp_path: Path) -> None:
    run_cuts(tmp_path, turns=150, count=20)
