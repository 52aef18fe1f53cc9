r"""How a gauge writes a line of text, and how it is asked for one.

A pattern is the line as the gauge writes it, with ``#`` where the number stands, ``?`` for any
one character but a sign, a point or a blank, and a blank for one blank or more: ``"P= # kPa"``.
Everything else stands for itself.  Without a pattern a line is the number, and the unit after it
or not.  A number is ``-80.25``: sign or none, 1 to 6 digits, a point and 1 to 6 digits or none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from kiosk.units import KPA_PER

_NUMBER = rb"([+-]?\d{1,6}(?:\.\d{1,6})?)"
_BLANKS = rb"[ \t]*"
_NEVER_BESIDE = "0123456789.?"  # could be taken for a part of the number, or take a part of it


@dataclass(frozen=True, slots=True)
class TextForm:
    r"""The text keys of a layout.

    pattern      None: the number, and the unit or not
    line_end     what ends a line; None: CR, LF or both
    request      what to send for each line; None: the gauge sends by itself
    request_end  what ends a request, "" for nothing
    """

    pattern: str | None = None
    line_end: str | None = None
    request: str | None = None
    request_end: str = ""

    @property
    def asks(self) -> bytes | None:
        """The bytes that ask for a line; None when nothing is ever sent."""
        return None if self.request is None else (self.request + self.request_end).encode()

    @property
    def ends(self) -> bytes | None:
        """The bytes that end a line; None: CR, LF or both."""
        return None if self.line_end is None else self.line_end.encode()

    def line(self, number: str) -> bytes:
        """A line as the gauge would write it."""
        return (self.pattern or "#").replace("?", "x").replace("#", number).encode()


@lru_cache(maxsize=256)
def line_rule(form: TextForm, unit: str) -> re.Pattern[bytes]:
    """What a whole line must match; its one group is the number.

    Raises ValueError with what is wrong with the pattern and what to write.
    """
    if form.pattern is None:
        return re.compile(_BLANKS + _NUMBER + rb"(?:[ \t]*" + unit.encode() + rb")?" + _BLANKS)
    if trouble := _pattern_trouble(form.pattern, unit):
        raise ValueError(trouble)
    before, after = (_literal(part) for part in form.pattern.strip(" ").split("#"))
    return re.compile(_BLANKS + before + _NUMBER + after + _BLANKS, re.DOTALL)


def _pattern_trouble(pattern: str, unit: str) -> str | None:
    if pattern.count("#") != 1:
        return 'write one # where the number stands, as in "P= # kPa"'
    before, after = pattern.split("#")
    if before[-1:] in {*_NEVER_BESIDE} or after[:1] in {*_NEVER_BESIDE}:
        return "# stands beside a digit, a point or a ?, which could be the number's: part them"
    if before.rstrip(" ")[-1:] in {"+", "-"}:
        return "a sign before # is the number's own: leave it out"
    others = [word for word in re.findall(r"[A-Za-z]+", pattern) if word in KPA_PER]
    if others and unit not in others:
        return f"the pattern says {others[0]} and the layout {unit}: write one of them in both"
    return None


def _literal(part: str) -> bytes:
    marks = {" ": rb"[ \t]+", "?": rb"[^+\-. \t]"}
    plain = re.sub(" +", " ", part)
    return b"".join(marks.get(mark, re.escape(mark.encode())) for mark in plain)


def number_in(line: bytes, form: TextForm, unit: str) -> float | None:
    """The number on a line; None when the line is anything else, or in another unit."""
    match = line_rule(form, unit).fullmatch(line)
    return None if match is None else float(match[1])
