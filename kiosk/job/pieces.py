"""The pieces that through-cuts part the blank into, and which of them are kept.  Part frame, mm."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Point as ShapelyPoint
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kiosk.job.freed import freed_by
from kiosk.job.job_file import Job, Point
from kiosk.job.through import ThroughCut, ThroughCuts
from kiosk.mistakes import BadInput

_SLIVER_MM = 0.25  # a strip thinner than twice this between two passes is dust, not a piece


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
