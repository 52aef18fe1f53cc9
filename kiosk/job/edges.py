"""What a drawing's reader hands over: every curve as points, in mm, and what it was drawn as."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kiosk.job.curves import MOST_POINTS
from kiosk.job.job_file import Point
from kiosk.mistakes import BadInput, Mistake

MOST_EDGES = 200_000


@dataclass(frozen=True, slots=True)
class Edge:
    """One curve of a drawing.  ``points``: mm, at least two, equal ends when it is closed.

    ``words`` name it for a person: kind, layer, handle.  ``layers`` are those it is on, in small
    letters.  ``shown`` is False on a layer that is off.  ``trouble`` says why it cannot be an
    edge; then ``points`` may be empty.
    """

    points: tuple[Point, ...]
    words: str
    layers: frozenset[str] = frozenset()
    shown: bool = True
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """All edges of a drawing.

    ``assumed_unit``: words for the unit that was taken because the drawing names none, else
    empty.  ``layers``: names as written.  ``other``: kinds of what was passed over, as text.
    """

    edges: tuple[Edge, ...]
    content: bytes
    assumed_unit: str
    layers: tuple[str, ...]
    other: tuple[str, ...]


def place_words(point: Point) -> str:
    """A place of the drawing, mm; never "-0.000"."""
    x, y = (round(value, 3) + 0.0 for value in point)
    return f"x {x:.3f}, y {y:.3f} mm"


def bad_drawing(name: str, text: str) -> BadInput:
    return BadInput([Mistake(name, None, text)])


def bounded(name: str, edges: Iterable[Edge]) -> tuple[Edge, ...]:
    """The edges of a drawing.  Raises ``BadInput`` when there are more than a part can have."""
    kept: list[Edge] = []
    points = 0
    for edge in edges:
        kept.append(edge)
        points += len(edge.points)
        if len(kept) > MOST_EDGES or points > MOST_POINTS:
            what = f"{MOST_EDGES} edges" if len(kept) > MOST_EDGES else f"{MOST_POINTS} points"
            raise bad_drawing(name, f"has more than {what}: draw the outline alone")
    return tuple(kept)
