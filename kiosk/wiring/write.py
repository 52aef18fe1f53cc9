"""Keeps what was found in a site file: a new one, or tables put into one that is there."""

from __future__ import annotations

import contextlib
import os
import tempfile
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput, Mistake
from kiosk.site import Site, load_site
from kiosk.site.address import is_simulated, parse_address
from kiosk.site.unfilled import unfilled
from kiosk.wiring.sitetext import FOUND_OUT, Found, merged, new_text, replaced, tables_text


def _bad(path: Path, text: str) -> BadInput:
    return BadInput([Mistake(str(path), None, text)])


def site_there(path: Path) -> Site | None:
    """The site file that is to be written into; None when there is none yet.

    Raises ``BadInput`` when there is one that cannot be read.
    """
    return load_site(path, unfinished=True) if path.exists() else None


def refuse_early(path: Path, found: Found, force: bool) -> None:
    """Say before a person has worked for nothing that the file cannot be written.

    Raises ``BadInput``: no such folder, or a table of the name is there and ``force`` is not set.
    """
    if not path.parent.is_dir():
        raise _bad(path, "its folder is not there: make it, or name another")
    if site_there(path) is None or force:
        return
    there = replaced(path.read_text(encoding="utf-8-sig"), found)
    if there:
        words = f"has {' and '.join(there)} already: give --name another, or --force to replace it"
        raise _bad(path, words)


def write_site(path: Path, found: Found, force: bool, say: Callable[[str], None]) -> None:
    """Write it, after ``load_site`` took it, by one rename.

    Raises ``BadInput`` when it would overwrite without ``force``, and when the result is no site
    file or would change anything else; the file is then as it was.
    """
    path = path.resolve()  # a link stays a link
    refuse_early(path, found, force)
    old = path.read_text(encoding="utf-8-sig") if path.exists() else None
    text = new_text(found, _simulated(found)) if old is None else merged(old, found)
    stays = {} if old is None else _stays(old, found)
    if old is not None and (_rest(old, found) != _rest(text, found)
                            or not stays.items() <= _stays(text, found).items()):  # fmt: skip
        say(tables_text(found))
        raise _bad(path, "is written in a way that cannot be added to: put this in by hand")
    _replace(path, text)
    say(f"{'written' if old is None else 'added to'} {path}")
    if stays:
        say(f"As they were, so check that they still fit: {', '.join(stays)}")
    _tell_left(path, text, say)


def _simulated(found: Found) -> bool:
    addresses = [part.address for part in (found.gauge, found.io) if part is not None]
    return bool(addresses) and all(is_simulated(parse_address(a)) for a in addresses)


def _rest(text: str, found: Found) -> dict[str, Any]:
    """Everything in a site file but what was found."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {"no TOML": text}
    for key, part in (("gauge", found.gauge), ("layout", found.layout)):
        if part is not None:
            rows = values.pop(key, [])
            values[key] = [row for row in rows if row.get("name") != part.name]
    if found.io is not None:
        values.pop("io", None)
    return values


def _stays(text: str, found: Found) -> dict[str, Any]:
    """What a gauge that is there says and nothing was found out about; empty when it is new."""
    if found.gauge is None:
        return {}
    rows: list[dict[str, Any]] = tomllib.loads(text).get("gauge", [])
    there = next((row for row in rows if row.get("name") == found.gauge.name), {})
    return {key: value for key, value in there.items() if key not in FOUND_OUT}


def _replace(path: Path, text: str) -> None:
    """Write beside it, have it read as a site file, then rename over it."""
    number, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=path.parent)
    new = Path(name)
    try:
        with os.fdopen(number, "w", encoding="utf-8", newline=_line_end(path)) as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        _judge(new, path)
        new.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        new.replace(path)
    except OSError as trouble:
        raise _bad(path, f"cannot be written ({trouble.strerror}): name another file") from None
    finally:
        with contextlib.suppress(FileNotFoundError):
            new.unlink()


def _line_end(path: Path) -> str:
    """As the file has it already."""
    return "\r\n" if path.exists() and b"\r\n" in path.read_bytes() else "\n"


def _judge(new: Path, path: Path) -> None:
    """Raise ``BadInput`` under the name that the person gave, unless it is a site file."""
    try:
        load_site(new, unfinished=True)
    except BadInput as bad:
        told = [Mistake(path.name, m.line, f"would become wrong, and is as it was: {m.text}")
                for m in bad.mistakes]  # fmt: skip
        raise BadInput(told) from None


def _tell_left(path: Path, text: str, say: Callable[[str], None]) -> None:
    left = unfilled(text)
    if not left:
        return
    say("These lines still carry an example's number. Put your own there before anything else:")
    for row in left:
        say(f"  {path.name}:{row.line}: {row.key}: {row.what}")
