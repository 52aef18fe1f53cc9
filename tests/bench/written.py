"""Puts what a bench measured into its page, between two marks; the words around them stay."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"


def put(page: Path, lines: Sequence[str]) -> None:
    """Replace what stands between the marks.  Raises ValueError when the page has none."""
    text = page.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN, 1)
    after = rest.split(END, 1)[1]
    body = "\n".join(lines)
    page.write_text(f"{before}{BEGIN}\n{body}\n{END}{after}", encoding="utf-8")


def revision() -> str:
    """What is measured, as git names it."""
    words = ("git", "describe", "--always")
    done = subprocess.run(words, cwd=Path(__file__).parent, capture_output=True, text=True,
                          check=False)  # fmt: skip
    return done.stdout.strip() or "unknown"
