"""How much of the cutter is in the work at each move: the blank as a map of heights.

A move's depth and width of cut depend on what earlier moves have taken away.  The blank is a grid
of small cells, each with the height of the material that is left; every move in turn reads the
cells it sweeps and lowers them.  What falls between two cells is counted on the greater side:
widths are rounded up by one and a half cells.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon, contains_xy, prepare

from kiosk.job.cuts import Cut
from kiosk.job.frames import FloatArray
from kiosk.job.job_file import Tool

_MOST_CELLS = 4_000_000
_MOST_AT_ONCE = 100_000  # cells around one move; more are slow and take memory
_FINEST_MM, _COARSEST_MM = 0.25, 1.0
_CELLS_ACROSS = 8.0  # a cutter's diameter is at least this many cells, where memory allows
_TOUCH_MM = 0.05  # less than this is no cut: rounding in a program
_SLOT_SHARE = 0.85  # a width above this share of the diameter is counted as a full slot


@dataclass(frozen=True, slots=True)
class Bite:
    """What one move cuts.  ``width_mm`` None: a full slot.

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
        """What ``cut`` meets, and take it away; None when it meets nothing.

        A rapid is looked at in the same way but takes nothing away.
        """
        window = self._window(cut)
        if window is None:
            return None
        if window[0].size > _MOST_AT_ONCE:
            return self._in_halves(cut)
        height, x, y = window
        over = _Sweep.of(cut, x, y)
        within = over.reach <= cut.tool.diameter_mm / 2.0
        found = self._measure(cut, over, height)
        if not cut.rapid:
            np.copyto(height, np.minimum(height, np.maximum(over.floor, 0.0)), where=within)
        return found

    def _in_halves(self, cut: Cut) -> Bite | None:
        """A long slanting move in two, so that the cells around it stay few."""
        middle = tuple((a + b) / 2.0 for a, b in zip(cut.start, cut.end, strict=True))
        halfway = (middle[0], middle[1], middle[2])
        first = self.bite(replace(cut, end=halfway))
        second = self.bite(replace(cut, start=halfway))
        if first is None or second is None:
            found, shift = (second, 0.5) if first is None else (first, 0.0)
            return found and replace(
                found, first=shift + found.first / 2.0, last=shift + found.last / 2.0
            )
        widths = (first.width_mm, second.width_mm)
        return Bite(
            depth_mm=max(first.depth_mm, second.depth_mm),
            width_mm=None if None in widths else max(w for w in widths if w is not None),
            bottom_mm=min(first.bottom_mm, second.bottom_mm),
            top_mm=max(first.top_mm, second.top_mm),
            first=first.first / 2.0,
            last=0.5 + second.last / 2.0,
            side=first.side if first.side == second.side else 0,
        )

    def _window(self, cut: Cut) -> tuple[FloatArray, FloatArray, FloatArray] | None:
        """The cells around a move: a view of the heights, and their centres."""
        radius = cut.tool.diameter_mm / 2.0
        xs, ys = sorted((cut.start[0], cut.end[0])), sorted((cut.start[1], cut.end[1]))
        i0, i1 = np.searchsorted(self.x, (xs[0] - radius, xs[1] + radius))
        j0, j1 = np.searchsorted(self.y, (ys[0] - radius, ys[1] + radius))
        if i0 >= i1 or j0 >= j1:
            return None
        height = self.height[j0:j1, i0:i1]
        if float(height.max()) <= cut.lowest_mm + _TOUCH_MM:
            return None
        return height, self.x[None, i0:i1], self.y[j0:j1, None]

    def _measure(self, cut: Cut, over: _Sweep, height: FloatArray) -> Bite | None:
        radius = cut.tool.diameter_mm / 2.0
        met = (over.reach <= radius) & (height - over.floor > _TOUCH_MM) & (height > 0.0)
        if not met.any():
            return None
        # Cells at the very rim are left by rounding where an earlier pass ran along the same
        # line; they count only when nothing else is met, as the thinnest of side cuts.
        core = met & (over.reach <= radius - self.cell)
        if core.any():
            side = over.side[core]
            right, left = radius + float(side.max()), radius - float(side.min())
            width, which = min(right, left) + 1.5 * self.cell, 1 if left < right else -1
        else:
            core, width, which = met, 1.5 * self.cell, 0
        slot = width >= _SLOT_SHARE * cut.tool.diameter_mm
        bottom = max(float(over.tip[core].min()), 0.0)
        top = float(height[core].max())
        shares = over.share[core]
        spread = radius / over.length if over.length > 0.0 else 1.0
        return Bite(
            depth_mm=max(float((height - np.maximum(over.tip, 0.0))[core].max()), _TOUCH_MM),
            width_mm=None if slot else width,
            bottom_mm=bottom,
            top_mm=top,
            first=max(0.0, float(shares.min()) - spread),
            last=float(shares.max()),
            side=0 if slot else which,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Sweep:
    """A move over cells (rows, columns).

    ``share``: of the move at the nearest point; ``reach``: distance to it; ``side``: signed
    distance from the line of motion; ``tip``: height of the tip there; ``floor``: what the cutter
    leaves at the cell.
    """

    share: FloatArray
    reach: FloatArray
    side: FloatArray
    tip: FloatArray
    floor: FloatArray
    length: float

    @staticmethod
    def of(cut: Cut, x: FloatArray, y: FloatArray) -> _Sweep:
        dx, dy = cut.end[0] - cut.start[0], cut.end[1] - cut.start[1]
        length = math.hypot(dx, dy)
        ax, ay = x - cut.start[0], y - cut.start[1]
        if length < 1e-6:
            share = np.ones(np.broadcast_shapes(x.shape, y.shape))
            side = np.zeros_like(share)
            tip = np.full_like(share, cut.lowest_mm)
        else:
            share = np.clip((ax * dx + ay * dy) / length**2, 0.0, 1.0)
            side = (ay * dx - ax * dy) / length
            tip = cut.start[2] + share * (cut.end[2] - cut.start[2])
        reach = np.hypot(ax - share * dx, ay - share * dy) if length >= 1e-6 else np.hypot(ax, ay)
        return _Sweep(share, reach, side, tip, tip + profile(cut.tool, reach), length)


def profile(tool: Tool, reach: FloatArray) -> FloatArray:
    """Height of the cutting edge above the tip at a distance from the axis, mm."""
    radius = tool.diameter_mm / 2.0
    if tool.kind == "ball":
        inner = np.minimum(reach, radius)
        return np.asarray(radius - np.sqrt(radius**2 - inner**2), dtype=np.float64)
    if tool.kind == "vee":
        return np.asarray(reach / math.tan(math.radians(tool.point_deg) / 2.0), dtype=np.float64)
    return np.zeros_like(reach)


def width_at(tool: Tool, above_tip_mm: float) -> float:
    """Width of the cutter at a height above its tip, mm; 0 below the tip."""
    if above_tip_mm < 0.0:
        return 0.0
    radius = tool.diameter_mm / 2.0
    if tool.kind == "ball" and above_tip_mm < radius:
        return 2.0 * math.sqrt(above_tip_mm * (tool.diameter_mm - above_tip_mm))
    if tool.kind == "vee":
        slope = math.tan(math.radians(tool.point_deg) / 2.0)
        return min(2.0 * above_tip_mm * slope, tool.diameter_mm)
    return tool.diameter_mm
