"""The pieces that through-cuts part the blank into, and which of them are kept.  Part frame, mm."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Point as ShapelyPoint
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kiosk.job.freed import Freed, Part, parting
from kiosk.job.job_file import Job, Point
from kiosk.job.through import ThroughCuts
from kiosk.mistakes import BadInput

_SLIVER_MM = 0.25  # a strip thinner than twice this between two passes is dust, not a piece


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of the blank.  ``freed_line``: the program line that makes it free, if any."""

    shape: Polygon
    kept: bool
    freed_line: int | None

    @property
    def centre(self) -> Point:
        """A point inside, for words."""
        spot = self.shape.representative_point()
        return float(spot.x), float(spot.y)


@dataclass(frozen=True, slots=True)
class Parted:
    """The pieces, greatest first, and what of the blank must hold on its own cups for a time.

    ``parts``: every kept piece that comes free, then what hangs together without the rest.
    """

    pieces: tuple[Piece, ...]
    parts: tuple[Part, ...]


def parted(job: Job, blank: Polygon, through: ThroughCuts) -> Parted:
    """The blank as the program parts it.  Kept: pieces with a ``keep`` point, or the greatest.

    Raises ``BadInput`` for a ``keep`` point that lies in no piece.
    """
    left = blank.difference(through.swept()) if through.cuts else blank
    shapes = sorted(_polygons(left), key=lambda shape: -shape.area)
    kept = _kept(job, shapes)
    found = parting(shapes, kept, blank, through)
    pieces = tuple(
        Piece(shape, index in kept, freed.line if freed else None)
        for index, (shape, freed) in enumerate(zip(shapes, found.freed, strict=True))
    )
    free = tuple(
        Part(piece.shape, (index,), freed.line, _loose_from(piece.shape, through, freed))
        for index, (piece, freed) in enumerate(zip(pieces, found.freed, strict=True))
        if piece.kept and freed is not None
    )
    return Parted(pieces, free + found.parts)


def _loose_from(shape: Polygon, through: ThroughCuts, freed: Freed) -> int:
    """``order`` of the first cut that goes through along its outer border: from then on what still
    joins it to the rest is not relied upon.  Never later than the cut that frees it.
    """
    return min(through.first_along(shape), freed.order)


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
