"""The pieces that through-cuts part the blank into, and which of them are kept.

A cut is through where the tip is at or below the skin; it takes away the width that the cutter
has at the underside.  Part frame, mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely import LineString, Polygon, STRtree, union_all
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from kiosk.job.cuts import Cut
from kiosk.job.job_file import Job, Point
from kiosk.job.stock import width_at
from kiosk.mistakes import BadInput

_SLIVER_MM = 0.25  # a strip thinner than twice this between two passes is dust, not a piece
_TOUCH_MM = 0.05
_MOST_TRACED = 40  # more pieces than this are told by the last cut along them
_ARC_QUARTER = 32  # chords in a quarter of a round end; within r / 3300 of the circle


@dataclass(frozen=True, slots=True)
class ThroughCut:
    """The part of one straight cut that goes through; ``width_mm`` at the underside."""

    start: Point
    end: Point
    width_mm: float
    line: int
    order: int = 0

    @property
    def path(self) -> BaseGeometry:
        return (
            ShapelyPoint(self.start)
            if self.start == self.end
            else LineString([self.start, self.end])
        )


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of the blank.  ``freed_line``: the program line that makes it free, if any.

    ``loose_from``: ``order`` of the first cut that goes through along its outer border; from then
    on what still joins it to the rest is not relied upon.
    """

    shape: Polygon
    kept: bool
    freed_line: int | None
    loose_from: int = 0

    @property
    def centre(self) -> Point:
        """A point inside, for words."""
        spot = self.shape.representative_point()
        return float(spot.x), float(spot.y)


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
        self._paths = np.array([cut.path for cut in self.cuts], dtype=object)
        self._half = np.array([cut.width_mm / 2.0 for cut in self.cuts])
        self._tree = STRtree(self._paths)
        self._widest = float(self._half.max(initial=0.0))

    def swept(self, count: int | None = None) -> BaseGeometry:
        """What they, or the first ``count`` of them, take away at the underside."""
        return union_all([_sweep(chain) for chain in _chains(self.cuts[:count])])

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
        return [
            self.cuts[i]
            for i in sorted(int(n) for n in near)
            if self._paths[i].distance(shape) <= self._half[i] + within_mm
        ]


def _chains(cuts: Sequence[ThroughCut]) -> list[list[ThroughCut]]:
    """Runs of cuts that go on where the last one ended: one buffer each is quick."""
    chains: list[list[ThroughCut]] = []
    for cut in cuts:
        last = chains[-1][-1] if chains else None
        goes_on = (
            last is not None
            and last.width_mm == cut.width_mm
            and math.dist(last.end, cut.start) < 1e-6
            and len(chains[-1]) < 200
        )
        if goes_on:
            chains[-1].append(cut)
        else:
            chains.append([cut])
    return chains


def _sweep(chain: list[ThroughCut]) -> BaseGeometry:
    points = [chain[0].start, *(cut.end for cut in chain)]
    distinct = [points[0], *(b for a, b in pairwise(points) if a != b)]
    path = ShapelyPoint(distinct[0]) if len(distinct) == 1 else LineString(distinct)
    return path.buffer(chain[0].width_mm / 2.0, quad_segs=_ARC_QUARTER)


def pieces_of(job: Job, blank: Polygon, through: ThroughCuts) -> tuple[Piece, ...]:
    """Pieces, greatest first.  Kept: those with a ``keep`` point in them, or the greatest.

    Raises ``BadInput`` for a ``keep`` point that lies in no piece.
    """
    left = blank.difference(through.swept()) if through.cuts else blank
    shapes = sorted(_polygons(left), key=lambda shape: -shape.area)
    kept, freed = _kept(job, shapes), freed_by(shapes, blank, through)
    return tuple(
        Piece(shape, index in kept, cut.line if cut else None, _loose_from(shape, through, cut))
        for index, (shape, cut) in enumerate(zip(shapes, freed, strict=True))
    )


def _loose_from(shape: Polygon, through: ThroughCuts, freed: ThroughCut | None) -> int:
    """Never later than the cut that frees it, however far off that runs."""
    return 0 if freed is None else min(through.first_along(shape), freed.order)


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [
        part
        for part in parts
        if isinstance(part, Polygon) and not part.buffer(-_SLIVER_MM).is_empty
    ]


def _kept(job: Job, shapes: list[Polygon]) -> set[int]:
    if not job.keep:
        return {0} if shapes else set()
    kept, mistakes = set(), []
    for number, point in enumerate(job.keep):
        home = [i for i, shape in enumerate(shapes) if shape.covers(ShapelyPoint(point))]
        kept.update(home)
        if not home:
            x, y = point
            text = f"keep point [{x:g}, {y:g}] lies outside the blank or in a cut: move it"
            mistakes.append(job.mistake(text, "part", "keep", number))
    if mistakes:
        raise BadInput(mistakes)
    return kept


def freed_by(
    shapes: Sequence[Polygon], blank: Polygon, through: ThroughCuts
) -> list[ThroughCut | None]:
    """For each piece, the through-cut that makes it free; None when none does.

    Cuts only ever part pieces further, so the first cut after which a piece hangs together with
    no other is found by halving.
    """
    if len(shapes) < 2:
        return [None] * len(shapes)
    if len(shapes) > _MOST_TRACED:
        return [through.last_along(shape) for shape in shapes]
    spots = [shape.representative_point() for shape in shapes]
    company: dict[int, list[int]] = {}

    def alone(index: int, count: int) -> bool:
        """True when after the first ``count`` cuts this piece hangs together with no other."""
        if count not in company:
            parts = getattr(left := blank.difference(through.swept(count)), "geoms", [left])
            company[count] = [
                next((i for i, part in enumerate(parts) if part.covers(spot)), -1 - n)
                for n, spot in enumerate(spots)
            ]
        return company[count].count(company[count][index]) == 1

    found: list[ThroughCut | None] = []
    for index in range(len(shapes)):
        low, high = 0, len(through.cuts)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if alone(index, middle) else (middle, high)
        found.append(through.cuts[high - 1])
    return found
