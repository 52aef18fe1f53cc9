"""One TOML file as a person wrote it: its values, its bytes and the line of every key.

Finding the lines takes longer than reading the values: it waits until one is asked for.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput, Mistake
from kiosk.toml_lines.lines import Where, lines_of

_LARGEST_BYTES = 4 * 1024 * 1024  # a job with an inline outline of 100,000 points
_DIGITS = re.compile(r"[0-9_a-fA-F]{4000}")
_TWICE = re.compile(r"^Cannot declare \('(\w+)',\) twice")
_HABITS = (
    (re.compile(r"[\u201c\u201d\u201e\u00ab\u00bb]"), 'write straight quotes, "mdf"'),
    (re.compile(r"=\s*[+-]?[0-9]+,[0-9]+\s*(#|$)"), "write a point in a number, 22.5"),
    (re.compile(r"=\s*[+-]?[0-9.]+\s*[A-Za-z%]+\s*(#|$)"), "write the number without its unit"),
)  # of people who write by hand, and the mend
_AT_LINE = re.compile(r"\s*\(at line (\d+), column (\d+)\)$")
_lines = lru_cache(maxsize=4)(lines_of)  # files of one job


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A TOML file that parses.  ``name`` is what messages call it."""

    path: Path
    name: str
    content: bytes
    values: dict[str, Any]
    text: str = field(repr=False)

    def line(self, where: Where) -> int | None:
        """Line of ``where``, or of the nearest table around it; None for the whole file."""
        lines = _lines(self.text)
        while where:
            if where in lines:
                return lines[where]
            where = where[:-1]
        return None


def bad_file(name: str, text: str, line: int | None = None) -> BadInput:
    """One mistake that makes the rest of the file unreadable."""
    return BadInput([Mistake(name, line, text)])


def content_of(path: Path, name: str, largest: int = _LARGEST_BYTES) -> bytes:
    """The bytes of a file that a person named.  Raises ``BadInput`` in words."""
    try:
        if not (path.is_file() or path.is_dir()) and path.exists():
            raise bad_file(name, "this is a device or a pipe: name an ordinary file")
        with path.open("rb") as file:
            content = file.read(largest + 1)
    except FileNotFoundError:
        raise bad_file(name, "there is no such file: check the name and the folder") from None
    except IsADirectoryError:
        raise bad_file(name, "this is a folder: name a file in it") from None
    except OSError as trouble:
        reason = trouble.strerror or "unknown reason"
        raise bad_file(name, f"cannot be read ({reason}): check the file") from None
    if len(content) > largest:
        raise bad_file(name, f"is larger than {largest // 1024 // 1024} MB: is it the right file?")
    return content


def toml_from(content: bytes, path: Path, name: str) -> TomlFile:
    """A TOML file from its bytes.  Raises ``BadInput`` with the line of a syntax mistake."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = content.count(b"\n", 0, trouble.start) + 1
        raise bad_file(name, "is not UTF-8 text: save it as UTF-8", line) from None
    text = text.replace("\r\n", "\n")
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise _syntax_mistake(name, str(trouble), text) from None
    except RecursionError:
        raise bad_file(name, "has brackets nested too deep: write plain lists") from None
    except ValueError:  # more digits than Python takes for one number: sys.set_int_max_str_digits
        found = _DIGITS.search(text)
        at = None if found is None else text.count("\n", 0, found.start()) + 1
        raise bad_file(name, "has a number of thousands of digits: mend it", at) from None
    return TomlFile(path, name, content, values, text)


def _syntax_mistake(name: str, words: str, text: str) -> BadInput:
    match = _AT_LINE.search(words)
    line = int(match.group(1)) if match else text.rstrip("\n").count("\n") + 1
    told = _AT_LINE.sub("", words).replace(" (at end of document)", " at the end of the file")
    column = f" in column {match.group(2)}" if match else ""
    told, twice = _TWICE.subn(r"table [\1] stands a second time", told)
    mend = "keep one of them" if twice else _mend_for(text.split("\n")[line - 1])
    return bad_file(name, f"{told[:1].lower()}{told[1:]}{column}: {mend}", line)


def _mend_for(line: str) -> str:
    """What to write instead of a line that is no TOML."""
    return next(
        (mend for habit, mend in _HABITS if habit.search(line)),
        'write key = value, text in "quotes", lists in [brackets]',
    )


def read_toml(path: Path) -> TomlFile:
    """Read a TOML file.  Raises ``BadInput``: missing, unreadable, not UTF-8, not TOML."""
    return toml_from(content_of(path, path.name), path, path.name)
