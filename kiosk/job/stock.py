"""How much of the cutter is in the work at each move: the blank as a map of heights.

A move's depth and width of cut depend on what earlier moves have taken away.  The blank is a grid
of small cells, each with the height of the material that is left; every move reads the cells it
sweeps and lowers them.  Many moves are worked out at once: what a move finds in a cell is the
least of what those before it left there.  What falls between two cells is counted on the greater
side: widths are rounded up by one and a half cells, and a cutter that falls between them cuts full
slots.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, contains_xy, prepare

from kiosk.job.cuts import Cut
from kiosk.job.frames import FloatArray
from kiosk.job.job_file import Tool
from kiosk.job.sweeps import Cells, IntArray, Sweeps, sweeps_of

_MOST_CELLS = 4_000_000
_MOST_AT_ONCE = 60_000  # cells around the moves that are worked out together
_FINEST_MM, _COARSEST_MM = 0.25, 1.0
_CELLS_ACROSS = 8.0  # a cutter's diameter is at least this many cells, where memory allows
_CORE_CELLS = 2.0  # a radius of fewer cells may have no cell further in than its rim
_TOUCH_MM = 0.05  # less than this is no cut: rounding in a program
_SLOT_SHARE = 0.85  # a width above this share of the diameter is counted as a full slot


@dataclass(frozen=True, slots=True)
class Bite:
    """What one move cuts.  ``width_mm`` None: a full slot.

    ``width_mm`` of a ball or vee is the diameter times the share that is cut of the width it has
    at the top of its cut: the arc of engagement goes with that.
    ``first``, ``last``: shares of the move between which material is met: from when the front of
    the cutter reaches the first of it until the axis has passed the last.  ``bottom_mm`` is the
    lowest material touched and ``top_mm`` the highest, from the underside.  ``side``: +1 when the
    material of a side cut is left of the motion, -1 right of it, 0 when that is not sure.
    """

    depth_mm: float
    width_mm: float | None
    bottom_mm: float
    top_mm: float
    first: float
    last: float
    side: int = 0


class Stock:
    """The blank while it is being cut; part frame, mm."""

    def __init__(self, shape: Polygon, thickness_mm: float, thinnest_tool_mm: float) -> None:
        x0, y0, x1, y1 = shape.bounds
        wanted = min(max(thinnest_tool_mm / _CELLS_ACROSS, _FINEST_MM), _COARSEST_MM)
        self.cell = max(wanted, math.sqrt((x1 - x0) * (y1 - y0) / _MOST_CELLS))
        self.x = np.arange(x0 + self.cell / 2.0, x1, self.cell)
        self.y = np.arange(y0 + self.cell / 2.0, y1, self.cell)
        prepare(shape)
        inside = contains_xy(shape, self.x[None, :], self.y[:, None])
        self.height: FloatArray = np.where(inside, thickness_mm, 0.0)

    def bite(self, cut: Cut) -> Bite | None:
        """What one cut meets, as ``bites``."""
        return self.bites([cut])[0]

    def bites(self, cuts: Sequence[Cut]) -> list[Bite | None]:
        """What each cut in turn meets, and take it away; None for one that meets nothing.

        A rapid is looked at in the same way but takes nothing away.
        """
        return [bite for batch in self._batches(cuts) for bite in self._bitten(batch)]

    def _batches(self, cuts: Sequence[Cut]) -> Iterator[Sequence[Cut]]:
        """Runs of cuts with one tool that sweep few enough cells together."""
        begin, cells = 0, 0.0
        for index, cut in enumerate(cuts):
            here = self._cells_around(cut)
            if index > begin and (cut.tool is not cuts[begin].tool or cells + here > _MOST_AT_ONCE):
                yield cuts[begin:index]
                begin, cells = index, 0.0
            cells += here
        if begin < len(cuts):
            yield cuts[begin:]

    def _cells_around(self, cut: Cut) -> float:
        wide = cut.tool.diameter_mm + self.cell
        return (math.dist(cut.start[:2], cut.end[:2]) + wide) * wide / self.cell**2

    def _bitten(self, cuts: Sequence[Cut]) -> list[Bite | None]:
        tool = cuts[0].tool
        starts, ends = np.array([c.start for c in cuts]), np.array([c.end for c in cuts])
        all_pairs = sweeps_of(tool, starts, ends, Cells(self.x, self.y, self.cell))
        least = np.maximum(all_pairs.floor, 0.0)
        flat = self.height.reshape(-1)
        pairs = all_pairs.take(flat[all_pairs.cell] > least)
        found: list[Bite | None] = [None] * len(cuts)
        if pairs.move.size == 0:
            return found
        height = self._worn(pairs, np.array([cut.rapid for cut in cuts]))
        met = (height - pairs.floor > _TOUCH_MM) & (height > 0.0)
        length = np.hypot(*(ends - starts)[:, :2].T)
        for index, bite in _measured(tool, self.cell, pairs.take(met), height[met], length):
            found[index] = bite
        return found

    def _worn(self, pairs: Sweeps, rapid: NDArray[np.bool_]) -> FloatArray:
        """Height that each pair's move finds in its cell, (n,); the cells are lowered."""
        order = np.argsort(pairs.cell, kind="stable")  # cell by cell, each in order of the moves
        cell, flat = pairs.cell[order], self.height.reshape(-1)
        leaves = np.maximum(pairs.floor, 0.0)[order]
        leaves[rapid[pairs.move[order]]] = math.inf
        fresh = np.ones(cell.size, dtype=bool)
        fresh[1:] = cell[1:] != cell[:-1]
        met = np.where(fresh, flat[cell], np.roll(leaves, 1))
        step = 1  # the least of 1, 2, 4, 8 ... entries of the same cell
        while step < cell.size and (same := cell[step:] == cell[:-step]).any():
            met[step:] = np.where(same, np.minimum(met[step:], met[:-step]), met[step:])
            step *= 2
        last = np.roll(fresh, -1)
        flat[cell[last]] = np.minimum(met, leaves)[last]
        found = np.empty_like(met)
        found[order] = met
        return found


def _measured(
    tool: Tool, cell: float, pairs: Sweeps, height: FloatArray, length: FloatArray
) -> Iterator[tuple[int, Bite]]:
    """The bite of each move that has pairs; all of them meet material.

    Cells at the very rim are left by rounding where an earlier pass ran along the same line; they
    count only when nothing else is met, as the thinnest of side cuts.  A cutter so thin that it
    may meet nothing else is in a full slot then.
    """
    radius = tool.diameter_mm / 2.0
    rim_only = tool.diameter_mm if radius < _CORE_CELLS * cell else 0.0
    core = pairs.reach <= radius - cell
    cored = np.bincount(pairs.move[core], minlength=length.size) > 0
    counted = core | ~cored[pairs.move]
    pairs, height = pairs.take(counted), height[counted]
    if pairs.move.size == 0:
        return
    begin = np.flatnonzero(np.diff(pairs.move, prepend=-1))
    move = pairs.move[begin]
    half = edge_radius(tool, np.maximum.reduceat(height - pairs.tip, begin))
    right = half + np.maximum.reduceat(pairs.side, begin)
    left = half - np.minimum.reduceat(pairs.side, begin)
    width = np.where(cored[move], np.minimum(right, left), rim_only) + 1.5 * cell
    width *= radius / half
    slot = width >= _SLOT_SHARE * tool.diameter_mm
    side = np.where(slot | ~cored[move], 0, np.where(left < right, 1, -1))
    depth = np.maximum.reduceat(height - np.maximum(pairs.tip, 0.0), begin)
    bottom = np.maximum(np.minimum.reduceat(pairs.tip, begin), 0.0)
    spread = np.where(length > 0.0, radius / np.maximum(length, 1e-9), 1.0)[move]
    first = np.maximum(np.minimum.reduceat(pairs.share, begin) - spread, 0.0)
    columns: tuple[FloatArray | IntArray | NDArray[np.bool_], ...] = (
        move, np.maximum(depth, _TOUCH_MM), width, slot, bottom,
        np.maximum.reduceat(height, begin), first, np.maximum.reduceat(pairs.share, begin), side,
    )  # fmt: skip
    rows = zip(*(column.tolist() for column in columns), strict=True)
    for index, deep, wide, full, low, high, begins, ends, which in rows:
        yield index, Bite(deep, None if full else wide, low, high, begins, ends, which)


def width_at(tool: Tool, above_tip_mm: float) -> float:
    """Width of the cutter at a height above its tip, mm; 0 below the tip."""
    if above_tip_mm < 0.0:
        return 0.0
    return 2.0 * float(edge_radius(tool, np.array([above_tip_mm]))[0])


def edge_radius(tool: Tool, above_tip_mm: FloatArray) -> FloatArray:
    """Radius of the cutter at heights above its tip, none below it, mm."""
    radius = tool.diameter_mm / 2.0
    if tool.kind == "ball":
        above = np.minimum(above_tip_mm, radius)
        return np.asarray(np.sqrt(above * (tool.diameter_mm - above)), dtype=np.float64)
    if tool.kind == "vee":
        slope = math.tan(math.radians(tool.point_deg) / 2.0)
        return np.minimum(above_tip_mm * slope, radius)
    return np.full_like(above_tip_mm, radius)
