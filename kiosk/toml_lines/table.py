"""Taking one TOML table apart, key by key, collecting every mistake.

Each method takes a key and returns its value.  When the value is missing or wrong a mistake is
noted and a harmless stand-in returned, so that reading goes on to the next mistake; whoever
reads a whole file raises ``BadInput`` at the end when there is any.
"""

from __future__ import annotations

import datetime
import difflib
import math
from collections.abc import Sequence
from typing import Any

from kiosk.mistakes import BadInput, Mistake
from kiosk.toml_lines.lines import Where
from kiosk.toml_lines.source import TomlFile

_MISSING: Any = object()
Span = tuple[float, float]  # lowest and highest number allowed
_WORDS = {bool: "true or false", int: "a number", float: "a number", str: "text", list: "a list",
          dict: "a table"}  # fmt: skip


def _seen(value: object) -> str:
    """What a person wrote, short, and what kind of thing that is."""
    kind = _WORDS.get(type(value), "a date or time")
    if isinstance(value, bool):
        return "true" if value else "false"
    shown = f'"{value}"' if isinstance(value, str) else str(value)
    return f"{kind} ({shown[:40]})"


def _span_words(low: float, high: float) -> str:
    return f"{low:.10g}" if low == high else f"a number from {low:.10g} to {high:.10g}"


def _plain(word: str) -> str:
    """Without what people mix up: capitals, blanks and hyphens for underscores."""
    return word.strip().lower().replace(" ", "_").replace("-", "_")


def _nearest(word: str, allowed: Sequence[str]) -> str | None:
    """The word that was meant, as it must be written; None when none is near."""
    plain = {_plain(known): known for known in allowed}
    near = difflib.get_close_matches(_plain(word), plain, n=1, cutoff=0.6)
    return plain[near[0]] if near else None


class Table:
    """A view of one table of a file; ``mistakes`` is shared by all tables of the file."""

    def __init__(
        self,
        file: TomlFile,
        values: dict[str, Any] | None = None,
        where: Where = (),
        mistakes: list[Mistake] | None = None,
    ) -> None:
        self.file = file
        self.values = file.values if values is None else values
        self.where = where
        self.mistakes: list[Mistake] = [] if mistakes is None else mistakes
        self.known: list[str] = []
        self._missing: dict[str, Mistake] = {}  # required keys that are not there

    # -- telling ---------------------------------------------------------------------------

    @property
    def title(self) -> str:
        """The table as the file spells it, for messages."""
        names = ".".join(str(part) for part in self.where if isinstance(part, str))
        if not names:
            return "the file"
        return f"[[{names}]]" if isinstance(self.where[-1], int) else f"[{names}]"

    def line(self, *inside: str | int) -> int | None:
        return self.file.line((*self.where, *inside))

    def wrong(self, text: str, *inside: str | int) -> None:
        """Note a mistake at a key of this table, or at the table itself."""
        self.mistakes.append(Mistake(self.file.name, self.line(*inside), text))

    def missing(self, key: str, text: str) -> None:
        """Note that a required key is not there; ``done`` may find it under a wrong name."""
        self.wrong(text)
        self._missing[key] = self.mistakes[-1]

    def raise_mistakes(self) -> None:
        """Raise ``BadInput`` with all mistakes in line order, when there are any."""
        if self.mistakes:
            raise BadInput(sorted(self.mistakes, key=lambda m: (m.file, m.line or 0)))

    def done(self) -> None:
        """Refuse every key that nobody asked for, naming the nearest known one.

        Where that one is missing, the misspelt key is all that is told.
        """
        for key in self.values:
            if key in self.known:
                continue
            left = [known for known in self.known if known not in self.values]
            near = _nearest(key, left) or _nearest(key, self.known)
            known = ", ".join(sorted(set(self.known)))
            mend = f"{self.title} knows {known}" if near is None else f'write "{near}"'
            self.wrong(f'unknown key "{key}": {mend}', key)
            absent = self._missing.pop(near or "", None)
            self.mistakes[:] = [mistake for mistake in self.mistakes if mistake is not absent]

    # -- values ----------------------------------------------------------------------------

    def take(self, key: str, wanted: str, default: Any = _MISSING) -> Any:
        """The raw value; the default when absent; a mistake and None when required."""
        self.known.append(key)
        value = self.values.get(key, _MISSING)
        if value is not _MISSING:
            return value
        if default is _MISSING:
            self.missing(key, f'"{key}" is missing in {self.title}: add {key} = {wanted}')
            return None
        return default

    def has(self, key: str) -> bool:
        return key in self.values

    def _number(self, value: Any, low: float, high: float, spot: Where, name: str) -> float:
        mend = f"write {_span_words(low, high)}"
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.wrong(f"{name} is {_seen(value)}: {mend}", *spot)
        elif not math.isfinite(value) or not low <= value <= high:
            self.wrong(f"{name} is {value:.10g}, out of range: {mend}", *spot)
        else:
            return float(value)
        return min(max(1.0, low), high)

    def number(self, key: str, low: float, high: float, default: Any = _MISSING) -> Any:
        """A finite number within limits; ``default`` (may be None) when absent."""
        value = self.take(key, _span_words(low, high), default)
        if key not in self.values:
            return min(max(1.0, low), high) if default is _MISSING else default
        return self._number(value, low, high, (key,), key)

    def whole(self, key: str, low: int, high: int, default: Any = _MISSING) -> Any:
        """A whole number within limits."""
        value = self.number(key, low, high, default)
        raw = self.values.get(key)
        if isinstance(raw, float):
            self.wrong(f"{key} is {raw:.10g}: write a whole number, without a point", key)
            return low
        return value if value is None else int(value)

    def text(self, key: str, default: Any = _MISSING, longest: int = 200) -> Any:
        """Text that is not empty, on one line."""
        value = self.take(key, '"..."', default)
        if key not in self.values:
            return "" if default is _MISSING else default
        if not isinstance(value, str):
            self.wrong(f'{key} is {_seen(value)}: write text in quotes, {key} = "..."', key)
        elif not value.strip() or not value.isprintable():
            self.wrong(f"{key} is empty or has hidden characters: write plain text", key)
        elif len(value) > longest:
            self.wrong(f"{key} has {len(value)} characters: write at most {longest}", key)
        else:
            return value
        return ""

    def day(self, key: str, default: Any = _MISSING, *, like: str = "2026-01-31") -> Any:
        """A day, written without quotes as ``like``; ``default`` (may be None) when absent."""
        value = self.take(key, like, default)
        if default is not _MISSING and not self.has(key):
            return default
        if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
            return value
        if self.has(key):
            self.wrong(f"{key} is not a day: write {key} = {like}, without quotes", key)
        return datetime.date(2000, 1, 1)

    def choice(self, key: str, allowed: Sequence[str], default: Any = _MISSING) -> Any:
        """One of a few words."""
        wanted = " or ".join(f'"{word}"' for word in allowed)
        value = self.take(key, wanted, default)
        if key not in self.values:
            return allowed[0] if default is _MISSING else default
        if isinstance(value, str) and value in allowed:
            return value
        near = _nearest(str(value), allowed)
        mend = wanted if near is None else f'"{near}"'
        told = f'"{value[:40]}" is not known' if isinstance(value, str) else f"is {_seen(value)}"
        self.wrong(f"{key} {told}: write {mend}", key)
        return allowed[0]

    def flag(self, key: str, default: Any = _MISSING) -> bool:
        """true or false."""
        value = self.take(key, "true or false", default)
        if key not in self.values:
            return False if default is _MISSING else bool(default)
        if not isinstance(value, bool):
            self.wrong(f"{key} is {_seen(value)}: write true or false, without quotes", key)
            return False
        return value

    def items(self, key: str, wanted: str, default: Any = _MISSING) -> list[Any]:
        """A list; elements not judged yet."""
        value = self.take(key, wanted, default)
        if key not in self.values:
            return [] if default is _MISSING else list(default)
        if not isinstance(value, list):
            self.wrong(f"{key} is {_seen(value)}: write {wanted}", key)
            return []
        return value

    def vector(
        self, key: str, count: int, low: float, high: float, default: Any = _MISSING
    ) -> tuple[float, ...]:
        """``count`` numbers, each within limits."""
        example = "[" + ", ".join(["0.0"] * count) + "]"
        value = self.take(key, example, default)
        if key not in self.values:
            return (min(max(1.0, low), high),) * count if default is _MISSING else default
        return self._vector(value, count, (low, high), (key,), key)

    def _vector(
        self, value: Any, count: int, span: Span, spot: Where, name: str
    ) -> tuple[float, ...]:
        if isinstance(value, list) and len(value) == count:
            return tuple(
                self._number(n, *span, (*spot, i), f"number {i + 1} of {name}")
                for i, n in enumerate(value)
            )
        example = "[" + ", ".join(["0.0"] * count) + "]"
        self.wrong(f"{name} is {_seen(value)}: write {count} numbers, {example}", *spot)
        return (min(max(1.0, span[0]), span[1]),) * count

    def numbers(
        self, key: str, counts: tuple[int, int], low: float, high: float
    ) -> tuple[float, ...]:
        """A list of least to most numbers, each within limits."""
        values = self.items(key, "[0.0, ...]")
        least, most = counts
        if isinstance(self.values.get(key), list) and not least <= len(values) <= most:
            few_many = f"{least}" if least == most else f"{least} to {most}"
            self.wrong(f"{key} has {len(values)} numbers: write {few_many}", key)
        return tuple(
            self._number(value, low, high, (key, i), f"number {i + 1} of {key}")
            for i, value in enumerate(values)
        )

    def vectors(
        self, key: str, count: int, low: float, high: float, default: Any = _MISSING
    ) -> tuple[tuple[float, ...], ...]:
        """A list of ``[x, y]`` and the like."""
        example = "[[" + ", ".join(["0.0"] * count) + "], ...]"
        rows = self.items(key, example, default)
        return tuple(
            self._vector(row, count, (low, high), (key, i), f"element {i + 1} of {key}")
            for i, row in enumerate(rows)
        )

    def loops(self, key: str, low: float, high: float) -> tuple[tuple[tuple[float, ...], ...], ...]:
        """A list of loops, each a list of ``[x, y]``; absent is none."""
        found = []
        for i, loop in enumerate(self.items(key, "[[[0.0, 0.0], ...], ...]", ())):
            if not isinstance(loop, list):
                self.wrong(f"loop {i + 1} of {key} is {_seen(loop)}: write [[x, y], ...]", key, i)
                continue
            name = f"loop {i + 1} of {key}"
            found.append(
                tuple(
                    self._vector(row, 2, (low, high), (key, i, j), f"point {j + 1} of {name}")
                    for j, row in enumerate(loop)
                )
            )
        return tuple(found)

    # -- tables inside ---------------------------------------------------------------------

    def table(self, key: str, required: bool = True) -> Table | None:
        """The table ``[key]``; None when absent or wrong."""
        self.known.append(key)
        value = self.values.get(key)
        path = ".".join([*(str(p) for p in self.where), key])
        if value is None:
            if required:
                self.missing(key, f"the table [{path}] is missing: add it")
            return None
        if not isinstance(value, dict):
            self.wrong(f"{key} is {_seen(value)}: write it as a table, [{path}]", key)
            return None
        return Table(self.file, value, (*self.where, key), self.mistakes)

    def rows(self, key: str, required: bool = False) -> list[Table]:
        """The rows ``[[key]]``."""
        self.known.append(key)
        value = self.values.get(key, [])
        path = ".".join([*(str(p) for p in self.where if isinstance(p, str)), key])
        if required and value == []:
            self.missing(key, f"{self.title} has no [[{path}]] row: add one")
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            self.wrong(f"{key} must be rows: write each as [[{path}]]", key)
            return []
        return [
            Table(self.file, row, (*self.where, key, i), self.mistakes)
            for i, row in enumerate(value)
        ]
