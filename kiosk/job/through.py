"""The through-cuts of a program: where the tip is at or below the skin, and what they take away.

A through-cut takes away the width that the cutter has at the underside.  Part frame, mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import (
    Polygon,
    STRtree,
    buffer,
    distance,
    linestrings,
    points,
    simplify,
    union_all,
)
from shapely.geometry.base import BaseGeometry

from kiosk.job.cuts import Cut
from kiosk.job.frames import FloatArray
from kiosk.job.job_file import Point
from kiosk.job.stock import width_at

_TOUCH_MM = 0.05
_MOST_CHAINED = 200  # cuts that are widened at once: longer ones take longer for each
_ARC_QUARTER = 32  # chords in a quarter of a round end; within r / 3300 of the circle
_SAME_MM = 1e-6
_STRAIGHT_MM = 0.002  # a path this near to a straight line is one, as the arcs' chords are


@dataclass(frozen=True, slots=True)
class ThroughCut:
    """The part of one straight cut that goes through; ``width_mm`` at the underside."""

    start: Point
    end: Point
    width_mm: float
    line: int
    order: int = 0


def through_cut(cut: Cut, skin_mm: float) -> ThroughCut | None:
    """The part of a cut that is through, or None."""
    low, high = cut.lowest_mm, max(cut.start[2], cut.end[2])
    if cut.rapid or low > skin_mm:
        return None
    first, last = 0.0, 1.0
    if high > skin_mm:
        crossing = (skin_mm - cut.start[2]) / (cut.end[2] - cut.start[2])
        first, last = (crossing, 1.0) if cut.end[2] < cut.start[2] else (0.0, crossing)
    # Where the tip is at the skin it already counts; the underside is z = 0, or the tip's level.
    width = max(width_at(cut.tool, max(0.0, -low)), width_at(cut.tool, skin_mm - low))
    return ThroughCut(_at(cut, first), _at(cut, last), max(width, _TOUCH_MM), cut.line, cut.order)


def _at(cut: Cut, share: float) -> Point:
    return (
        cut.start[0] + share * (cut.end[0] - cut.start[0]),
        cut.start[1] + share * (cut.end[1] - cut.start[1]),
    )


class ThroughCuts:
    """All through-cuts of a program, in order, ready to be asked what they meet."""

    def __init__(self, cuts: Iterable[ThroughCut]) -> None:
        self.cuts: Sequence[ThroughCut] = tuple(cuts)
        self._ends: FloatArray = np.array([(c.start, c.end) for c in self.cuts]).reshape(-1, 2, 2)
        self._half = np.array([cut.width_mm / 2.0 for cut in self.cuts])
        still = (self._ends[:, 0] == self._ends[:, 1]).all(axis=1)
        self._paths: NDArray[np.object_] = np.empty(len(self.cuts), dtype=object)
        self._paths[still] = points(self._ends[still, 0])
        self._paths[~still] = linestrings(self._ends[~still])
        self._tree = STRtree(self._paths)
        self._widest = float(self._half.max(initial=0.0))
        goes_on = np.hypot(*(self._ends[1:, 0] - self._ends[:-1, 1]).T) < _SAME_MM
        goes_on &= self._half[1:] == self._half[:-1]
        self._breaks = np.flatnonzero(~goes_on) + 1

    def swept(self, begin: int = 0, end: int | None = None) -> BaseGeometry:
        """What they, or those from ``begin`` to before ``end``, take away at the underside."""
        end = len(self.cuts) if end is None else end
        edges = {begin, end, *range(begin, end, _MOST_CHAINED)}
        edges.update(self._breaks[(self._breaks > begin) & (self._breaks < end)].tolist())
        order = sorted(edges)
        paths = [self._path(a, b) for a, b in pairwise(order)]
        wide = buffer(paths, self._half[order[:-1]], quad_segs=_ARC_QUARTER)
        return union_all(wide)

    def _path(self, begin: int, end: int) -> BaseGeometry:
        """The way of cuts that go on where the last one ended: one widening each is quick."""
        if end - begin == 1:
            return self._paths[begin]
        spots = np.vstack([self._ends[begin, :1], self._ends[begin:end, 1]])
        return simplify(linestrings(spots), _STRAIGHT_MM, preserve_topology=False)

    def last_along(self, shape: BaseGeometry) -> ThroughCut | None:
        """The last through-cut along a border; None when there is none."""
        around = self.meeting(shape, _TOUCH_MM)
        return around[-1] if around else None

    def first_along(self, shape: Polygon) -> int:
        """``order`` of the first through-cut along a piece's outer border; 0 when there is none.

        Along it is within a cutter's width: a rough cut frees a piece before it is trimmed.
        """
        around = self.meeting(shape.exterior, 2.0 * self._widest)
        return around[0].order if around else 0

    def meeting(self, shape: BaseGeometry, within_mm: float) -> list[ThroughCut]:
        """Cuts whose swept edge comes within a distance of ``shape``, in program order."""
        if not self.cuts:
            return []
        near = self._tree.query(shape, predicate="dwithin", distance=self._widest + within_mm)
        near = np.sort(near)
        met = distance(self._paths[near], shape) <= self._half[near] + within_mm
        return [self.cuts[i] for i in near[met]]
