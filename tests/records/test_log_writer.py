"""The writer never waits, never loses a note, says when it cannot write, and comes back."""

from __future__ import annotations

import multiprocessing
import os
import resource
import signal
import sqlite3
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import log_story as story
import pytest

from kiosk.interlock.decision import Note
from kiosk.records import review
from kiosk.records.book import Book
from kiosk.records.inbox import Batch
from kiosk.records.open import damage_mark, inspect
from kiosk.records.store import Moment, NoteItem, PlanItem, RunItem
from kiosk.records.verify import verify
from kiosk.records.writer import Writer

NOBODY = 65534


@contextmanager
def writing(path: Path, **options: Any) -> Iterator[Writer]:
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
        last = writer.note(note, time.monotonic(), story.UTC)
    return last


def add_committed(writer: Writer) -> None:
    number = add(writer)
    story.until(lambda: writer.acknowledged == number)


def notes_in(path: Path) -> list[int | None]:
    return [event.note for event in review.events(path) if event.kind == "state"]


def own_events(path: Path) -> list[dict[str, object]]:
    return [dict(event.data) for event in review.events(path) if event.kind == "log"]


# Committing


def test_a_note_is_committed_at_once_and_not_with_the_next_second(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kiosk.records.writer.COMMIT_S", 3600.0)
    path = tmp_path / "log.db"
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        number = add(writer)
        story.until(lambda: writer.acknowledged == number)
        assert notes_in(path) == [number]


def test_a_commit_is_made_every_second_when_nothing_happens(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        first_ms = review.end_ms(path)
        story.until(lambda: review.end_ms(path) > first_ms)
        last_commit_s = writer.status.last_commit_s
        assert last_commit_s is not None
        assert time.monotonic() - last_commit_s < 5.0
        assert review.end_ms(path) - first_ms < 5000


def test_samples_wait_for_their_second_and_are_one_row_each(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        story.until(lambda: writer.status.writable)
        for k in range(20):
            writer.sample("table", 10.0 + k / 10, 60.0)
        story.until(lambda: writer.acknowledged_s.get("table") == 11.9)
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("SELECT n FROM tail").fetchall() == [(20,)]


def test_closing_commits_what_waits_and_says_so_in_the_log(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    writer = Writer(path, "epoch")
    number = add(writer, 50)
    writer.sample("table", 1.0, 60.0)
    writer.start()
    assert writer.close(20.0)
    assert notes_in(path) == list(range(1, 51))
    assert writer.acknowledged == number == 50
    opened, closed = own_events(path)
    assert (opened["change"], closed["change"]) == ("opened", "closed")
    pyproject = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())
    assert opened["program"] == pyproject["project"]["version"]
    assert len(review.samples(path, "table", 0, 2**60)) == 1


def test_a_thousand_notes_keep_their_order_and_their_numbers(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        last = add(writer, 1000)
        story.until(lambda: writer.acknowledged == last)
    assert notes_in(path) == list(range(1, 1001))


def test_what_json_cannot_hold_does_not_stop_the_log(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    data = {"odd": object(), "nan": float("nan"), "text": "\ud800", "set": {"b", "a"}}
    closing_data = {"change": "closed", "minimum_kpa": "much", "alarms": None, "result": 7}
    notes = [Note("state", "c\ud800", data), Note("cycle", "c\ud800", closing_data)]
    story.write(path, [*notes, Note("", None, {})])
    events = [e for e in review.events(path) if e.note is not None]
    assert [e.kind for e in events] == ["state", "cycle", ""]
    assert (events[0].cycle, events[0].data["nan"], events[0].data["set"]) == (
        "c?", None, ["a", "b"],
    )  # fmt: skip
    (row,) = review.cycles(path)
    assert (row.minimum_kpa, row.result, row.alarms) == (None, None, ())
    assert verify(path).broken is None


def nest(depth: int) -> list[object]:
    deep: list[object] = []
    for _ in range(depth):
        deep = [deep]
    return deep


UNSTORABLE = [nest(5000), 10**5000, {"zone": nest(5000)}]


@pytest.mark.parametrize("unstorable", UNSTORABLE, ids=["lists", "digits", "object"])
def test_a_note_that_cannot_be_stored_leaves_a_marker_and_the_log_goes_on(
    tmp_path: Path, unstorable: object
) -> None:
    path = tmp_path / "log.db"
    odd = {"to": "HOLD LOST", "from": "CUTTING", "value": unstorable, "first": True}
    with writing(path) as writer:
        writer.note(Note("state", "c1", odd), 1.0, story.UTC)
        number = add(writer)
        story.until(lambda: writer.acknowledged == number)
        assert writer.status.writable
    marker, whole = [event for event in review.events(path) if event.kind == "state"]
    assert (marker.note, marker.cycle, marker.data["to"]) == (1, "c1", "HOLD LOST")
    assert "value" not in marker.data
    assert str(marker.data["not_stored"]).startswith(("RecursionError", "ValueError"))
    assert (whole.note, whole.data["k"]) == (2, 0)
    assert verify(path).broken is None


def test_a_latch_stands_in_the_log_though_its_note_could_not_be_stored_whole(
    tmp_path: Path,
) -> None:
    path = tmp_path / "log.db"
    story.write(path, [Note("state", None, {"to": "HOLD LOST", "value": nest(5000)})])
    assert inspect(path).latch == "HOLD LOST"


def test_a_cycle_with_a_number_beyond_any_double_is_closed_without_it(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [Note("cycle", "c1", {"change": "closed", "minimum_kpa": 10**400})])
    (row,) = review.cycles(path)
    assert (row.minimum_kpa, row.closed_utc is None) == (None, False)


def test_undo_of_a_zone_that_is_no_name_and_a_map_of_no_names_stand_for_nothing(
    tmp_path: Path,
) -> None:
    path = tmp_path / "log.db"
    undo = {"name": "undo_zone", "refused": None, "arguments": {"zone": ["A"]}}
    words = {"what": "map", "up": [["A1"]], "down": []}
    story.write(path, [story.adopted(), Note("command", None, undo), Note("confirm", None, words)])
    assert [e.kind for e in review.events(path) if e.note is not None] == [
        "plan", "command", "confirm",
    ]  # fmt: skip
    assert inspect(path).readable


def test_a_plan_nested_too_deep_to_read_is_kept_as_text(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with writing(path) as writer:
        number = writer.plan("d1", "[" * 100_000)
        story.until(lambda: writer.acknowledged == number)


def test_a_bug_that_ends_the_thread_is_told_to_whoever_asked(tmp_path: Path) -> None:
    told: list[BaseException] = []
    writer = Writer(tmp_path / "log.db", "epoch", died=told.append)
    writer.sample("table", 1.0, "no number")  # type: ignore[arg-type]
    writer.start()
    story.until(lambda: bool(told))
    assert isinstance(told[0], TypeError)
    assert not writer.status.writable
    assert "the log cannot be written" in writer.status.words
    assert not writer.close(1.0)


def test_a_plan_is_kept_once_however_often_it_is_adopted(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [], [story.a_plan(), story.a_plan(), story.a_plan("old")])
    kept = [e["digest"] for e in own_events(path) if e["change"] == "plan_kept"]
    assert kept == [story.DIGEST, "old"]


# Time


def run_rows(path: Path) -> list[tuple[str, int]]:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("SELECT boot_id, offset_ms FROM run ORDER BY number").fetchall()


def run_at(path: Path, clock_s: float, utc: str) -> None:
    writer = Writer(path, "epoch", clock=lambda: clock_s, utc=lambda: utc)
    writer.note(Note("state", None, {"to": "B"}), clock_s, utc)
    writer.start()
    assert writer.close(20.0), writer.status


def test_the_axis_of_the_log_is_utc_when_a_boot_begins(tmp_path: Path) -> None:
    """1970-01-01T00:01:40Z is 100 s, by definition of the epoch (POSIX.1, 4.19)."""
    path = tmp_path / "log.db"
    run_at(path, 7.0, "1970-01-01T00:01:40.000Z")
    assert [offset for _, offset in run_rows(path)] == [93_000]
    assert {event.at_ms for event in review.events(path)} == {100_000}


def test_a_wall_clock_that_jumps_moves_nothing_within_a_boot(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    run_at(path, 7.0, "1970-01-01T00:01:40.000Z")
    run_at(path, 9.5, "1999-01-01T00:00:00.000Z")
    times = [event.at_ms for event in review.events(path)]
    assert times == sorted(times)
    assert times[-1] - times[0] == 2500
    assert [event.utc for event in review.events(path)][-1] == "1999-01-01T00:00:00.000Z"


def test_a_wall_clock_set_back_at_a_new_boot_never_reorders_the_log(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    run_at(path, 1000.0, "2026-11-25T09:00:00.000Z")
    run_at(path, 5.0, "2020-01-01T00:00:00.000Z")  # the monotonic clock began again
    times = [event.at_ms for event in review.events(path)]
    assert times == sorted(times)


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
