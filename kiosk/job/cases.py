"""Load cases for the holding model: which piece each push and each stated load acts on, where.

Part frame; mm here, SI only in what goes to ``kiosk.hold``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Point as ShapelyPoint
from shapely import Polygon, convex_hull, distance, linestrings, multipoints, prepare
from shapely.geometry.base import BaseGeometry

from kiosk.hold.cutting import CutterCase, cutter_cases
from kiosk.hold.minimum import Cases
from kiosk.job.job_file import LoadRow, Vector
from kiosk.job.pushes import Push

NEAR_MM = 0.1  # this close to a piece is on it
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


class Reaches:
    """Which pieces each cut pushes, and along which stretch.

    A cut pushes every piece that comes within half a diameter of its rim, because what it
    leaves standing on a piece for a later pass is part of that piece now; and in any case the
    piece nearest to it.  Before the first cut through along its border a piece is one with the
    blank, and is not pushed on its own.
    """

    def __init__(
        self, pushes: Sequence[Push], pieces: Sequence[Polygon], loose_from: Sequence[int] = ()
    ) -> None:
        self.pushes = pushes
        self._loose_from = loose_from or [0] * len(pieces)
        self._reach: dict[tuple[int, float], BaseGeometry] = {}
        self._pieces = pieces
        self._paths = _stretches(pushes)
        away = np.array([distance(piece, self._paths) for piece in pieces])
        away = away.reshape(len(pieces), len(pushes))
        self._near = away <= np.array([_reach_mm(push) for push in pushes])
        self._nearest = away.argmin(axis=0) if len(pieces) and pushes else np.zeros(0, dtype=int)

    def stretches(self, piece: int | None) -> Iterator[tuple[Push, tuple[float, ...]]]:
        """Cuts that push a piece (None: the blank) with the shares of each move at both ends."""
        for index, push in enumerate(self.pushes):
            whole = (push.bite.first, push.bite.last)
            if piece is None:
                yield push, whole
            elif push.cut.order < self._loose_from[piece]:
                continue
            elif self._near[piece, index]:
                yield push, self._within(piece, index)
            elif self._nearest[index] == piece:
                yield push, whole

    def _within(self, piece: int, index: int) -> tuple[float, ...]:
        push, path = self.pushes[index], self._paths[index]
        first, last = push.bite.first, push.bite.last
        if path.length < 1e-6:
            return first, last
        key = (piece, _reach_mm(push))
        if key not in self._reach:
            self._reach[key] = self._pieces[piece].buffer(key[1] + NEAR_MM)
            prepare(self._reach[key])
        if self._reach[key].covers(path):
            return first, last
        spots = _coordinates(self._reach[key].intersection(path))
        start = path.coords[0]
        shares = [math.dist(start, spot) / path.length for spot in spots] or [0.0, 1.0]
        return first + min(shares) * (last - first), first + max(shares) * (last - first)


def _reach_mm(push: Push) -> float:
    return push.cut.tool.diameter_mm + NEAR_MM


def _stretches(pushes: Sequence[Push]) -> list[BaseGeometry]:
    """The stretches of the tool's path that meet material, seen from above."""
    ends = np.array(
        [[push.tip_at(share)[:2] for share in (push.bite.first, push.bite.last)] for push in pushes]
    ).reshape(-1, 2, 2)
    found: list[BaseGeometry] = list(linestrings(ends))
    still = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < 1e-6
    for index in np.flatnonzero(still):
        found[index] = ShapelyPoint(ends[index, 0])
    return found


def rows_of(reaches: Reaches, piece: int | None) -> list[CaseRow]:
    """Load cases of the cuts that push a piece (None: the whole blank)."""
    groups: dict[tuple[object, ...], list[Spot]] = {}
    for push, shares in reaches.stretches(piece):
        group = groups.setdefault((push.load, push.cut.tool.number, push.window), [])
        group += [Spot(push, push.tip_at(share)) for share in shares]
    return [row for group in groups.values() for spot in outermost(group) for row in rows_at(spot)]


def _coordinates(shape: BaseGeometry) -> list[tuple[float, float]]:
    parts = getattr(shape, "geoms", [shape])
    return [(float(c[0]), float(c[1])) for part in parts for c in part.coords]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place of the tip where a push acts.  ``raised_mm``: added height, see ``outermost``."""

    push: Push
    tip: Vector
    raised_mm: float = 0.0

    @property
    def z_mm(self) -> float:
        """Height of the engaged part's centroid, never above the material that is met."""
        top = self.push.bite.top_mm
        bottom = min(max(self.tip[2], 0.0), top)
        return min(bottom + self.push.load.centroid_m * 1e3, top) + self.raised_mm


def outermost(spots: Sequence[Spot]) -> list[Spot]:
    """The spots of one load that can govern.

    With the load fixed, its moments go with the place, and what a group of seals holds is a
    convex set: a load that is held at the corners of a convex hull is held inside it.  Spots are
    taken in layers of height; every corner of a layer counts at its least and greatest height.
    """
    layers: dict[int, list[Spot]] = {}
    for spot in spots:
        layers.setdefault(math.floor(spot.z_mm / _LAYER_MM), []).append(spot)
    return [spot for layer in layers.values() for spot in _corners_of(layer)]


def _corners_of(layer: Sequence[Spot]) -> list[Spot]:
    first = {(round(spot.tip[0], 4), round(spot.tip[1], 4)): spot for spot in reversed(layer)}
    hull = convex_hull(multipoints(np.array(list(first))))
    corners = [first[spot] for spot in dict.fromkeys(_coordinates(_edge(hull)))]
    heights = sorted({round(spot.z_mm, 6) for spot in layer})
    return [
        Spot(spot.push, spot.tip, z_mm - spot.z_mm)
        for spot in corners
        for z_mm in dict.fromkeys((heights[0], heights[-1]))
    ]


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
    window.  A clockwise spindle turns the part clockwise, with its torque or with none.
    """
    if push.window is None:
        return [(0.0, 0.0, case.lateral_n, case.torque_nm)]
    turns = (0.0, -case.torque_nm)
    return [(x, y, 0.0, turn) for x, y in push.window for turn in turns]


def _corners(tip: Vector, radius: float) -> list[tuple[float, float]]:
    turns = [2.0 * math.pi * k / _RIM_CORNERS for k in range(_RIM_CORNERS)]
    return [(tip[0] + radius * math.cos(t), tip[1] + radius * math.sin(t)) for t in turns]


def load_rows(
    loads: Sequence[LoadRow], pieces: Sequence[Polygon], piece: int | None
) -> list[CaseRow]:
    """The job's ``[[load]]`` rows on one piece, or all.  One beside every piece counts on each."""
    rows = []
    for load in loads:
        spot = ShapelyPoint(load.at_mm[:2])
        on = [i for i, shape in enumerate(pieces) if shape.distance(spot) <= NEAR_MM]
        if piece is None or not on or piece in on:
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
