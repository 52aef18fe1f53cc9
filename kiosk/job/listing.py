"""What the jobs folder offers: one row for each job file, with what is wrong with a bad one."""

from __future__ import annotations

from pathlib import Path
from typing import TypedDict

from kiosk.job.job_file import load_job
from kiosk.mistakes import BadInput, Mistake


class Offer(TypedDict):
    """A job file on offer.  ``error`` is one line, None when it can be chosen."""

    file: str
    id: str
    title: str
    revision: str
    error: str | None


def offers(folder: Path) -> list[Offer]:
    """All ``*.job.toml`` of a folder by file name.  An id that stands twice is an error on both.

    A folder that is not there, or cannot be read, offers nothing.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.name.endswith(".job.toml"))
    except OSError:
        return []
    rows = [_offer(path) for path in paths]
    for row in rows:
        twins = [other["file"] for other in rows if other["id"] == row["id"] and other is not row]
        if row["id"] and row["error"] is None and twins:
            words = f'id "{row["id"]}" is also in {twins[0]}: give each job its own id'
            row["error"] = str(Mistake(row["file"], None, words))
    return rows


def _offer(path: Path) -> Offer:
    try:
        job = load_job(path)
    except BadInput as bad:
        more = len(bad.mistakes) - 1
        words = str(bad.mistakes[0]) + (f" (and {more} more)" if more else "")
        return Offer(file=path.name, id="", title="", revision="", error=words)
    return Offer(file=path.name, id=job.id, title=job.title, revision=job.revision, error=None)
