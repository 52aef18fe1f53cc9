"""The blank's outline and openings, from points in the job file or from a drawing.

The largest closed loop is the outline, every other one an opening.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from shapely import Polygon
from shapely.validation import explain_validity

from kiosk.job.drawing import read_drawing
from kiosk.job.job_file import Job, Point
from kiosk.mistakes import BadInput, Mistake

_SMALLEST_MM2 = 1.0


@dataclass(frozen=True, slots=True)
class Blank:
    """The blank as loaded, part frame, mm.  ``content``: bytes of the drawing, if there is one."""

    shape: Polygon
    content: bytes | None = None
    units_assumed: bool = False

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
    if isinstance(job.outline, Path):
        name = job.outline.name
        loops, content, assumed = read_drawing(job.outline)
        openings = [*loops[1:], *job.openings]
    else:
        name, loops, content, assumed = job.file.name, [job.outline], None, False
        openings = list(job.openings)
    shape = _shape(job, name, loops[0], openings)
    return Blank(shape, content, assumed)


def _shape(
    job: Job, name: str, outline: tuple[Point, ...], openings: list[tuple[Point, ...]]
) -> Polygon:
    line = job.line("part", "outline") if name == job.file.name else None
    outer = _loop(name, line, "outline", outline)
    holes = []
    for number, loop in enumerate(openings, 1):
        hole = _loop(name, line, f"opening {number}", loop)
        if not outer.contains(hole):
            at = hole.difference(outer).representative_point() if not hole.within(outer) else None
            where = "" if at is None or at.is_empty else f" near x {at.x:.1f}, y {at.y:.1f}"
            raise _bad(name, line, f"opening {number} is not inside the outline{where}: move it")
        holes.append(hole)
    for i, first in enumerate(holes):
        for j, second in enumerate(holes[:i]):
            if first.intersects(second):
                raise _bad(name, line, f"openings {j + 1} and {i + 1} overlap: draw one loop")
    shape = Polygon(outer.exterior.coords, [hole.exterior.coords for hole in holes])
    return shape.normalize()


def _loop(name: str, line: int | None, what: str, points: tuple[Point, ...]) -> Polygon:
    if len(points) < 3:
        raise _bad(name, line, f"{what} has fewer than 3 points: write at least 3")
    loop = Polygon(points)
    if not loop.is_valid:
        why = explain_validity(loop).lower().replace("[", " at x, y = ").rstrip("]")
        raise _bad(name, line, f"{what} crosses or touches itself ({why}): mend it")
    if loop.area < _SMALLEST_MM2:
        raise _bad(name, line, f"{what} has an area of {loop.area:.2f} mm2: check the units")
    return loop


def _bad(name: str, line: int | None, text: str) -> BadInput:
    return BadInput([Mistake(name, line, text)])
