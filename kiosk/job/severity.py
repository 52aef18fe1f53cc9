"""What each cut of the program needs on its own, for shading its path.

Cuts with one load whose ends lie in one small cell of the blank are judged at one place of it.
Part frame, mm; kPa.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kiosk.hold.along import least_of_each
from kiosk.job.case_rows import cases_of
from kiosk.job.cases import Spots, rows_at
from kiosk.job.frames import FloatArray
from kiosk.job.holding import Body, Setup
from kiosk.job.reaches import IntArray, Reaches

_MOST_PLACES = 3000
_CELLS_ALONG, _LAYER_MM = 100.0, 2.0


def needs_of(setup: Setup, bodies: Sequence[Body], reaches: Reaches) -> dict[int, float]:
    """kPa that each cut needs, by its ``order``, on whichever body it pushes hardest."""
    found = np.full(len(reaches.pushes), -np.inf)
    for body in bodies:
        if body.places:
            which, need = _needs(setup, body, reaches)
            np.maximum.at(found, which, need)
    return {
        push.cut.order: need
        for push, need in zip(reaches.pushes, found.tolist(), strict=True)
        if need > -math.inf
    }


def _needs(setup: Setup, body: Body, reaches: Reaches) -> tuple[IntArray, FloatArray]:
    """The pushes whose ends are on a body, each twice, and what they need there."""
    push, tips, z_mm = reaches.ends(body.part)
    first, place = _places(reaches.load[push], tips, body.shape.bounds)
    spots = Spots(push[first], tips[first], z_mm[first])
    return push, _worst_of_each(setup, body, reaches, spots)[place]


def _places(
    load: IntArray, tips: FloatArray, bounds: tuple[float, float, float, float]
) -> tuple[IntArray, IntArray]:
    """Few enough places: an end at each, (p,), and the place of every end, (k,)."""
    wide, high = bounds[2] - bounds[0], bounds[3] - bounds[1]
    cell = math.hypot(wide, high) / _CELLS_ALONG
    while True:
        steps = np.round(tips / np.array([cell, cell, _LAYER_MM])).astype(np.int64)
        steps -= steps.min(axis=0, initial=0)
        x, y, z = (steps.max(axis=0, initial=0) + 1).tolist()
        key = ((load * x + steps[:, 0]) * y + steps[:, 1]) * z + steps[:, 2]
        _, first, place = np.unique(key, return_index=True, return_inverse=True)
        if first.size <= _MOST_PLACES or cell > max(wide, high):
            return first, place
        cell *= 1.5


def _worst_of_each(setup: Setup, body: Body, reaches: Reaches, spots: Spots) -> FloatArray:
    """kPa of each place: its worst case picked coarsely, then worked finely."""
    rows, spot = rows_at(reaches, spots)
    if not len(rows):
        return np.zeros(0)
    cups = setup.cups(body.places)
    rough = least_of_each(cups, cases_of(rows, body.safety_factor), *body.weights, fine=False)
    order = np.lexsort((-rough, spot))  # of each place the worst comes first
    picked = rows.take(order[np.flatnonzero(np.diff(spot, prepend=-1))])
    return least_of_each(cups, cases_of(picked, body.safety_factor), *body.weights) / 1e3
