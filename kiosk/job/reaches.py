"""Which parts of the blank each cut pushes, and along which stretch of it; part frame, mm.

Long programs make hundreds of thousands of cuts: what concerns all of them is kept in arrays.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import (
    Polygon,
    covers,
    distance,
    dwithin,
    get_coordinates,
    intersection,
    linestrings,
    points,
    prepare,
)

from kiosk.job.frames import FloatArray
from kiosk.job.freed import Part
from kiosk.job.job_file import Vector
from kiosk.job.pushes import Push

NEAR_MM = 0.1  # this close to a piece is on it
_STILL_MM = 1e-6  # a shorter stretch is a point

IntArray = NDArray[np.int64]


class Reaches:
    """Which parts of the blank each cut pushes, and along which stretch.

    A cut pushes every piece that comes within half a diameter of its rim, because what it
    leaves standing on a piece for a later pass is part of that piece now; and in any case the
    piece nearest to it.  Several pieces that hang together are pushed by what touches them, as
    they are parted off.  Before a part begins it is one with the blank, and not pushed on its own.

    ``load``: for each push a number that those of one load, window, tool and sense of the spindle
    have in common.  ``tool``, ``line``, ``along_z_n`` (the greater of its pull and press): of each.
    """

    def __init__(self, pushes: Sequence[Push], pieces: Sequence[Polygon]) -> None:
        self.pushes = pushes
        self._pieces = pieces
        self._start = _array([push.cut.start for push in pushes], 3)
        self._along = _array([push.cut.end for push in pushes], 3) - self._start
        self._whole = _array([(push.bite.first, push.bite.last) for push in pushes], 2)
        self.load = _numbered(pushes)
        self.tool = np.array([push.cut.tool.number for push in pushes], dtype=np.int64)
        self.line = np.array([push.cut.line for push in pushes], dtype=np.int64)
        self._top = np.array([push.bite.top_mm for push in pushes])
        self._centroid = np.array([push.load.centroid_m * 1e3 for push in pushes])
        self.along_z_n = np.array([max(push.load.up_n, push.load.down_n) for push in pushes])
        self._order = np.array([push.cut.order for push in pushes], dtype=np.int64)
        wide = np.array([push.cut.tool.diameter_mm for push in pushes])
        self._reach, self._touch = wide + NEAR_MM, wide / 2.0 + NEAR_MM
        self._known: dict[Part | None, tuple[IntArray, FloatArray]] = {}
        self._near = self._nearness() if len(pieces) and len(pushes) else np.zeros((0, 0), bool)

    def reached(self, part: Part | None) -> tuple[IntArray, FloatArray]:
        """The cuts that push a part (None: the blank), indices into the pushes (k,), and the shares
        of each move at both ends of its stretch (k, 2).
        """
        if part not in self._known:
            self._known[part] = self._reached(part)
        return self._known[part]

    def ends(self, part: Part | None) -> tuple[IntArray, FloatArray, FloatArray]:
        """Both ends of all stretches: whose they are (2 k,), the tip (2 k, 3), and where it pushes.

        That is the height (2 k,) of the engaged part's centroid, never above the material met.
        """
        which, shares = self.reached(part)
        tips, push = self._tips(which, shares).reshape(-1, 3), np.repeat(which, 2)
        top = self._top[push]
        bottom = np.minimum(np.maximum(tips[:, 2], 0.0), top)
        return push, tips, np.minimum(bottom + self._centroid[push], top)

    def _tips(self, which: IntArray, shares: FloatArray) -> FloatArray:
        """The tip at the shares (k, m) of each of the pushes: (k, m, 3)."""
        along = shares[:, :, None] * self._along[which, None]
        return np.asarray(self._start[which, None] + along)

    def _nearness(self) -> NDArray[np.bool_]:
        """Whether each cut is near a piece, (pieces, n); one near none is near its nearest."""
        every = np.arange(len(self.pushes))
        paths = self._paths(every)
        near = np.array([_within(piece, paths, self._reach) for piece in self._pieces])
        far = np.flatnonzero(~near.any(axis=0))
        away = np.array([distance(piece, paths[far]) for piece in self._pieces])
        near[away.argmin(axis=0), far] = True
        return near

    def _paths(self, which: IntArray) -> NDArray[np.object_]:
        """The stretches of the tool's path that meet material, seen from above."""
        ends = self._tips(which, self._whole[which])[:, :, :2]
        found = np.asarray(linestrings(ends), dtype=object)
        still = np.hypot(*(ends[:, 1] - ends[:, 0]).T) < _STILL_MM
        found[still] = points(ends[still, 0])
        return found

    def _reached(self, part: Part | None) -> tuple[IntArray, FloatArray]:
        if part is None or not len(self.pushes):
            return np.arange(len(self.pushes)), self._whole
        single = len(part.pieces) == 1
        reach_mm = self._reach if single else self._touch
        now = self._order >= part.begin
        if part.last is not None:
            now &= self._order <= part.last
        which = np.flatnonzero(now & self._near[part.pieces[0]] if single else now)
        paths = self._paths(which)
        if not single:
            met = _within(part.shape, paths, reach_mm[which])
            which, paths = which[met], paths[met]
        shares = self._whole[which].copy()
        for reach in np.unique(reach_mm[which]):
            region = part.shape.buffer(reach + NEAR_MM)
            prepare(region)
            own = np.flatnonzero(reach_mm[which] == reach)
            partly = own[~covers(region, paths[own])]
            shares[partly] = self._parts(which[partly], region, paths[partly])
        return which, shares

    def _parts(self, which: IntArray, region: Polygon, paths: NDArray[np.object_]) -> FloatArray:
        """Shares (k, 2) between which these cuts lie in a region; all of it where none does."""
        whole = self._whole[which]
        start, end = np.moveaxis(self._tips(which, whole)[:, :, :2], 1, 0)
        length = np.hypot(*(end - start).T)
        spots, cut = get_coordinates(intersection(region, paths), return_index=True)
        least, most = np.full(which.size, np.inf), np.full(which.size, -np.inf)
        part = np.hypot(*(spots - start[cut]).T) / np.maximum(length[cut], _STILL_MM)
        np.minimum.at(least, cut, part)
        np.maximum.at(most, cut, part)
        none = (least > most) | (length < _STILL_MM)
        least, most = np.where(none, 0.0, least), np.where(none, 1.0, most)
        span = whole[:, 1] - whole[:, 0]
        return np.stack([whole[:, 0] + least * span, whole[:, 0] + most * span], axis=1)


def _array(rows: Sequence[tuple[float, ...]], width: int) -> FloatArray:
    return np.array(rows, dtype=np.float64).reshape(-1, width)


def _within(piece: Polygon, paths: NDArray[np.object_], reach: FloatArray) -> NDArray[np.bool_]:
    prepare(piece)
    return np.asarray(dwithin(piece, paths, reach), dtype=bool)


def _numbered(pushes: Sequence[Push]) -> IntArray:
    """One number for all pushes of one load, window, tool and sense of the spindle."""
    numbers: dict[tuple[object, ...], int] = {}
    seen: dict[tuple[int, ...], int] = {}  # so that a load is looked at once, not at every push
    found = []
    for push in pushes:
        key = (id(push.load), id(push.window), push.cut.tool.number, push.cut.reversed_spindle)
        if key not in seen:
            alike = (push.load, push.window, *key[2:])
            seen[key] = numbers.setdefault(alike, len(numbers))
        found.append(seen[key])
    return np.array(found, dtype=np.int64)


def alike(*columns: FloatArray | IntArray) -> list[IntArray]:
    """Indices of the entries that are alike in all columns, in order of their first ones."""
    if columns[0].size == 0:
        return []
    order = np.lexsort(columns[::-1])
    steps = [np.diff(column[order]) != 0 for column in columns]
    groups = np.split(order, np.flatnonzero(np.logical_or.reduce(steps)) + 1)
    return sorted(groups, key=lambda group: int(group[0]))


def vector(row: FloatArray) -> Vector:
    """Three coordinates as a tuple."""
    return float(row[0]), float(row[1]), float(row[2])
