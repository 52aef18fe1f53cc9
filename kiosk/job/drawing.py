"""Closed loops of a drawing (DXF, model space), in mm.

Curves are flattened to chords within ``CHORD_MM`` of them: a point that a chord cuts off is at
most that far from the true edge, which is far inside the seal margin.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from kiosk.job.job_file import Point
from kiosk.mistakes import BadInput, Mistake

CHORD_MM = 0.005
JOIN_MM = 0.02  # ends this close are one point: drawings are rounded to 0.01 mm or finer
_CURVES = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE")
_NO_EDGE = ("TEXT", "MTEXT", "DIMENSION", "POINT", "LEADER", "MULTILEADER", "ATTDEF", "VIEWPORT",
            "HATCH", "XLINE", "RAY")  # fmt: skip


def _bad(name: str, text: str) -> BadInput:
    return BadInput([Mistake(name, None, text)])


def read_drawing(path: Path) -> tuple[list[tuple[Point, ...]], bytes, bool]:
    """Closed loops of a DXF in mm, largest first; its bytes; whether its units were assumed."""
    import ezdxf  # slow to import, and only drawings need it

    try:
        content = path.read_bytes()
        drawing = ezdxf.readfile(path)
    except OSError as trouble:
        reason = trouble.strerror or "not a DXF file"
        raise _bad(path.name, f"cannot be read ({reason}): save the drawing again") from None
    except Exception as trouble:  # on damaged files the library raises whatever it trips over
        words = str(trouble).splitlines()[0][:80] if str(trouble) else "damaged"
        text = f"is no DXF drawing that can be read ({words}): save it again as DXF"
        raise _bad(path.name, text) from None
    scale, assumed = _scale(path.name, drawing)
    closed, chains = _curves(path.name, drawing, scale)
    loops = closed + _join(path.name, chains)
    if not loops:
        raise _bad(path.name, "has no closed loop in model space: draw the outline there")
    loops.sort(key=lambda points: -abs(_area(points)))
    return loops, content, assumed


def _scale(name: str, drawing: Any) -> tuple[float, bool]:
    """mm per drawing unit from $INSUNITS (DXF reference, header variables); 0 is taken as mm."""
    from ezdxf import units

    code = int(drawing.header.get("$INSUNITS", 0))
    if code == 0:
        return 1.0, True
    try:
        return float(
            units.conversion_factor(units.InsertUnits(code), units.InsertUnits.Millimeters)
        ), False
    except (ValueError, KeyError, TypeError):
        raise _bad(name, f"has the unknown unit {code} in $INSUNITS: save it in mm") from None


def _curves(
    name: str, drawing: Any, scale: float
) -> tuple[list[tuple[Point, ...]], list[list[Point]]]:
    """Closed loops, and open chains that still have to be joined."""
    from ezdxf.path import make_path

    closed: list[tuple[Point, ...]] = []
    chains: list[list[Point]] = []
    for entity in drawing.modelspace():
        kind = entity.dxftype()
        if kind in _NO_EDGE:
            continue
        if kind not in _CURVES:
            mend = "explode blocks and draw lines, arcs, circles or polylines"
            raise _bad(name, f"has a {kind} that cannot be an edge: {mend}")
        points = _arc_points(entity, scale)
        if points is None:
            path = make_path(entity)
            points = [
                (v.x * scale, v.y * scale) for v in path.flattening(CHORD_MM / scale, segments=16)
            ]
        if len(points) > 2 and math.dist(points[0], points[-1]) <= JOIN_MM:
            closed.append(tuple(points[:-1]))
        elif len(points) > 1 and _length(points) > JOIN_MM:
            chains.append(points)
    return closed, chains


def _arc_points(entity: Any, scale: float) -> list[Point] | None:
    """Exact points on arcs, circles and bulges in the drawing plane; None for other curves."""
    kind = entity.dxftype()
    if tuple(round(n, 9) for n in entity.dxf.get("extrusion", (0, 0, 1))) != (0.0, 0.0, 1.0):
        return None
    if kind in ("ARC", "CIRCLE"):
        centre = (entity.dxf.center.x * scale, entity.dxf.center.y * scale)
        start, end = (
            (math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle))
            if kind == "ARC"
            else (0.0, 2.0 * math.pi)
        )
        sweep = (end - start) % (2.0 * math.pi) or 2.0 * math.pi
        return arc_points(centre, entity.dxf.radius * scale, start, sweep)
    if kind == "LWPOLYLINE":
        rows = [(x * scale, y * scale, bulge) for x, y, bulge in entity.get_points("xyb")]
        return _bulged(rows, bool(entity.closed))
    return None


def arc_points(centre: Point, radius: float, start: float, sweep: float) -> list[Point]:
    """Points along an arc, ends included, so close that chords stay within ``CHORD_MM``.

    The sagitta of a chord over an angle t is r (1 - cos(t / 2)).
    """
    if radius <= CHORD_MM:
        count = 8
    else:
        step = 2.0 * math.acos(1.0 - CHORD_MM / radius)
        count = max(2, math.ceil(abs(sweep) / step))
    turns = start + sweep * np.arange(count + 1) / count
    return [
        (centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)) for turn in turns
    ]


def _bulged(rows: list[tuple[float, float, float]], closed: bool) -> list[Point]:
    """A polyline with bulges: bulge = tan(included angle / 4), counter-clockwise positive."""
    points: list[Point] = [rows[0][:2]] if rows else []
    ends = rows[1:] + rows[:1] if closed else rows[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(rows, ends, strict=False):
        chord = math.hypot(x1 - x0, y1 - y0)
        if bulge and chord > 0.0:
            sweep = 4.0 * math.atan(bulge)
            rise = (1.0 / bulge - bulge) / 4.0  # centre's distance from the chord, in chords
            cx, cy = (x0 + x1) / 2.0 - (y1 - y0) * rise, (y0 + y1) / 2.0 + (x1 - x0) * rise
            radius, start = math.hypot(x0 - cx, y0 - cy), math.atan2(y0 - cy, x0 - cx)
            points += arc_points((cx, cy), radius, start, sweep)[1:-1]
        points.append((x1, y1))
    return points


def _length(points: list[Point]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


def _area(points: tuple[Point, ...]) -> float:
    """Shoelace formula, counter-clockwise positive."""
    x, y = np.array(points).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def _join(name: str, chains: list[list[Point]]) -> list[tuple[Point, ...]]:
    """Chains joined end to end into closed loops.  An end that meets nothing is named."""
    ends = _Ends(chains)
    ends.refuse_loose(name)
    loops: list[tuple[Point, ...]] = []
    free = set(range(len(chains)))
    while free:
        first = min(free)
        points = list(chains[first])
        free.discard(first)
        node = ends.node(first, at_end=True)
        while node != ends.node(first, at_end=False):
            follower, turned = ends.follower(node, free)
            chain = chains[follower]
            points += (chain[::-1] if turned else chain)[1:]
            free.discard(follower)
            node = ends.node(follower, at_end=not turned)
        loops.append(tuple(points[:-1]))
    return loops


class _Ends:
    """Which chain ends meet: nodes, each shared by exactly two ends of a sound drawing."""

    def __init__(self, chains: list[list[Point]]) -> None:
        self.spots: list[Point] = []
        self._cells: dict[tuple[int, int], list[int]] = {}
        self.of: dict[tuple[int, bool], int] = {}
        self.at: list[list[tuple[int, bool]]] = []
        for index, chain in enumerate(chains):
            for at_end in (False, True):
                node = self._nearest(chain[-1] if at_end else chain[0])
                self.of[index, at_end] = node
                self.at[node].append((index, at_end))

    def _nearest(self, spot: Point) -> int:
        column, row = (math.floor(value / JOIN_MM) for value in spot)
        around = [(column + i, row + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        for node in (n for cell in around for n in self._cells.get(cell, ())):
            if math.dist(self.spots[node], spot) <= JOIN_MM:
                return node
        self.spots.append(spot)
        self.at.append([])
        self._cells.setdefault((column, row), []).append(len(self.spots) - 1)
        return len(self.spots) - 1

    def node(self, chain: int, at_end: bool) -> int:
        return self.of[chain, at_end]

    def follower(self, node: int, free: set[int]) -> tuple[int, bool]:
        """The chain that goes on from ``node``, and whether it is to be walked backwards."""
        return next((index, at_end) for index, at_end in self.at[node] if index in free)

    def refuse_loose(self, name: str) -> None:
        """Raise with every open end, and every point where more than two lines meet."""
        mistakes = []
        for (x, y), touching in zip(self.spots, self.at, strict=True):
            if len(touching) == 1:
                text = f"the outline is open at x {x:.3f}, y {y:.3f} mm: close the gap there"
                mistakes.append(Mistake(name, None, text))
            elif len(touching) > 2:
                text = f"{len(touching)} lines meet at x {x:.3f}, y {y:.3f} mm: draw single loops"
                mistakes.append(Mistake(name, None, text))
        if mistakes:
            raise BadInput(mistakes[:20])
