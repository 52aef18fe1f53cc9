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

from kiosk.hold.cutter import CutterCase, cutter_cases
from kiosk.job.case_rows import CaseRow, CaseRows, in_arrays
from kiosk.job.frames import FloatArray
from kiosk.job.freed import Part
from kiosk.job.job_file import LoadRow
from kiosk.job.pushes import Push
from kiosk.job.reaches import NEAR_MM, IntArray, Reaches, alike

_LAYER_MM = 0.5  # of height; see ``outermost``
_RIM_CORNERS = 8  # the rim where an axial force acts, as the corners of a polygon around it


def rows_of(reaches: Reaches, part: Part | None) -> CaseRows:
    """Load cases of the cuts that push a part (None: the whole blank)."""
    return rows_at(reaches, outermost(reaches, part))[0]


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Places of the tip (k, 3) where the pushes ``push`` (k,) act, at the heights ``z_mm`` (k,)."""

    push: IntArray
    tips: FloatArray
    z_mm: FloatArray


def outermost(reaches: Reaches, part: Part | None) -> Spots:
    """The spots of the cuts that push a part that can govern.

    With the load fixed, its moments go with the place, and what a group of seals holds is a
    convex set: a load that is held at the corners of a convex hull is held inside it.  Spots are
    taken in layers of height; every corner of a layer counts at its least and greatest height.
    """
    push, tips, z_mm = reaches.ends(part)
    found: list[tuple[int, float]] = []
    for layer in alike(reaches.load[push], np.floor(z_mm / _LAYER_MM)):
        heights = _least_and_greatest(z_mm[layer])
        found += [(at, z) for at in _corners_of(layer, tips) for z in heights]
    at = np.array([at for at, _ in found], dtype=np.int64)
    return Spots(push[at], tips[at], np.array([z for _, z in found], dtype=np.float64))


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


def rows_at(reaches: Reaches, spots: Spots) -> tuple[CaseRows, IntArray]:
    """Cases with the tip at each of the spots, spot by spot, and the spot of each case."""
    load = reaches.load[spots.push]
    _, first, kind = np.unique(load, return_index=True, return_inverse=True)
    shapes = [_cases_about_tip(reaches.pushes[push]) for push in spots.push[first]]
    size = np.array([len(shape) for shape in shapes], dtype=np.int64)
    spot = np.repeat(np.arange(kind.size), size[kind])
    nth = np.arange(spot.size) - np.repeat(np.cumsum(size[kind]) - size[kind], size[kind])
    case = np.vstack([np.zeros((0, 7)), *shapes])[(np.cumsum(size) - size)[kind][spot] + nth]
    tip, push = spots.tips[spot], spots.push[spot]
    at = np.column_stack([tip[:, :2] + case[:, :2], spots.z_mm[spot]])
    tool, line = reaches.tool[push], reaches.line[push]
    return CaseRows(at, tip, case[:, 2:5], case[:, 5], case[:, 6], tool, line), spot


def _cases_about_tip(push: Push) -> FloatArray:
    """Cases of a push: place from the tip, force, lateral force in any direction, torque; (m, 7).

    A pull upward acts at the rim, on whichever side is worst: at the corners of a polygon
    around it.
    """
    radius = push.cut.tool.diameter_mm / 2.0 / math.cos(math.pi / _RIM_CORNERS)
    return np.array(
        [
            (x, y, push_x, push_y, case.up_n, any_n, torque_nm)
            for case in cutter_cases(push.load)
            for x, y in (_corners(radius) if case.up_n > 0.0 else [(0.0, 0.0)])
            for push_x, push_y, any_n, torque_nm in _laterals(push, case)
        ],
        dtype=np.float64,
    )


def _laterals(push: Push, case: CutterCase) -> list[tuple[float, float, float, float]]:
    """Lateral force along x and y, in any direction, and torque: one way, or the corners of the
    window.  The spindle turns the part its own way, with its torque or with none.
    """
    if push.window is None:
        return [(0.0, 0.0, case.lateral_n, case.torque_nm)]
    turns = (0.0, case.torque_nm if push.cut.reversed_spindle else -case.torque_nm)
    return [(x, y, 0.0, turn) for x, y in push.window for turn in turns]


def _corners(radius: float) -> list[tuple[float, float]]:
    turns = [2.0 * math.pi * k / _RIM_CORNERS for k in range(_RIM_CORNERS)]
    return [(radius * math.cos(t), radius * math.sin(t)) for t in turns]


def load_rows(loads: Sequence[LoadRow], pieces: Sequence[Polygon], part: Part | None) -> CaseRows:
    """The job's ``[[load]]`` rows on one part, or all.  One beside every piece counts on each."""
    rows = []
    for load in loads:
        spot = ShapelyPoint(load.at_mm[:2])
        on = {i for i, shape in enumerate(pieces) if shape.distance(spot) <= NEAR_MM}
        if part is None or not on or on.intersection(part.pieces):
            rows.append(_row_of(load))
    return in_arrays(rows)


def _row_of(load: LoadRow) -> CaseRow:
    x, y, up = load.force_n
    any_n = math.hypot(x, y) if load.any_direction else 0.0
    force = (0.0, 0.0, up) if load.any_direction else load.force_n
    return CaseRow(load.at_mm, load.at_mm, force, any_n, load.torque_nm, None, None)
