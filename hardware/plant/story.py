"""Stories: the numbers of a simulated plant, and what happens to it at what second.

format = 1
title = "A leak that grows"
[table]      keys of TableNumbers
[gauge]      keys of GaugeNumbers
[machine]    keys of MachineNumbers
[[event]]    at_s, do and its words, as the remote takes them
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from hardware.plant.machine import MachineNumbers
from hardware.plant.model import GaugeNumbers, TableNumbers
from hardware.plant.plant import Numbers
from hardware.plant.remote import VERBS

FOLDER = Path(__file__).parent / "stories"
_TOP = {"format", "title", "table", "gauge", "machine", "event"}


class BadStory(Exception):
    """A story that cannot be used: one line with file, line and mend."""


@dataclass(frozen=True, slots=True)
class Event:
    """Something done to the plant at a second of the story."""

    at_s: float
    request: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Story:
    """A plant and what happens to it."""

    title: str
    numbers: Numbers
    events: tuple[Event, ...]


# Numbers that may be negative, and those that must not be zero; all others are 0 or more.
_SIGNED = {"offset_kpa"}
_ABOVE_ZERO = {"air_kpa", "volume_l", "board_mm", "coast_s"}


def names() -> list[str]:
    """The stories that come with the program."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def file_of(name: str) -> Path:
    """A story's file: one that comes with the program, or a path.  Raises ``BadStory``."""
    path = FOLDER / f"{name}.toml" if name in names() else Path(name)
    if not path.is_file():
        raise BadStory(f"{name}: no such story; write a file's path or one of {', '.join(names())}")
    return path


class _Reader:
    """Takes a story's tables apart and names the line of the first mistake."""

    def __init__(self, path: Path) -> None:
        self._path = path
        try:
            self._text = path.read_text(encoding="utf-8")
            self.data = tomllib.loads(self._text)
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as wrong:
            raise BadStory(f"{path}: {wrong}") from None

    def bad(self, key: str, text: str) -> BadStory:
        """The mistake at the first line that holds ``key``."""
        lines = self._text.splitlines()
        at = next((place for place, line in enumerate(lines, 1) if key in line), None)
        where = f"{self._path}:{at}" if at else f"{self._path}"
        return BadStory(f"{where}: {text}")

    def known(self, table: Mapping[str, object], keys: set[str]) -> None:
        """Refuse a key that is not among ``keys``."""
        for key in table:
            if key not in keys:
                raise self.bad(key, f"{key} is not known here; known are {', '.join(sorted(keys))}")

    def table(self, key: str) -> dict[str, object]:
        """One of the tables, or an empty one."""
        table = self.data.get(key, {})
        if not isinstance(table, dict):
            raise self.bad(key, f"write [{key}] on a line of its own")
        return table

    def number(self, key: str, value: object) -> float:
        """A number in its range."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.bad(key, f"{key} is a number")
        if not math.isfinite(value) or (value < 0 and key not in _SIGNED):
            raise self.bad(key, f"{key} is 0 or more")
        if value == 0 and key in _ABOVE_ZERO:
            raise self.bad(key, f"{key} is more than 0")
        return float(value)

    def curve(self, key: str, value: object) -> tuple[tuple[float, float], ...]:
        """Rows of vacuum and free air, vacuum rising."""
        rows = value if isinstance(value, list) else []
        if len(rows) < 2 or not all(isinstance(row, list) and len(row) == 2 for row in rows):
            raise self.bad(key, f"{key} is two or more rows, such as [[0, 40], [88, 0]]")
        curve = tuple((self.number(key, row[0]), self.number(key, row[1])) for row in rows)
        if any(low[0] >= high[0] for low, high in itertools.pairwise(curve)):
            raise self.bad(key, f"{key}: vacuum rises from row to row")
        return curve

    def keyed(self, name: str, kind: type) -> dict[str, Any]:
        """The values of one table, by the fields of its dataclass."""
        kinds = {field.name: str(field.type) for field in fields(kind)}
        table = self.table(name)
        self.known(table, set(kinds))
        values: dict[str, Any] = {}
        for key, value in table.items():
            if kinds[key].startswith("tuple"):
                values[key] = self.curve(key, value)
            else:
                number = self.number(key, value)
                values[key] = int(number) if kinds[key] == "int" else number
        return values

    def event(self, row: object) -> Event:
        """One [[event]]."""
        if not isinstance(row, dict) or row.get("do") not in VERBS:
            raise self.bad("[[event]]", f"an event needs at_s and do: {', '.join(VERBS)}")
        request = {key: value for key, value in row.items() if key != "at_s"}
        return Event(self.number("at_s", row.get("at_s")), request)


def load(path: Path) -> Story:
    """Read a story.  Raises ``BadStory`` with the first mistake in it."""
    reader = _Reader(path)
    reader.known(reader.data, _TOP)
    if reader.data.get("format") != 1:
        raise reader.bad("format", "write format = 1 as the first line")
    rows = reader.data.get("event", [])
    if not isinstance(rows, list):
        raise reader.bad("event", "write [[event]] with two brackets")
    events = sorted((reader.event(row) for row in rows), key=lambda event: event.at_s)
    numbers = Numbers(
        TableNumbers(**reader.keyed("table", TableNumbers)),
        GaugeNumbers(**reader.keyed("gauge", GaugeNumbers)),
        MachineNumbers(**reader.keyed("machine", MachineNumbers)),
    )
    return Story(str(reader.data.get("title", path.stem)), numbers, tuple(events))
