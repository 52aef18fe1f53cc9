"""Load cases for the holding model: of the cuts that push a piece, and of stated loads.

Part frame; mm here, SI only in what goes to ``kiosk.hold``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Point as ShapelyPoint
from shapely import Polygon, convex_hull, multipoints
from shapely.geometry.base import BaseGeometry

from kiosk.hold.cutting import CutterCase, cutter_cases
from kiosk.hold.minimum import Cases
from kiosk.job.frames import FloatArray
from kiosk.job.freed import Part
from kiosk.job.job_file import LoadRow, Vector
from kiosk.job.pushes import Push
from kiosk.job.reaches import NEAR_MM, IntArray, Reaches, alike, vector

_LAYER_MM = 0.5  # of height; see ``outermost``
_RIM_CORNERS = 8  # the rim where an axial force acts, as the corners of a polygon around it


@dataclass(frozen=True, slots=True)
class CaseRow:
    """One load case and where it comes from, mm and N, without the safety factor."""

    at_mm: Vector
    tip_mm: Vector
    force_n: Vector
    any_n: float
    torque_nm: float
    tool: int | None
    line: int | None


def rows_of(reaches: Reaches, part: Part | None) -> list[CaseRow]:
    """Load cases of the cuts that push a part (None: the whole blank)."""
    return [row for spot in outermost(reaches, part) for row in rows_at(spot)]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the tip where a push acts.  ``z_mm``: height where it does, see ``outermost``."""

    push: Push
    tip: Vector
    z_mm: float


def outermost(reaches: Reaches, part: Part | None) -> list[Spot]:
    """The spots of the cuts that push a part that can govern.

    With the load fixed, its moments go with the place, and what a group of seals holds is a
    convex set: a load that is held at the corners of a convex hull is held inside it.  Spots are
    taken in layers of height; every corner of a layer counts at its least and greatest height.
    """
    push, tips, z_mm = reaches.ends(part)
    spots: list[Spot] = []
    for layer in alike(reaches.load[push], np.floor(z_mm / _LAYER_MM)):
        spots += [
            Spot(reaches.pushes[push[at]], vector(tips[at]), z)
            for at in _corners_of(layer, tips)
            for z in _least_and_greatest(z_mm[layer])
        ]
    return spots


def _corners_of(layer: IntArray, tips: FloatArray) -> list[int]:
    """Indices of the tips at the corners of the hull of a layer's."""
    places = [(x, y) for x, y in np.round(tips[layer, :2], 4).tolist()]
    first = dict(zip(reversed(places), reversed(layer.tolist()), strict=True))
    hull = convex_hull(multipoints(np.array(list(first))))
    return [first[place] for place in dict.fromkeys(_coordinates(_edge(hull)))]


def _least_and_greatest(heights: FloatArray) -> list[float]:
    ends = round(float(heights.min()), 6), round(float(heights.max()), 6)
    return list(dict.fromkeys(ends))


def _coordinates(shape: BaseGeometry) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in shape.coords]


def _edge(hull: BaseGeometry) -> BaseGeometry:
    """What of a hull has corners: a polygon's border, or the line or point that it is."""
    return hull.exterior if isinstance(hull, Polygon) else hull


def rows_at(spot: Spot) -> list[CaseRow]:
    """Cases with the tip at one place.

    A pull upward acts at the rim, on whichever side is worst: at the corners of a polygon
    around it.
    """
    push, tip = spot.push, spot.tip
    radius = push.cut.tool.diameter_mm / 2.0 / math.cos(math.pi / _RIM_CORNERS)
    rows = []
    for case in cutter_cases(push.load):
        places = _corners(tip, radius) if case.up_n > 0.0 else [(tip[0], tip[1])]
        rows += [
            CaseRow(
                at_mm=(x, y, spot.z_mm),
                tip_mm=tip,
                force_n=(push_x, push_y, case.up_n),
                any_n=any_n,
                torque_nm=torque_nm,
                tool=push.cut.tool.number,
                line=push.cut.line,
            )
            for x, y in places
            for push_x, push_y, any_n, torque_nm in _laterals(push, case)
        ]
    return rows


def _laterals(push: Push, case: CutterCase) -> list[tuple[float, float, float, float]]:
    """Lateral force along x and y, in any direction, and torque: one way, or the corners of the
    window.  The spindle turns the part its own way, with its torque or with none.
    """
    if push.window is None:
        return [(0.0, 0.0, case.lateral_n, case.torque_nm)]
    turns = (0.0, case.torque_nm if push.cut.reversed_spindle else -case.torque_nm)
    return [(x, y, 0.0, turn) for x, y in push.window for turn in turns]


def _corners(tip: Vector, radius: float) -> list[tuple[float, float]]:
    turns = [2.0 * math.pi * k / _RIM_CORNERS for k in range(_RIM_CORNERS)]
    return [(tip[0] + radius * math.cos(t), tip[1] + radius * math.sin(t)) for t in turns]


def load_rows(
    loads: Sequence[LoadRow], pieces: Sequence[Polygon], part: Part | None
) -> list[CaseRow]:
    """The job's ``[[load]]`` rows on one part, or all.  One beside every piece counts on each."""
    rows = []
    for load in loads:
        spot = ShapelyPoint(load.at_mm[:2])
        on = {i for i, shape in enumerate(pieces) if shape.distance(spot) <= NEAR_MM}
        if part is None or not on or on.intersection(part.pieces):
            rows.append(_row_of(load))
    return rows


def _row_of(load: LoadRow) -> CaseRow:
    x, y, up = load.force_n
    any_n = math.hypot(x, y) if load.any_direction else 0.0
    force = (0.0, 0.0, up) if load.any_direction else load.force_n
    return CaseRow(load.at_mm, load.at_mm, force, any_n, load.torque_nm, None, None)


def cases_of(rows: Sequence[CaseRow], factor: float) -> Cases:
    """The solver's form of load cases; rows of one program line are one group."""
    groups: dict[tuple[int | None, int | None, int], int] = {}
    group = [
        groups.setdefault((row.line, row.tool, -1 if row.line else index), len(groups))
        for index, row in enumerate(rows)
    ]
    at = np.array([row.at_mm for row in rows], dtype=np.float64).reshape(-1, 3) / 1e3
    force = np.array([row.force_n for row in rows], dtype=np.float64).reshape(-1, 3)
    return Cases(
        x_m=at[:, 0],
        y_m=at[:, 1],
        z_m=at[:, 2],
        fx_n=force[:, 0],
        fy_n=force[:, 1],
        fz_n=force[:, 2],
        any_n=np.array([row.any_n for row in rows], dtype=np.float64),
        torque_nm=np.array([row.torque_nm for row in rows], dtype=np.float64),
        factor=np.full(len(rows), factor),
        group=np.array(group, dtype=np.int64),
    )
