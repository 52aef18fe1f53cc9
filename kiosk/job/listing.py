"""What the jobs folder offers: one row for each job file, with what is wrong with a bad one."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TypedDict

from kiosk.job.job_file import load_job
from kiosk.mistakes import BadInput, Mistake

_RUN = re.compile(r"[0-9]+|[^\W\d_]+")


class Offer(TypedDict):
    """A job file on offer.  ``error`` is one line, None when it can be chosen."""

    file: str
    id: str
    title: str
    revision: str
    error: str | None


def offers(folder: Path) -> list[Offer]:
    """All ``*.job.toml`` of a folder by file name.

    Of files with one id the newest revision is offered, and the others say which one took their
    place; the same revision twice is an error on both.  A folder that is not there, or cannot be
    read, offers nothing.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.name.endswith(".job.toml"))
    except OSError:
        return []
    rows = [_offer(path) for path in paths]
    groups: dict[str, list[Offer]] = {}
    for row in rows:
        if row["error"] is None:
            groups.setdefault(row["id"], []).append(row)
    told = {row["file"]: words for group in groups.values() for row, words in _objections(group)}
    for row in rows:
        if row["file"] in told:
            row["error"] = str(Mistake(row["file"], None, told[row["file"]]))
    return rows


def _objections(group: list[Offer]) -> list[tuple[Offer, str]]:
    """What keeps files of one id from being chosen."""
    newest = max(group, key=lambda row: revision_order(row["revision"]))
    found = []
    for row in group:
        order = revision_order(row["revision"])
        twins = [o for o in group if o is not row and revision_order(o["revision"]) == order]
        if twins:
            words = f"{_named(row)} is also in {twins[0]['file']}: give each its own revision or id"
            found.append((row, words))
        elif row is not newest:
            words = f"{_named(row)} is superseded by {_named(newest)} in {newest['file']}: take it"
            found.append((row, words))
    return found


def _named(row: Offer) -> str:
    revision = f'revision "{row["revision"]}"' if row["revision"] else "without a revision"
    return f'id "{row["id"]}", {revision},'


def revision_order(revision: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts revisions: none, then numbers by size, then letters as A, B, Z, AA."""
    return tuple(
        (0, int(run), "") if run.isdecimal() else (1, len(run), run.upper())
        for run in _RUN.findall(revision)
    )


def _offer(path: Path) -> Offer:
    try:
        job = load_job(path)
    except BadInput as bad:
        more = len(bad.mistakes) - 1
        words = str(bad.mistakes[0]) + (f" (and {more} more)" if more else "")
        return Offer(file=path.name, id="", title="", revision="", error=words)
    return Offer(file=path.name, id=job.id, title=job.title, revision=job.revision, error=None)
