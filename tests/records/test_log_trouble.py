"""The writer on a file or disk that fails: it says so, waits, and comes back with every note."""

from __future__ import annotations

import multiprocessing
import os
import resource
import signal
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import log_story as story
import pytest
from log_story import add, add_committed, notes_in, own_events, writing

from kiosk.records import review
from kiosk.records.book import Book
from kiosk.records.inbox import Batch
from kiosk.records.open import damage_mark, inspect
from kiosk.records.store import Moment, NoteItem, PlanItem, RunItem
from kiosk.records.verify import verify
from kiosk.records.writer import Writer

NOBODY = 65534


# Trouble with the file


def test_handing_over_never_waits_for_a_locked_log_and_it_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            began_s = time.monotonic()
            last = add(writer, 2000)
            for k in range(2000):
                writer.sample("table", 100 + k / 10, 60.0)
            assert time.monotonic() - began_s < 20.0  # 4,000 waits of any length are longer
            story.until(lambda: not writer.status.writable)
            assert "locked" in writer.status.words
            assert writer.acknowledged == 0
            other.execute("ROLLBACK")
        story.until(lambda: writer.acknowledged == last)
        story.until(lambda: writer.status.writable)
    assert notes_in(path) == list(range(1, 2001))
    assert len(review.samples(path, "table", 0, 2**60)) == 2000
    (back,) = [event for event in own_events(path) if event["change"] == "back"]
    assert "locked" in str(back["words"])
    assert verify(path).broken is None


def test_samples_without_room_are_dropped_and_counted_but_never_a_note(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    writer = Writer(path, "epoch", most_samples=100)
    for k in range(150):
        writer.sample("table", k / 10, 60.0)
    add(writer, 500)
    assert (writer.status.dropped, writer.status.queued) == (50, 600)
    writer.start()
    assert writer.close(20.0)
    assert len(notes_in(path)) == 500
    assert len(review.samples(path, "table", 0, 2**60)) == 100
    assert {"change": "dropped", "samples": 50} in own_events(path)


def test_a_log_that_is_moved_away_is_not_written_any_more(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        add_committed(writer)
        path.rename(tmp_path / "elsewhere.db")
        add(writer)
        story.until(lambda: not writer.status.writable)
        (tmp_path / "elsewhere.db").rename(path)
        story.until(lambda: writer.status.writable and writer.status.queued == 0)
    assert verify(path).broken is None


def test_another_log_in_its_place_is_not_written(tmp_path: Path) -> None:
    path, other = tmp_path / "log.db", tmp_path / "other.db"
    story.one_cycle(other)
    before = other.read_bytes()
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        other.replace(path)
        add(writer)
        story.until(lambda: "moved or replaced" in writer.status.words)
        assert not writer.close(1.5)  # with one more try to write
    assert path.read_bytes() == before


def test_a_folder_in_the_way_is_said_and_waited_out(tmp_path: Path) -> None:
    folder = tmp_path / "not yet"
    with writing(folder / "log.db") as writer:
        last = add(writer)
        story.until(lambda: "cannot be written" in writer.status.words)
        folder.mkdir()
        story.until(lambda: writer.acknowledged == last)


def test_damage_met_while_writing_is_marked_and_stops_the_log_until_the_next_start(
    tmp_path: Path,
) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            other.execute("BEGIN IMMEDIATE")  # locked out, the writer opens the file again
            with path.open("r+b") as file:  # every page but the first is overwritten
                file.seek(16384)
                file.write(b"\xa5" * (path.stat().st_size - 16384))
            add(writer)
            story.until(lambda: "locked" in writer.status.words)
        story.until(lambda: damage_mark(path).exists())
        story.until(lambda: "start the program again" in writer.status.words)
        assert not writer.status.writable
        assert not writer.close(0.0)
    assert not inspect(path).readable
    story.one_cycle(path, "c-9")
    assert [row.id for row in review.cycles(path)] == ["c-9"]
    assert list(tmp_path.glob("log.unreadable-*.db"))


# Trouble with the disk, in a process of its own that may lose its rights


def in_child(work: Callable[[Connection, Path], None], path: Path) -> Connection:
    """Fork: modules are there already, whatever the child may not read any more."""
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe()
    process = context.Process(target=work, args=(there, path), daemon=True)
    process.start()
    there.close()
    return here


def told(pipe: Connection) -> Any:
    assert pipe.poll(30.0), "the child is silent"
    return pipe.recv()


def grow_no_more(pipe: Connection, path: Path) -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # then write(2) gives EFBIG
    with writing(path) as writer:
        add_committed(writer)
        size = path.with_name("log.db-wal").stat().st_size
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
        add(writer, 3)
        story.until(lambda: not writer.status.writable)
        pipe.send((writer.acknowledged, writer.status.queued, writer.status.words))
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
        story.until(lambda: writer.status.writable and writer.status.queued == 0)
        pipe.send(writer.acknowledged)
    pipe.send("closed")


def test_a_file_that_cannot_grow_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    """RLIMIT_FSIZE, setrlimit(2): the system refuses the write as a full disk does."""
    pipe = in_child(grow_no_more, tmp_path / "log.db")
    acknowledged, queued, words = told(pipe)
    assert queued == 3
    assert "cannot be written" in words
    assert told(pipe) == acknowledged + 3
    assert told(pipe) == "closed"
    assert notes_in(tmp_path / "log.db") == list(range(1, acknowledged + 4))
    assert verify(tmp_path / "log.db").broken is None


def may_only_read(pipe: Connection, path: Path) -> None:
    if os.geteuid() == 0:
        os.chown(path.parent, NOBODY, NOBODY)
        os.setuid(NOBODY)
    with writing(path) as writer:
        add_committed(writer)
    before = writer.acknowledged
    for file in path.parent.iterdir():
        file.chmod(0o444)
    path.parent.chmod(0o555)
    with writing(path) as writer:
        last = add(writer, 3)
        story.until(lambda: writer.status.words.startswith("the log cannot be written"))
        pipe.send((before, writer.status.writable, writer.status.queued))
        path.parent.chmod(0o755)
        for file in path.parent.iterdir():
            file.chmod(0o644)
        story.until(lambda: writer.acknowledged == last)
    pipe.send(writer.status.writable)


def test_a_log_that_may_only_be_read_is_said_and_written_when_it_may_be(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    for parent in (tmp_path, *tmp_path.parents[:3]):
        if os.geteuid() == 0 and parent != Path("/"):
            parent.chmod(parent.stat().st_mode | 0o055)  # the child must get there
    pipe = in_child(may_only_read, folder / "log.db")
    before, writable, queued = told(pipe)
    assert (writable, queued) == (False, 3)
    assert told(pipe) is True
    assert notes_in(folder / "log.db") == [*range(1, before + 1), 1, 2, 3]


def test_free_space_of_the_disk_is_what_the_system_says(tmp_path: Path) -> None:
    """f_bavail over f_blocks, statvfs(3); others use the disk meanwhile, so near it."""
    with writing(tmp_path / "log.db") as writer:
        add_committed(writer)
        share = writer.status.free_share
    disk = os.statvfs(tmp_path)
    assert share == pytest.approx(disk.f_bavail / disk.f_blocks, abs=0.05)


def test_a_commit_that_lasted_but_was_reported_as_failed_is_not_written_twice(
    tmp_path: Path,
) -> None:
    """What the writer does after such a report: the same batch again, on the file opened anew."""
    path = tmp_path / "log.db"
    at = Moment(1000, story.UTC)
    notes = tuple(NoteItem(n, at, "state", None, {"k": n}) for n in (1, 2, 3))
    book = Book(path, RunItem("epoch", "boot", ""))
    book.commit(Batch((*notes, PlanItem(4, "d", "{}")), ()), [], at)
    book.close()
    later = (*notes, PlanItem(4, "d", "{}"), NoteItem(5, at, "state", None, {"k": 5}))
    book.commit(Batch(later, ()), [], at)
    book.close()
    assert notes_in(path) == [1, 2, 3, 5]
    assert [e["change"] for e in own_events(path)] == ["opened", "plan_kept"]
    assert verify(path).broken is None
