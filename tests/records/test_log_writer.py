"""The writer never waits, never loses a note, says when it cannot write, and comes back."""

from __future__ import annotations

import sqlite3
import time
import tomllib
from contextlib import closing
from pathlib import Path

import log_story as story
import pytest
from log_story import add, notes_in, own_events, writing

from kiosk.interlock.decision import Note
from kiosk.records import review
from kiosk.records.open import inspect
from kiosk.records.verify import verify
from kiosk.records.writer import Writer

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
    path, now = tmp_path / "log.db", [100.0]
    with writing(path, clock=lambda: now[0]) as writer:
        story.until(lambda: writer.status.writable)
        for k in range(20):
            writer.sample("table", 98.0 + k / 10, 60.0)
        note = writer.note(Note("state", None, {"to": "B"}), 100.0, story.UTC)
        story.until(lambda: writer.acknowledged == note)
        assert writer.acknowledged_s == {}
        now[0] = 101.0
        story.until(lambda: writer.acknowledged_s == {"table": 99.9})
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
