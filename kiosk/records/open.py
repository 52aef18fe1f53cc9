"""Opens the log: to read, to write, and to see at the guard's start what it was left with.

A log that cannot be read is never deleted: the writer puts it aside under another name.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from importlib import metadata, resources
from pathlib import Path

from kiosk.mistakes import BadInput, Mistake
from kiosk.records.standing import confirmed, in_service, latch_of, standing_of

APPLICATION_ID = 0x484C4450  # "HLDP" in the file's head: https://sqlite.org/pragma.html
PAGE_BYTES = 16_384
_OLDEST_LIBRARY = (3, 37, 0)  # the first with STRICT tables: sqlite.org/stricttables.html
_BUSY_S = 1.0


@dataclass(frozen=True, slots=True)
class Found:
    """What an earlier run left.  ``words`` says why it is not readable, else empty."""

    exists: bool
    readable: bool
    latch: str | None = None  # "HOLD LOST" | "NO PERMIT", unreset
    open_plan_digest: str | None = None  # the plan that stood adopted
    open_plan_json: str | None = None
    confirmed_zones: frozenset[str] = frozenset()  # those that stood confirmed for it
    words: str = ""
    service: bool = False  # service was begun and not ended


def library_words() -> str:
    """The version of SQLite, and whether it has the fault that was mended in 3.51.3.

    The fault (3.7.0 to 3.51.2, mended also in 3.50.7 and 3.44.6: release notes of SQLite) needs
    two connections that write or checkpoint at once; here only the writer's one does.
    """
    version = sqlite3.sqlite_version_info
    mended = (
        version >= (3, 51, 3) or (3, 50, 7) <= version < (3, 51) or (3, 44, 6) <= version < (3, 45)
    )
    fault = (
        "" if mended else " (WAL-reset fault not mended; one writer and read-only readers avoid it)"
    )
    return f"SQLite {sqlite3.sqlite_version}{fault}"


def program_words() -> str | None:
    """The version of this program; None where it is not installed as a package."""
    try:
        return metadata.version("holdpoint")
    except metadata.PackageNotFoundError:
        return None


def migrations() -> list[tuple[int, str]]:
    """(version, SQL) of every schema file, in order."""
    folder = resources.files("kiosk.records") / "schema"
    files = [file for file in folder.iterdir() if re.match(r"\d{3}_\w+\.sql$", file.name)]
    return sorted((int(file.name[:3]), file.read_text("utf-8")) for file in files)


def damage_mark(path: Path) -> Path:
    """The file whose presence says that the log was found damaged while it was written."""
    return path.with_name(path.name + ".damaged")


def _uri(path: Path, mode: str) -> str:
    return f"{path.resolve().as_uri()}?{mode}"


def reading_connection(path: Path) -> sqlite3.Connection:
    """A connection that cannot write and never checkpoints.  Raises sqlite3.Error."""
    if not path.is_file():
        raise sqlite3.DatabaseError("it is no ordinary file")  # a pipe would be waited for
    wal = path.with_name(path.name + "-wal")
    settled = not wal.exists() and not os.access(path.parent, os.W_OK)
    # A copy on read-only media has no place for the shared-memory file: sqlite.org/wal.html
    mode = "mode=ro&immutable=1" if settled else "mode=ro"
    return sqlite3.connect(_uri(path, mode), uri=True, isolation_level=None, timeout=_BUSY_S)


def _version_trouble(connection: sqlite3.Connection) -> str:
    """Why this is not a log of ours at the newest version or an older one; empty when it is."""
    identity = connection.execute("PRAGMA application_id").fetchone()[0]
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    newest = migrations()[-1][0]
    if identity != APPLICATION_ID or version < 1:
        return "it is not a log of this program"
    if version > newest:
        return f"its version {version} is newer than this program reads ({newest})"
    return ""


@contextmanager
def reader(path: Path) -> Iterator[sqlite3.Connection]:
    """A reading connection in one transaction.  Raises BadInput when there is nothing to read."""
    if not path.exists():
        raise BadInput([Mistake(str(path), None, "there is no log here; name its folder: --data")])
    try:
        with closing(reading_connection(path)) as connection:
            trouble = _version_trouble(connection)
            if trouble:
                raise BadInput([Mistake(str(path), None, f"cannot be read: {trouble}")])
            connection.execute("BEGIN")
            yield connection
    except sqlite3.Error as error:
        words = f"cannot be read: {error}; see `holdpoint log verify`"
        raise BadInput([Mistake(str(path), None, words)]) from error


def _found(connection: sqlite3.Connection) -> Found:
    trouble = _version_trouble(connection)
    if trouble:
        return Found(True, False, words=trouble)
    # Pages of the newest events are read here; the whole file is the business of verify.
    connection.execute("SELECT max(number), count(*) FROM cycle").fetchone()
    latch, standing = latch_of(connection), standing_of(connection)
    service = in_service(connection)
    asked = (standing.plan,)
    row = connection.execute("SELECT json FROM plan WHERE digest = ?", asked).fetchone()
    if row is None:
        return Found(True, True, latch, service=service)
    zones = confirmed(standing, row[0])
    return Found(True, True, latch, standing.plan, row[0], zones, service=service)


def inspect(path: Path) -> Found:
    """What the log at ``path`` was left with, before the writer opens it.  Never raises for
    a file that is missing, damaged or foreign."""
    if damage_mark(path).exists():
        return Found(True, False, words="it was found damaged while it was written")
    if not path.exists():
        return Found(False, True)
    try:
        with closing(reading_connection(path)) as connection:
            return _found(connection)
    except (sqlite3.Error, OSError, ValueError, KeyError, TypeError) as error:
        return Found(True, False, words=str(error))


def put_aside(path: Path, utc: str) -> Path:
    """Rename a log that cannot be read, with all that belongs to it; returns its new name."""
    stamp = re.sub(r"[^0-9TZ]", "", utc.split(".", maxsplit=1)[0])
    name, number = f"{path.stem}.unreadable-{stamp}{path.suffix}", 1
    while path.with_name(name).exists():
        number += 1
        name = f"{path.stem}.unreadable-{stamp}-{number}{path.suffix}"
    target = path.with_name(name)
    for ending in ("-wal", "-shm", ""):
        with suppress(FileNotFoundError):
            path.with_name(path.name + ending).rename(target.with_name(name + ending))
    damage_mark(path).unlink(missing_ok=True)
    _sync_folder(path.parent)
    return target


def _sync_folder(folder: Path) -> None:
    """Make names in a folder last through a power cut: fsync(2).  Not possible on Windows."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def migrate(connection: sqlite3.Connection, newest: int | None = None) -> None:
    """Bring the schema to the newest version (or to ``newest``); each file is all or nothing."""
    for version, sql in migrations():
        present = connection.execute("PRAGMA user_version").fetchone()[0]
        if version <= present or (newest is not None and version > newest):
            continue
        try:
            connection.executescript(f"BEGIN;\n{sql}\nPRAGMA user_version = {version};\nCOMMIT;")
        except sqlite3.Error:
            connection.rollback()
            raise


def _settings(connection: sqlite3.Connection) -> None:
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA fullfsync = ON")  # only macOS has it: sqlite.org/pragma.html
    connection.execute("PRAGMA checkpoint_fullfsync = ON")
    connection.execute("PRAGMA wal_autocheckpoint = 256")  # pages: 4 MiB
    connection.execute(f"PRAGMA journal_size_limit = {16 * 1024 * 1024}")


def _make(path: Path) -> None:
    """A new log appears under its name only when it is whole."""
    fresh = path.with_name(path.name + ".new")
    for ending in ("-wal", "-shm", "-journal", ""):
        fresh.with_name(fresh.name + ending).unlink(missing_ok=True)
    with closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
        connection.execute(f"PRAGMA page_size = {PAGE_BYTES}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA synchronous = FULL")
        migrate(connection)
    fresh.rename(path)
    _sync_folder(path.parent)


def writing_connection(path: Path) -> sqlite3.Connection:
    """The one connection that writes.  Raises sqlite3.Error or OSError when it cannot."""
    db = sqlite3.connect(_uri(path, "mode=rw"), uri=True, isolation_level=None, timeout=_BUSY_S)
    try:
        _settings(db)
        migrate(db)
    except sqlite3.Error:
        db.close()
        raise
    return db


def prepare(path: Path, utc: str) -> str | None:
    """Put a log aside that cannot be read and make a new one where there is none.

    Returns the new name of the log that was put aside, or None.  Raises sqlite3.Error or OSError.
    """
    if sqlite3.sqlite_version_info < _OLDEST_LIBRARY:
        raise sqlite3.NotSupportedError(f"SQLite {sqlite3.sqlite_version} is older than 3.37")
    found = inspect(path)
    aside = None if found.readable else put_aside(path, utc).name
    if not path.exists():
        _make(path)
    return aside
