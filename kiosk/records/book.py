"""The file of the log while one run writes it: opened, committed to, opened again after trouble."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from kiosk.records.inbox import Batch
from kiosk.records.open import damage_mark, prepare, program_words, writing_connection
from kiosk.records.store import Moment, PlanItem, RunItem, Store, begin_run, mark_of

_DAMAGED = (11, 26)  # SQLITE_CORRUPT, SQLITE_NOTADB: sqlite.org/rescode.html

HEARTBEAT_MS = 10_000  # a second's samples are heartbeat enough in between

_MOVED = "the log was moved or replaced; put it back"

Trouble = (sqlite3.Error, OSError, LookupError)  # what opening and committing may raise


def _resume(db: sqlite3.Connection, run: int, mark: bytes) -> Store:
    if mark_of(db, run) != mark:
        raise LookupError("another log lies in its place; start the program again")
    return Store(db, run)


class Book:
    """Not for two threads.  After a method raised one of ``Trouble`` the file is closed."""

    def __init__(self, path: Path, run: RunItem) -> None:
        self._path = path
        self._run = run
        self._mark: tuple[int, bytes] | None = None  # of the run, once it is in the file
        self._db: sqlite3.Connection | None = None
        self._store: Store | None = None
        self._file_id = (0, 0)
        self._heartbeat_ms = 0
        self.put_aside: str | None = None  # name of an unreadable log

    def commit(self, batch: Batch, own: Sequence[Mapping[str, object]], at: Moment) -> None:
        """One durable transaction: the batch, events of the log's own, and the heartbeat."""
        try:
            db, store = self._open(at)
            db.execute("BEGIN IMMEDIATE")
            for item in batch.notes:
                if isinstance(item, PlanItem):
                    store.plan(item, at)
                else:
                    store.note(item)
            for data in own:
                store.event("log", data, at)
            store.samples(batch.samples)
            if not batch.samples or own or at.mono_ms - self._heartbeat_ms >= HEARTBEAT_MS:
                store.heartbeat(at)
                self._heartbeat_ms = at.mono_ms
            db.execute("COMMIT")
        except Trouble as error:
            self._mark_damage(error)
            self.close()
            raise

    def _open(self, at: Moment) -> tuple[sqlite3.Connection, Store]:
        if self._db is None or self._store is None:
            self._db, self._store = self._connect(at)
            self._file_id = self._id_of_path()
        elif self._id_of_path() != self._file_id:
            raise FileNotFoundError(_MOVED)
        return self._db, self._store

    def _connect(self, at: Moment) -> tuple[sqlite3.Connection, Store]:
        if self._mark is None:
            self.put_aside = prepare(self._path, at.utc) or self.put_aside
        elif self._id_of_path() != self._file_id:
            # The write-ahead log that still lies there must not be read into another file.
            raise FileNotFoundError(_MOVED)
        elif damage_mark(self._path).exists():
            raise OSError("the log is damaged; start the program again: it begins a new one")
        db = writing_connection(self._path)
        try:
            return db, self._begin(db, at) if self._mark is None else _resume(db, *self._mark)
        except Trouble:
            db.close()
            raise

    def _begin(self, db: sqlite3.Connection, at: Moment) -> Store:
        """The run's own first transaction."""
        db.execute("BEGIN IMMEDIATE")
        number = begin_run(db, self._run, at)
        store = Store(db, number)
        store.end_tails()
        opened = {"change": "opened", "epoch": self._run.epoch, "boot_id": self._run.boot_id,
                  "library": self._run.library, "program": program_words(),
                  "offset_ms": store.offset_ms, "put_aside": self.put_aside}  # fmt: skip
        store.event("log", opened, at)
        store.heartbeat(at)
        db.execute("COMMIT")
        self._mark = (number, mark_of(db, number))
        return store

    def _id_of_path(self) -> tuple[int, int]:
        found = self._path.stat()
        return found.st_dev, found.st_ino

    def _mark_damage(self, error: BaseException) -> None:
        code = getattr(error, "sqlite_errorcode", None)
        if isinstance(error, sqlite3.Error) and code is not None and code & 0xFF in _DAMAGED:
            with suppress(OSError):
                damage_mark(self._path).touch()

    def close(self) -> None:
        """Close the file; what was not committed is rolled back."""
        db, self._db, self._store = self._db, None, None
        if db is not None:
            with suppress(sqlite3.Error):
                db.close()
