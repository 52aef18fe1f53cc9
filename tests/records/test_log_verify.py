"""A change to the log shows, and the first record that was changed is named."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import log_story as story
import pytest

from kiosk.records.chain import link
from kiosk.records.store import CHUNK_SAMPLES
from kiosk.records.verify import verify


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Two cycles, one open, and three traces of one chunk each."""
    path = tmp_path / "log.db"
    n = CHUNK_SAMPLES  # where a longer trace is parted depends on how fast it is written
    samples = [(name, k / 10, 60.0 + k % 5) for name in ("table", "pump", "air") for k in range(n)]
    notes = [*story.set_up(), *story.cut("c-1"), *story.cut("c-2"), *story.cut("c-3")[:-1]]
    story.write(path, notes, [story.a_plan(), story.a_plan("old")], samples)
    return path


def change(path: Path, *statements: str) -> None:
    """As somebody who knows SQLite: the triggers are no hindrance to them."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        names = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in names:
            db.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert db.execute(statement).rowcount != 0


def numbers_of(path: Path, kind: str, needle: str = "") -> list[int]:
    sql = "SELECT number FROM event WHERE kind = ? AND data LIKE ? ORDER BY number"
    with closing(sqlite3.connect(path)) as db:
        return [n for (n,) in db.execute(sql, (kind, f"%{needle}%"))]


def broken(path: Path) -> tuple[str, str]:
    found = verify(path).broken
    assert found is not None
    return found.record, found.words


def test_a_log_as_written_fits_and_is_counted(path: Path) -> None:
    verdict = verify(path)
    assert verdict.broken is None
    assert (verdict.cycles, verdict.chunks) == (3, 3)
    with closing(sqlite3.connect(path)) as db:
        assert verdict.events == db.execute("SELECT count(*) FROM event").fetchone()[0]
    assert re.fullmatch("[0-9a-f]{64}", verdict.head or "")


@pytest.mark.parametrize(
    "column", ["run", "note", "at_ms", "utc", "cycle", "kind", "data", "previous", "hash"]
)
def test_a_change_to_any_column_of_an_event_names_that_event(column: str, path: Path) -> None:
    number = numbers_of(path, "alarm", "A05")[0]
    new = {
        "previous": "zeroblob(32)",
        "hash": "zeroblob(32)",
        "data": "replace(data, 'A05', 'A06')",
    }
    value = new.get(column, "9999")
    change(path, f"UPDATE event SET {column} = {value} WHERE number = {number}")
    record, words = broken(path)
    assert record.startswith(f"event {number}")
    assert "changed" in words


@pytest.mark.parametrize("place", [0, 10, -1])
def test_a_deleted_event_is_named_as_missing_the_last_one_too(place: int, path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        number = [n for (n,) in db.execute("SELECT number FROM event ORDER BY number")][place]
    change(path, f"DELETE FROM event WHERE number = {number}")
    assert broken(path) == (f"event {number}", "it is missing")


def test_an_event_changed_together_with_its_hash_is_named(path: Path) -> None:
    number = numbers_of(path, "alarm", "A05")[0]
    columns = "number, run, note, at_ms, utc, cycle, kind, data, previous"
    with closing(sqlite3.connect(path)) as db:
        row = db.execute(f"SELECT {columns} FROM event WHERE number = ?", (number,)).fetchone()
    text = row[7].replace("A05", "A06")
    forged = link(row[8], (*row[:7], text))
    where = f"WHERE number = {number}"
    change(path, f"UPDATE event SET data = '{text}', hash = x'{forged.hex()}' {where}")
    record, words = broken(path)
    assert record.startswith(f"event {number} ")
    assert words == "the next record was made from other content"


CYCLE_COLUMNS = ("number", "id", "run", "plan", "opened_ms", "opened_utc", "opened_event",
                 "closed_ms", "closed_utc", "closed_event", "result", "minimum_kpa", "start_kpa",
                 "start_vacuum_kpa", "lowest_ratio", "lowest_vacuum_kpa", "cutting_s", "alarms",
                 "seal")  # fmt: skip


@pytest.mark.parametrize("column", CYCLE_COLUMNS)
def test_a_change_to_any_column_of_a_closed_cycle_names_that_cycle(column: str, path: Path) -> None:
    value = {"seal": "zeroblob(32)", "closed_event": "2"}.get(column, "9")
    change(path, f"UPDATE cycle SET {column} = {value} WHERE id = 'c-2'")
    record, _ = broken(path)
    assert record in {"cycle 2 (c-2)", "cycle 9 (c-2)", "cycle 2 (9)"}


@pytest.mark.parametrize("column", ["opened_ms", "opened_utc", "opened_event", "seal"])
def test_a_change_to_an_open_cycle_names_it(column: str, path: Path) -> None:
    value = {"seal": "zeroblob(32)", "opened_event": "2"}.get(column, "9")
    change(path, f"UPDATE cycle SET {column} = {value} WHERE id = 'c-3'")
    assert broken(path)[0] == "cycle 3 (c-3)"


def test_a_deleted_cycle_and_an_invented_one_are_named(path: Path) -> None:
    change(path, "UPDATE cycle SET number = 7, id = 'c-7' WHERE id = 'c-3'")
    assert broken(path) == ("cycle 7 (c-7)", "no event says that it was opened")
    change(path, "DELETE FROM cycle WHERE id = 'c-7'")
    assert broken(path) == ("cycle c-3", "it is missing")


def test_a_reopened_cycle_is_named(path: Path) -> None:
    change(path, "UPDATE cycle SET seal = NULL, closed_ms = NULL WHERE id = 'c-1'")
    assert broken(path)[0] == "cycle 1 (c-1)"


@pytest.mark.parametrize(
    ("statement", "record"),
    [
        ("UPDATE plan SET json = replace(json, '42.0', '12.0') WHERE digest = 'old'", "plan old"),
        ("DELETE FROM plan WHERE digest = 'old'", "plan old"),
        ("UPDATE plan SET digest = 'new' WHERE digest = 'old'", "plan old"),
        ("UPDATE run SET offset_ms = offset_ms + 1", "run 1"),
        ("UPDATE run SET boot_id = 'x'", "run 1"),
        ("DELETE FROM run", "run"),
        ("UPDATE chunk SET data = x'00' WHERE number = 2", "chunk 2"),
        ("UPDATE chunk SET from_ms = 5 WHERE number = 2", "chunk 2"),
        ("UPDATE chunk SET channel = 'pump' WHERE number = 1", "chunk 1"),
        ("DELETE FROM chunk WHERE number = 3", "chunk 3"),
    ],
)
def test_changes_to_plans_runs_and_chunks_are_named(
    statement: str, record: str, path: Path
) -> None:
    change(path, statement)
    assert broken(path)[0] == record


def test_an_index_that_lies_is_found(path: Path) -> None:
    """PRAGMA integrity_check compares every index with its table: sqlite.org/pragma.html."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA writable_schema = ON")
        sql = "UPDATE sqlite_master SET sql = replace(sql, '(opened_ms)', '(closed_ms)')"
        db.execute(f"{sql} WHERE name = 'cycle_of_time'")
        db.commit()
    record, _ = broken(path)
    assert record == "the file"


def test_a_page_overwritten_is_said_and_no_traceback(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(16384 * 2)
        file.write(b"\xa5" * 16384 * 3)
    record, words = broken(path)
    assert record == "the file"
    assert words


def test_the_triggers_stop_a_change_by_mistake(path: Path) -> None:
    statements = [
        "UPDATE event SET utc = ''", "DELETE FROM event", "UPDATE plan SET json = ''",
        "DELETE FROM plan", "DELETE FROM cycle", "UPDATE cycle SET result = 'x' WHERE id = 'c-1'",
        "UPDATE chunk SET data = x''", "DELETE FROM chunk",
    ]  # fmt: skip
    with closing(sqlite3.connect(path)) as db:
        for statement in statements:
            with pytest.raises(sqlite3.IntegrityError, match=r"never (changed|deleted)"):
                db.execute(statement)


def test_a_link_noted_earlier_is_found_until_the_newest_records_are_cut_off(path: Path) -> None:
    noted = (verify(path).head or "")[:8]
    assert verify(path, noted.upper()).broken is None
    with closing(sqlite3.connect(path)) as db:
        last = db.execute("SELECT max(number) FROM event").fetchone()[0]
    forget = f"UPDATE sqlite_sequence SET seq = {last - 1} WHERE name = 'event'"
    change(path, f"DELETE FROM event WHERE number = {last}", forget)
    assert verify(path).broken is None  # what a chain cannot show by itself
    found = verify(path, noted).broken
    assert found is not None
    assert noted in found.record


@pytest.mark.parametrize("noted", ["", "abc", "0" * 8])
def test_a_link_that_is_too_short_or_unknown_is_not_found(noted: str, path: Path) -> None:
    assert verify(path, noted).broken is not None
