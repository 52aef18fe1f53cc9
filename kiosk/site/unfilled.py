"""Lines of a site file that still carry an example's value, marked ``# FILL IN: what it is``.

A mark is FILL IN in capitals anywhere in a comment beside a value, or either way written at the
beginning of any comment.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.mistakes import Mistake
from kiosk.toml_lines import Comment, Table, Where, comments_of, lines_of

FILL_IN = "# FILL IN: "
_BEGINS = re.compile(r"#*\s*fill[\s_-]*in\b:?\s*(.*)", re.IGNORECASE)
_HAS = re.compile(r".*?\bFILL[\s_-]*IN\b:?\s*(.*)")


@dataclass(frozen=True, slots=True)
class Unfilled:
    """One such line, counted from 1; ``what`` belongs there."""

    line: int
    key: str
    what: str


def unfilled(text: str) -> tuple[Unfilled, ...]:
    """The marked lines of a site file's text, which is valid TOML."""
    marked = ((comment, _mark(comment)) for comment in comments_of(text))
    found = [(comment, mark[1].strip()) for comment, mark in marked if mark]
    lines = lines_of(text) if found else {}
    return tuple(Unfilled(at.line, _key_at(lines, at), what) for at, what in found)


def _mark(comment: Comment) -> re.Match[str] | None:
    return _BEGINS.match(comment.text) or (None if comment.alone else _HAS.match(comment.text))


def _key_at(lines: Mapping[Where, int], comment: Comment) -> str:
    """The key whose value a comment is beside, or above when it stands alone."""
    after = [(at, place) for place, at in lines.items() if at > comment.line]
    before = [(at, len(place), place) for place, at in lines.items() if at <= comment.line]
    if comment.alone and after:
        place = min(after, key=lambda row: row[0])[1]
    elif before:
        place = max(before, key=lambda row: row[:2])[2]
    else:
        return "the file"
    return next(part for part in reversed(place) if isinstance(part, str))


def refuse_unfilled(whole: Table) -> None:
    """A mistake for each marked line: nobody works with a value that was made up."""
    for row in unfilled(whole.file.content.decode("utf-8-sig")):
        what = f" ({row.what})" if row.what else ""
        text = (
            f"{row.key} still has an example's value{what}: write your machine's own, and take the "
            "words FILL IN away"
        )
        whole.mistakes.append(Mistake(whole.file.name, row.line, text))
