"""The people file and the file of wrong tries: whole or not at all, for their owner's eyes only.

``people.json`` has one writer, the command; ``people-tries.json`` has one, the guard.
"""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput, Mistake
from kiosk.people.person import NAME_CAP, ROLES, People, Person
from kiosk.typed import parsed, typed

FORMAT = 1
MODE = 0o600
_HEX = set("0123456789abcdef")
_MOST_BYTES = 1024 * 1024


def people_file(data: Path) -> Path:
    """The people of one machine."""
    return data / "people.json"


def tries_file(data: Path) -> Path:
    """Wrong tries on end, so that they outlive a restart."""
    return data / "people-tries.json"


def read(path: Path) -> People | None:
    """Everyone; None when there is no such file.  Raises BadInput when it cannot be used."""
    try:
        others, content = _content(path)
    except FileNotFoundError:
        return None
    except OSError as trouble:
        raise _wrong(path, f"cannot be read ({trouble.strerror}): see to it") from None
    if others:
        raise _wrong(
            path, "others may read or change it: say chmod 600, and give everyone a new PIN"
        )
    try:
        return _people(path, parsed(content))
    except ValueError as trouble:
        words = f"is damaged ({trouble}): put back a copy, or take it away and begin anew"
        raise _wrong(path, words) from None


def _content(path: Path) -> tuple[bool, bytes]:
    """Whether others have any right to the file, and its bytes; of the same opened file."""
    with path.open("rb") as file:
        mode = os.fstat(file.fileno()).st_mode
        return bool(mode & 0o077), file.read(_MOST_BYTES)


def _wrong(path: Path, words: str) -> BadInput:
    return BadInput([Mistake(str(path), None, words)])


def _people(path: Path, row: Any) -> People:
    if not isinstance(row, dict) or row.get("format") != FORMAT:
        raise ValueError(f"no people file of format {FORMAT}")
    people = typed(People, {key: value for key, value in row.items() if key != "format"})
    for at, person in enumerate(people.persons, 1):
        _check(at, person)
    twice = [name for name, n in Counter(p.name for p in people.persons).items() if n > 1]
    if twice or not _is_hex(people.salt):
        raise ValueError(f"two are named {twice[0]}" if twice else "the salt is not hex")
    return people


def _check(at: int, person: Person) -> None:
    if not person.name or len(person.name) > NAME_CAP or not person.name.isprintable():
        raise ValueError(f"person {at} has no fit name")
    if person.role not in ROLES:
        raise ValueError(f"person {at}: role {person.role!r} is none of {', '.join(ROLES)}")
    if not all(map(_is_hex, (person.salt, person.pin or "", person.badge or ""))):
        raise ValueError(f"person {at}: a digest is not hex")


def _is_hex(text: str) -> bool:
    return set(text) <= _HEX and len(text) % 2 == 0


def write(path: Path, people: People) -> None:
    """Put everyone into the file.  Raises OSError when it cannot be written."""
    _replace(path, {"format": FORMAT, **asdict(people)})


def read_tries(path: Path) -> dict[str, int]:
    """Wrong tries by mark; empty when there is no such file.  ValueError or OSError else."""
    try:
        row = parsed(path.read_bytes())
    except FileNotFoundError:
        return {}
    if not isinstance(row, dict) or not all(type(n) is int and n >= 0 for n in row.values()):
        raise ValueError("no file of wrong tries")
    return row


def write_tries(path: Path, wrong: Mapping[str, int]) -> None:
    """Put the wrong tries into the file.  Raises OSError when it cannot be written."""
    _replace(path, dict(wrong))


def _replace(path: Path, row: Mapping[str, Any]) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".people-")  # born with mode 0600
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(row, file, ensure_ascii=False, indent=1)
            file.write("\n")
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    _sync_folder(path.parent)


def _sync_folder(folder: Path) -> None:
    """So that the new name outlives a power cut too: fsync(2)."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
