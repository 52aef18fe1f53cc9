"""What the guard finds at its start, whatever lies there; and migration."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import log_story as story
import pytest

from kiosk.records import open as records_open
from kiosk.records import review
from kiosk.records.open import Found, damage_mark, inspect, library_words, migrate, migrations
from kiosk.records.verify import verify

VERSION_1 = Path(__file__).with_name("log_version_1.sql")

# Schema files that are in use: they are never edited.  sha256sum of the files.
IN_USE = {
    1: "c7a8e5018eeb3dc40e113600cafb3bef4d89cbde585ce2bdaea20707a40260b5",
    2: "a35fa9cc55d43d67d49cc59af14e1923304036b3909232508d80a3abaa59e3fb",
}


def foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE other (x)")


def newer(path: Path) -> None:
    story.one_cycle(path)
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA user_version = 999")


def cut_in_half(path: Path) -> None:
    story.one_cycle(path)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


def first_page_zeroed(path: Path) -> None:
    story.one_cycle(path)
    content = path.read_bytes()
    path.write_bytes(bytes(4096) + content[4096:])


BAD: dict[str, Callable[[Path], object]] = {
    "empty": lambda path: path.write_bytes(b""),
    "text": lambda path: path.write_text("not a database " * 2000),
    "a folder": lambda path: path.mkdir(),
    "another program's database": foreign,
    "a newer version": newer,
    "half of a log": cut_in_half,
    "first page zeroed": first_page_zeroed,
}


def test_where_no_log_is_there_is_nothing_to_fear(tmp_path: Path) -> None:
    assert inspect(tmp_path / "log.db") == Found(exists=False, readable=True)


@pytest.mark.parametrize("kind", BAD)
def test_what_cannot_be_read_is_said_to_be_unreadable(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    BAD[kind](path)
    found = inspect(path)
    assert (found.exists, found.readable, found.latch) == (True, False, None)
    assert found.words


@pytest.mark.parametrize("kind", BAD)
def test_what_cannot_be_read_is_kept_aside_whole_and_a_new_log_begun(
    kind: str, tmp_path: Path
) -> None:
    path = tmp_path / "log.db"
    BAD[kind](path)
    before = path.read_bytes() if path.is_file() else None
    story.one_cycle(path)
    (aside,) = tmp_path.glob("log.unreadable-*.db")
    assert (aside.read_bytes() if aside.is_file() else None) == before
    opened = next(iter(review.events(path)))
    assert opened.data["put_aside"] == aside.name
    assert inspect(path).readable


def test_a_log_marked_as_damaged_is_unreadable_until_a_new_one_is_begun(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    damage_mark(path).touch()
    assert not inspect(path).readable
    story.one_cycle(path, "c-2")
    assert inspect(path).readable
    assert [row.id for row in review.cycles(path)] == ["c-2"]
    (aside,) = tmp_path.glob("log.unreadable-*.db")
    assert [row.id for row in review.cycles(aside)] == ["c-1"]


def test_two_logs_put_aside_in_the_same_second_are_both_kept(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    for content in ("first", "second"):
        path.write_text(content)
        records_open.put_aside(path, story.UTC)
    kept = sorted(p.read_text() for p in tmp_path.glob("log.unreadable-*"))
    assert kept == ["first", "second"]


def test_reading_changes_nothing_even_from_a_copy_in_a_folder_without_its_wal(
    tmp_path: Path,
) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    copy = tmp_path / "copy" / "log.db"
    copy.parent.mkdir()
    shutil.copy(path, copy)
    before = copy.read_bytes()
    assert inspect(copy).readable
    assert [row.id for row in review.cycles(copy)] == ["c-1"]
    assert copy.read_bytes() == before


def test_the_log_has_the_settings_that_make_a_commit_last(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    records_open.prepare(path, story.UTC)
    with closing(records_open.writing_connection(path)) as db:
        said = {name: db.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("journal_mode", "synchronous", "page_size")}  # fmt: skip
    # sqlite.org/pragma.html: synchronous 2 is FULL
    assert said == {"journal_mode": "wal", "synchronous": 2, "page_size": 16384}


def test_every_table_is_strict(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    records_open.prepare(path, story.UTC)
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main'")
        loose = [name for name, strict in rows if not strict and not name.startswith("sqlite_")]
    assert loose == []


def old_log(path: Path) -> None:
    """A log of version 1 as it was stored, schema and rows, before version 2 existed."""
    with closing(sqlite3.connect(path)) as db:
        db.executescript(VERSION_1.read_text())


def rows_of(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as db:
        names = ("run", "heartbeat", "event", "plan", "cycle")
        return {name: db.execute(f"SELECT * FROM {name}").fetchall() for name in names}


def test_migration_from_version_1_keeps_everything(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    old_log(path)
    before = rows_of(path)
    assert all(before.values())
    with closing(records_open.writing_connection(path)) as db:
        assert db.execute("PRAGMA user_version").fetchone()[0] == migrations()[-1][0]
    assert rows_of(path) == before
    assert verify(path).broken is None


def test_a_run_on_a_log_of_version_1_goes_on_with_its_chain(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    old_log(path)
    before = rows_of(path)["event"]
    story.one_cycle(path, "c-2")
    assert rows_of(path)["event"][: len(before)] == before
    assert [row.id for row in review.cycles(path)] == ["c-2", "c-1"]
    assert verify(path).broken is None


def test_a_migration_that_fails_leaves_the_log_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    old_log(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("CREATE TABLE pyramid (in_the_way)")  # version 2 makes tail and chunk first
        with pytest.raises(sqlite3.OperationalError, match="pyramid already exists"):
            migrate(db)
        assert db.execute("PRAGMA user_version").fetchone()[0] == 1
        tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master")}
    assert "tail" not in tables
    assert "chunk" not in tables


def test_schema_files_in_use_are_never_edited() -> None:
    assert [version for version, _ in migrations()] == list(range(1, len(migrations()) + 1))
    digests = {v: hashlib.sha256(sql.encode()).hexdigest() for v, sql in migrations()}
    assert digests == IN_USE


def test_the_version_of_the_library_is_said() -> None:
    assert sqlite3.sqlite_version in library_words()
