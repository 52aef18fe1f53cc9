"""Which cells of a grid straight moves of one cutter sweep, and how: many moves at once.

Everything here is one array with an entry for each pair of a move and a cell that it sweeps, in
order of the moves.  Knows no heights and no material; part frame, mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.job.frames import FloatArray
from kiosk.job.job_file import Tool

IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Centres of the cells, evenly ``size`` apart, in rows along x."""

    x: FloatArray
    y: FloatArray
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class Sweeps:
    """Pairs of a move and a cell, arrays (n,).

    ``move``: which move, ascending; ``cell``: which cell, row by row; ``share``: of the move at
    the point nearest to the cell; ``reach``: distance to it; ``side``: signed distance from the
    line of motion; ``tip``: height of the tip there; ``floor``: what the cutter leaves: a flat end
    at the lowest that it stands at over the cell, a ball or vee at that nearest point.
    """

    move: IntArray
    cell: IntArray
    share: FloatArray
    reach: FloatArray
    side: FloatArray
    tip: FloatArray
    floor: FloatArray

    def take(self, which: NDArray[np.bool_]) -> Sweeps:
        """The pairs picked by a mask."""
        return Sweeps(*(getattr(self, name)[which] for name in self.__slots__))


def sweeps_of(tool: Tool, starts: FloatArray, ends: FloatArray, cells: Cells) -> Sweeps:
    """Pairs of the moves from ``starts`` to ``ends``, both (m, 3), with cells within the radius.

    A cutter thinner than the cells sweeps as far as half a diagonal of one: no move is lost.
    """
    radius = max(tool.diameter_mm / 2.0, cells.size * math.sqrt(0.5))
    move, row, column = _near(starts, ends, radius, cells)
    along = ends[:, :2] - starts[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    still = length < _STILL_MM
    dx, dy = along[move].T
    x, y = cells.x[column] - starts[move, 0], cells.y[row] - starts[move, 1]
    square = np.where(still, 1.0, length)[move] ** 2
    nearest = (x * dx + y * dy) / square
    share = np.clip(nearest, 0.0, 1.0)
    share[still[move]] = 1.0
    stop = np.where(still[move], 0.0, share)
    reach = np.hypot(x - stop * dx, y - stop * dy)
    side = np.where(still[move], 0.0, (y * dx - x * dy) / np.sqrt(square))
    first, last = starts[:, 2], np.where(still, np.minimum(starts[:, 2], ends[:, 2]), ends[:, 2])
    tip = np.where(still[move], last[move], first[move] + share * (last - first)[move])
    floor = tip + profile(tool, reach)
    sloping = (first != last)[move] & ~still[move]
    if tool.kind not in _POINTED and sloping.any():
        along_rim = np.sqrt(np.maximum(radius**2 - side**2, 0.0) / square)
        lowest = nearest + np.where((last < first)[move], along_rim, -along_rim)
        lowest = first[move] + np.clip(lowest, 0.0, 1.0) * (last - first)[move]
        floor = np.where(sloping, lowest, floor)
    found = Sweeps(move, row * cells.x.size + column, share, reach, side, tip, floor)
    return found.take(reach <= radius)


_POINTED = ("ball", "vee")
_STILL_MM = 1e-6  # a shorter move goes straight down, or nowhere


def _near(
    starts: FloatArray, ends: FloatArray, radius: float, cells: Cells
) -> tuple[IntArray, IntArray, IntArray]:
    """Moves, rows and columns of all cells that can lie within the radius of a move."""
    low = np.minimum(starts[:, 1], ends[:, 1]) - radius
    high = np.maximum(starts[:, 1], ends[:, 1]) + radius
    move, row = _runs(low, high, cells.y, cells.size)
    # Of each row, the stretch of the move whose points lie within the radius of it.
    rise = (ends[:, 1] - starts[:, 1])[move]
    level = np.abs(rise) < _STILL_MM
    step = np.where(level, 1.0, rise)
    above = cells.y[row] - starts[move, 1]
    near, far = (above - radius) / step, (above + radius) / step
    first = np.where(level, 0.0, np.clip(np.minimum(near, far), 0.0, 1.0))
    last = np.where(level, 1.0, np.clip(np.maximum(near, far), 0.0, 1.0))
    run = (ends[:, 0] - starts[:, 0])[move]
    one, other = starts[move, 0] + first * run, starts[move, 0] + last * run
    left, right = np.minimum(one, other) - radius, np.maximum(one, other) + radius
    which, column = _runs(left, right, cells.x, cells.size)
    return move[which], row[which], column


def _runs(
    low: FloatArray, high: FloatArray, centres: FloatArray, size: float
) -> tuple[IntArray, IntArray]:
    """For spans (k,) of an axis, the cells whose centres lie in each: span and cell, in order."""
    begin = np.clip(np.ceil((low - centres[0]) / size - 1e-6), 0, centres.size).astype(np.int64)
    end = np.clip(np.floor((high - centres[0]) / size + 1e-6) + 1, 0, centres.size)
    count = np.maximum(end.astype(np.int64) - begin, 0)
    span = np.repeat(np.arange(low.size), count)
    skipped = begin - np.concatenate([[0], np.cumsum(count)[:-1]])
    return span, np.arange(span.size) + skipped[span]


def profile(tool: Tool, reach: FloatArray) -> FloatArray:
    """Height of the cutting edge above the tip at a distance from the axis, mm."""
    radius = tool.diameter_mm / 2.0
    if tool.kind == "ball":
        inner = np.minimum(reach, radius)
        return np.asarray(radius - np.sqrt(radius**2 - inner**2), dtype=np.float64)
    if tool.kind == "vee":
        return np.asarray(reach / math.tan(math.radians(tool.point_deg) / 2.0), dtype=np.float64)
    return np.zeros_like(reach)
