"""The program's motion over the blank: straight pieces of the tool tip, part frame, mm.

Arcs are cut into chords within ``CHORD_MM``.  A straight move with a constant load needs only its
two ends: the set of loads that a group of seals holds is convex, so what holds at both ends holds
between them.  A chord differs from its arc by far less than the seal margin.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from kiosk.job.frames import FloatArray, Frame
from kiosk.job.job_file import Job, ProgramRow, Tool, Vector
from kiosk.job.plan import ProgramFacts
from kiosk.job.program import Move, MoveKind, Plane, Program
from kiosk.mistakes import BadInput, Mistake

CHORD_MM = 0.02
_AT_ONCE = 2000  # moves


@dataclass(frozen=True, slots=True)
class Cut:
    """One straight piece of motion at feed (or, with ``rapid``, at rapid rate).

    ``start`` and ``end``: the tip, part frame, z from the underside.  ``line``: of the file;
    ``order``: place among all straight pieces of the program; ``reversed_spindle``: as of ``Move``.
    """

    start: Vector
    end: Vector
    line: int
    tool: Tool
    feed_mm_min: float
    spindle_rpm: float
    drilling: bool
    rapid: bool = False
    order: int = 0
    reversed_spindle: bool = False

    @property
    def lowest_mm(self) -> float:
        first, last = self.start[2], self.end[2]
        return first if first < last else last


class ProgramFrame:
    """Takes points of the program to the part frame."""

    def __init__(self, job: Job, row: ProgramRow, frame: Frame) -> None:
        self.file = row.file.name
        self.on_grid = row.frame == "grid"
        self.frame = frame
        self.origin = np.array(row.origin_mm)
        self.lift = job.thickness_mm if row.z_zero == "top" else 0.0

    def to_part(self, points: FloatArray) -> FloatArray:
        """(n, 3) program coordinates to (n, 3) part frame."""
        flat = points[:, :2] + self.origin
        flat = self.frame.to_part(flat) if self.on_grid else flat
        return np.column_stack([flat, points[:, 2] + self.lift])

    def move_to_part(self, move: Move) -> Move:
        """A whole move in the part frame.  Only for lines and arcs in the XY plane."""
        ends = [move.start, move.end] + ([] if move.centre is None else [move.centre])
        rows = [(float(x), float(y), float(z)) for x, y, z in self.to_part(np.array(ends))]
        centre = rows[2] if move.centre is not None else None
        return replace(move, start=rows[0], end=rows[1], centre=centre)


def refuse_missing(job: Job, program: Program, name: str) -> None:
    """Raise ``BadInput`` for each cutting move whose tool, feed or spindle speed is not known."""
    mistakes: dict[str, Mistake] = {}
    only = only_tool(job, program)
    for move in program.moves:
        if not move.cuts:
            continue
        told = _missing(job, move, only)
        if told is not None:
            mistakes.setdefault(told, Mistake(name, move.line, told))
    if mistakes:
        raise BadInput(list(mistakes.values())[:20])


def only_tool(job: Job, program: Program) -> Tool | None:
    """The job's one tool, when the program names none at all and so can mean no other."""
    named = any(move.tool is not None for move in program.moves)
    return None if named or len(job.tools) != 1 else next(iter(job.tools.values()))


def _missing(job: Job, move: Move, only: Tool | None) -> str | None:
    if move.tool is None and only is None:
        return "a cut before any tool: write T and M6 first"
    if move.tool is not None and move.tool not in job.tools:
        return f"tool {move.tool} is not in the job file: add a [[tool]] row with its number"
    if not move.feed_mm_min:
        return "a cut without a feed: write F"
    if not move.spindle_rpm:
        return "a cut without a spindle speed: write S"
    return None


def cuts_of(job: Job, program: Program, frame: ProgramFrame) -> Iterator[Cut]:
    """Every straight piece, rapids too, in program order.  ``refuse_missing`` must have passed."""
    only, order = only_tool(job, program), 0
    for move, rows in _paths(program, frame):
        tool = only if move.tool is None else job.tools.get(move.tool)
        if tool is None:
            continue
        if not move.start_known:
            rows[0] = rows[-1]  # where it comes from is not known: judged where it ends
        for start, end in pairwise(rows):
            yield Cut(
                start=start,
                end=end,
                line=move.line,
                tool=tool,
                feed_mm_min=move.feed_mm_min or 0.0,
                spindle_rpm=move.spindle_rpm or 0.0,
                drilling=move.kind is MoveKind.DRILL,
                rapid=not move.cuts,
                order=order,
                reversed_spindle=move.reversed_spindle,
            )
            order += 1


def _paths(program: Program, frame: ProgramFrame) -> Iterator[tuple[Move, list[Vector]]]:
    """Moves with their corners in the part frame.  What goes on starts at the very same corner."""
    moves = [move for move in program.moves if move.kind is not MoveKind.RETRACT_OFF]
    last: tuple[Vector, Vector] | None = None
    for begin in range(0, len(moves), _AT_ONCE):
        some = moves[begin : begin + _AT_ONCE]
        points = [move.points(CHORD_MM) for move in some]
        corners = frame.to_part(np.array([point for own in points for point in own])).tolist()
        place = 0
        for move, own in zip(some, points, strict=True):
            rows = [(x, y, z) for x, y, z in corners[place : place + len(own)]]
            place += len(own)
            if last is not None and last[0] == move.start:
                rows[0] = last[1]
            last = move.end, rows[-1]
            yield move, rows


def facts_of(program: Program, frame: ProgramFrame) -> ProgramFacts:
    """Lengths, extents in the part frame and time."""
    low, high = _extents(program, frame)
    return ProgramFacts(
        moves=len(program.moves),
        cut_length_mm=program.cut_length_mm,
        rapid_length_mm=program.rapid_length_mm,
        min_mm=low,
        max_mm=high,
        tools=program.tools,
        seconds=program.seconds,
        file=frame.file,
    )


def _extents(program: Program, frame: ProgramFrame) -> tuple[Vector | None, Vector | None]:
    rows: list[Vector] = []
    ends: list[Vector] = []
    for move in program.moves:
        if not move.cuts:
            continue
        if move.centre is None:
            ends += (move.start, move.end)
        elif move.plane is Plane.XY:
            rows.extend(frame.move_to_part(move).extents())
        else:
            ends.extend(move.points(0.001))
    if ends:
        rows.extend((float(x), float(y), float(z)) for x, y, z in frame.to_part(np.array(ends)))
    if not rows:
        return None, None
    low, high = np.min(np.array(rows), axis=0), np.max(np.array(rows), axis=0)
    return (
        (float(low[0]), float(low[1]), float(low[2])),
        (float(high[0]), float(high[1]), float(high[2])),
    )
