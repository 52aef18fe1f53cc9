"""The blank's outline and openings, from points in the job file or from a drawing.

The largest closed loop is the outline, every other one an opening; a job may name the layers, or
say that nothing is open yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from shapely import Polygon
from shapely.validation import explain_validity

from kiosk.job.drawing import read_drawing
from kiosk.job.edges import Drawing, Edge, place_words
from kiosk.job.job_file import Job, Point
from kiosk.job.loops import Gap, Loop, crossing_edges, equal_pair, join
from kiosk.mistakes import BadInput, Mistake

_SMALLEST_MM2 = 1.0
_EQUAL_SHARE = 1e-4  # areas nearer than this are the same part drawn twice
_MOST_TOLD = 20


@dataclass(frozen=True, slots=True)
class Blank:
    """The blank as loaded, part frame, mm.  ``content``: bytes of the drawing, if there is one.

    ``assumed_unit``: words for a unit that the drawing does not name; ``gap``: the largest gap
    in the drawing that was closed.
    """

    shape: Polygon
    content: bytes | None = None
    assumed_unit: str = ""
    gap: Gap | None = None

    @property
    def units_assumed(self) -> bool:
        return bool(self.assumed_unit)

    @property
    def outline(self) -> tuple[Point, ...]:
        return tuple((float(x), float(y)) for x, y in self.shape.exterior.coords[:-1])

    @property
    def openings(self) -> tuple[tuple[Point, ...], ...]:
        return tuple(
            tuple((float(x), float(y)) for x, y in ring.coords[:-1])
            for ring in self.shape.interiors
        )


def read_blank(job: Job) -> Blank:
    """The blank of a job.  Raises ``BadInput``: open, crossing or missing loops, bad drawing."""
    stated = [
        _Named(loop, f"opening {number}", job.file.name, job.line("part", "openings"))
        for number, loop in enumerate(job.openings, 1)
    ]
    if not isinstance(job.outline, Path):
        outer = _Named(job.outline, "outline", job.file.name, job.line("part", "outline"))
        return Blank(_shape(outer, stated))
    drawing = read_drawing(job.outline)
    loops, gap = _loops(job, job.outline.name, drawing)
    first, *others = (_drawn(job.outline.name, loop, i) for i, loop in enumerate(loops))
    shape = _shape(first, [*others, *stated])
    return Blank(shape, drawing.content, drawing.assumed_unit, gap)


# -- which edges count ---------------------------------------------------------------------


def _loops(job: Job, name: str, drawing: Drawing) -> tuple[list[Loop], Gap | None]:
    """The outline, then the openings, and the largest gap closed."""
    _refuse_unknown_layers(job, name, drawing)
    outer, gap = _closed(name, _on(drawing.edges, job.outline_layer), drawing, job.outline_layer)
    twins = equal_pair(outer, _EQUAL_SHARE)
    if twins is not None:
        first, second = (f"{loop.words}, at {place_words(loop.points[0])}" for loop in twins)
        text = (
            f"its two largest loops are equally large ({first}; {second}): leave one in, "
            "or name the outline's layer with outline_layer"
        )
        raise BadInput([Mistake(name, None, text)])
    if job.openings_layer is None:
        return outer if job.drawn_openings else outer[:1], gap
    inner, inner_gap = _closed(
        name, _on(drawing.edges, job.openings_layer), drawing, job.openings_layer
    )
    gaps = [found for found in (gap, inner_gap) if found is not None]
    return [outer[0], *inner], max(gaps, key=lambda found: found.width_mm, default=None)


def _refuse_unknown_layers(job: Job, name: str, drawing: Drawing) -> None:
    there = {layer.lower() for layer in drawing.layers} | {
        layer for edge in drawing.edges for layer in edge.layers
    }
    asked = (("outline_layer", job.outline_layer), ("openings_layer", job.openings_layer))
    known = ", ".join(f'"{layer}"' for layer in drawing.layers[:20]) or "none"
    mistakes = [
        job.mistake(f'{key} "{layer}" is not in {name}: its layers are {known}', "part", key)
        for key, layer in asked
        if layer is not None and layer.lower() not in there
    ]
    if mistakes:
        raise BadInput(mistakes)


def _on(edges: Sequence[Edge], layer: str | None) -> list[Edge]:
    """Edges on a layer, shown or not; without a layer all that are shown."""
    if layer is None:
        return [edge for edge in edges if edge.shown]
    return [edge for edge in edges if layer.lower() in edge.layers]


def _closed(
    name: str, edges: Sequence[Edge], drawing: Drawing, layer: str | None
) -> tuple[list[Loop], Gap | None]:
    troubles = [f"{edge.words}, {edge.trouble}" for edge in edges if edge.trouble]
    if troubles:
        raise BadInput([Mistake(name, None, text) for text in troubles[:_MOST_TOLD]])
    loops, gap = join(name, edges)
    if not loops:
        where = "in model space" if layer is None else f'on layer "{layer}"'
        only = f" (only {', '.join(drawing.other)})" if drawing.other and not edges else ""
        text = f"has no closed loop {where}{only}: draw the outline there"
        raise BadInput([Mistake(name, None, text)])
    return loops, gap


# -- loops to a shape ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Named:
    """A loop and where it comes from.  ``drawn``: its edges, when it is from a drawing."""

    points: tuple[Point, ...]
    what: str
    file: str
    line: int | None
    drawn: Loop | None = None

    @property
    def title(self) -> str:
        return self.what if self.drawn is None else f"{self.what} ({self.drawn.words})"

    def bad(self, text: str) -> BadInput:
        return BadInput([Mistake(self.file, self.line, text)])


def _drawn(name: str, loop: Loop, number: int) -> _Named:
    what = f"opening {number}" if number else "outline"
    return _Named(loop.points, what, name, None, loop)


def _shape(outline: _Named, openings: Sequence[_Named]) -> Polygon:
    outer = _polygon(outline)
    holes = []
    for opening in openings:
        hole = _polygon(opening)
        if not outer.contains(hole):
            at = hole.difference(outer).representative_point() if not hole.within(outer) else None
            where = "" if at is None or at.is_empty else f" near x {at.x:.1f}, y {at.y:.1f}"
            raise opening.bad(f"{opening.title} is not inside the outline{where}: move it")
        holes.append(hole)
    rings = [hole.exterior.coords for hole in _outermost(holes, openings)]
    return Polygon(outer.exterior.coords, rings).normalize()


def _outermost(holes: Sequence[Polygon], openings: Sequence[_Named]) -> list[Polygon]:
    """Without those that lie in another, as the hole in a counterbore.  Raises ``BadInput``."""
    kept: list[int] = []
    for i in sorted(range(len(holes)), key=lambda i: -holes[i].area):
        hole = holes[i]
        if any(holes[j].covers(hole) for j in kept):
            continue
        for j in kept:
            if holes[j].intersects(hole):
                first, second = sorted((i, j))
                raise openings[second].bad(
                    f"{openings[first].what} and {openings[second].title} overlap: draw one loop"
                )
        kept.append(i)
    return [holes[i] for i in sorted(kept)]


def _polygon(named: _Named) -> Polygon:
    if len(named.points) < 3:
        raise named.bad(f"{named.title} has fewer than 3 points: write at least 3")
    loop = Polygon(named.points)
    if not loop.is_valid:
        raise named.bad(_crossing(named, explain_validity(loop)))
    if loop.area < _SMALLEST_MM2:
        raise named.bad(f"{named.title} has an area of {loop.area:.2f} mm2: check the units")
    return loop


def _crossing(named: _Named, why: str) -> str:
    """Where a loop crosses itself, and which edges do."""
    place = why[why.index("[") + 1 :].rstrip("]") if "[" in why else ""
    x, y = (float(word) for word in place.split()[:2]) if place else named.points[0]
    edges = "" if named.drawn is None else f" ({crossing_edges(named.drawn, (x, y))})"
    where = f"at x {round(x, 3) + 0.0:.3f}, y {round(y, 3) + 0.0:.3f} mm"
    return f"{named.what}{edges} crosses or touches itself {where}: mend it there"
