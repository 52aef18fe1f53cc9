"""The page of the long runs: one section for each, written anew by its run."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from pathlib import Path

import written

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "long-runs.md"
Row = tuple[str, str, str, bool]


def when() -> str:
    """Date, revision and computer of a run, in words."""
    load = os.getloadavg()[1]
    return (f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC, revision {written.revision()}, "
            f"{os.cpu_count()} processors, load {load:.1f} over 5 minutes")  # fmt: skip


def as_table(rows: list[Row]) -> str:
    """Rows as a table."""
    head = "| what | limit | found | holds |\n|---|---|---|---|\n"
    cells = (f"| {a} | {b} | {c} | {'yes' if ok else '**no**'} |" for a, b, c, ok in rows)
    return head + "\n".join(cells)


def write(name: str, text: str, page: Path = PAGE) -> None:
    """Put a run's text between its marks."""
    before = page.read_text(encoding="utf-8")
    mark = re.compile(rf"(<!-- {name} -->\n).*?(<!-- end of {name} -->)", re.S)
    if not mark.search(before):
        raise ValueError(f"{page} has no place for {name}")
    body = f"{when()}.\n\n{text}\n"
    page.write_text(mark.sub(lambda m: m[1] + body + m[2], before), encoding="utf-8")
