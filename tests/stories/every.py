"""Every story, played in a few lanes, and the table of what came of them."""

from __future__ import annotations

import traceback
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import gauge_stories
import log_stories
import process_stories
import signal_stories
from disks import CannotBe
from story import Story, Told, tell

GROUPS = {
    "The gauge and its wire": gauge_stories.STORIES,
    "The machine's signals, its output module, the machine": signal_stories.STORIES,
    "The log, its disk, the clock": log_stories.STORIES,
    "Processes, threads, files": process_stories.STORIES,
}
HEAD = """# What each fault does

Written by `python tests/long.py stories`; {when}. Each row is a story played on real processes and
real wires (TCP on loopback, or a pseudo-terminal where it says serial), from a cut or from a given
permit, and judged by the same run: the contacts as the simulated machine sees them, what the screen
is sent, whether what the log held before is all there and its chain fits, how long until the
contacts were right (or what the note says), and how long after the fault went the trouble was gone
(what is latched stays until a person resets it). A closed contact lets the machine run on, an open
HOLD HEALTHY asks it for feed hold. Times hold for the computer of the run, which had other work to
do.
{count} stories; {wrong} not as they must be.
"""
COLUMNS = (
    "| fault | from | contacts | after s | screen | log | back after s | note |\n" + "|---" * 8
)


def played(story: Story) -> Told:
    """One story's row; trouble of the story itself is a row that is wrong."""
    try:
        return tell(story)
    except CannotBe as why:
        return Told(story, "not run", None, "", "", None, (f"cannot be brought about here: {why}",))
    except Exception as bug:
        last = traceback.extract_tb(bug.__traceback__)[-1]
        words = f"{type(bug).__name__}: {bug} ({Path(last.filename).name}:{last.lineno})"
        return Told(story, "not run", None, "", "", None, (words.replace("\n", " "),))


def play_all(lanes: int) -> dict[str, list[Told]]:
    """Every group's rows, in order."""
    with ThreadPoolExecutor(lanes) as pool:
        waiting = {
            name: [pool.submit(played, one) for one in all_] for name, all_ in GROUPS.items()
        }
        return {name: [one.result() for one in rows] for name, rows in waiting.items()}


def table(groups: dict[str, list[Told]], when: str) -> str:
    """The page."""
    rows = [told for group in groups.values() for told in group]
    wrong = [told for told in rows if told.wrong]
    parts = [HEAD.format(when=when, count=len(rows), wrong=len(wrong))]
    for name, group in groups.items():
        parts.append(f"\n## {name}\n\n{COLUMNS}\n" + "\n".join(map(_row, group)) + "\n")
    if wrong:
        parts.append("\n## Not as they must be\n\n" + "\n".join(_wrong(wrong)) + "\n")
    return "".join(parts)


def _row(told: Told) -> str:
    story = told.story
    cells = (
        story.name, story.at, told.contacts, _seconds(told.contact_s), told.screen,
        told.log, _seconds(told.back_s), story.note,
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def _seconds(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def _wrong(rows: Iterable[Told]) -> list[str]:
    return [f"- {told.story.name}: {'; '.join(told.wrong)}" for told in rows]
