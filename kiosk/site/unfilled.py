"""Lines of a site file that still carry an example's value, marked ``# FILL IN: what it is``."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kiosk.mistakes import Mistake
from kiosk.toml_lines import Table

FILL_IN = "# FILL IN: "
_MARKED = re.compile(r"\s*([A-Za-z_]+)\s*=.*?#\s*FILL IN\b:?\s*(.*)")


@dataclass(frozen=True, slots=True)
class Unfilled:
    """One such line, counted from 1; ``what`` belongs there."""

    line: int
    key: str
    what: str


def unfilled(text: str) -> tuple[Unfilled, ...]:
    """The marked lines of a site file's text."""
    found = ((at, _MARKED.match(line)) for at, line in enumerate(text.splitlines(), 1))
    return tuple(Unfilled(at, match[1], match[2].strip()) for at, match in found if match)


def refuse_unfilled(whole: Table) -> None:
    """A mistake for each marked line: nobody works with a value that was made up."""
    for row in unfilled(whole.file.content.decode("utf-8-sig")):
        what = f" ({row.what})" if row.what else ""
        text = (
            f"{row.key} still has an example's value{what}: write your machine's own, and take the "
            "words FILL IN away"
        )
        whole.mistakes.append(Mistake(whole.file.name, row.line, text))
