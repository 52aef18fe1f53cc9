"""What each cut of the program needs on its own, for shading its path.

Cuts with one load whose ends lie in one small cell of the blank are judged at one place of it.
Part frame, mm; kPa.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kiosk.hold.along import least_of_each
from kiosk.job.cases import Reaches, Spot, cases_of, rows_at
from kiosk.job.holding import Body, Setup
from kiosk.job.pushes import Push

_MOST_PLACES = 3000
_CELLS_ALONG, _LAYER_MM = 100.0, 2.0


def needs_of(setup: Setup, bodies: Sequence[Body], reaches: Reaches) -> dict[int, float]:
    """kPa that each cut needs, by its ``order``, on whichever body it pushes hardest."""
    found: dict[int, float] = {}
    for body in bodies:
        if not body.places:
            continue
        for push, need in _needs(setup, body, list(reaches.stretches(body.piece))):
            found[push.cut.order] = max(need, found.get(push.cut.order, 0.0))
    return found


def _needs(
    setup: Setup, body: Body, stretches: list[tuple[Push, tuple[float, ...]]]
) -> list[tuple[Push, float]]:
    x0, y0, x1, y1 = body.shape.bounds
    cell = math.hypot(x1 - x0, y1 - y0) / _CELLS_ALONG
    while True:
        keys = [[_key(push, share, cell) for share in shares] for push, shares in stretches]
        places: dict[tuple[object, ...], Spot] = {}
        for (push, shares), row in zip(stretches, keys, strict=True):
            for share, key in zip(shares, row, strict=True):
                places.setdefault(key, Spot(push, push.tip_at(share)))
        if len(places) <= _MOST_PLACES or cell > max(x1 - x0, y1 - y0):
            break
        cell *= 1.5
    need = dict(zip(places, _worst_of_each(setup, body, list(places.values())), strict=True))
    return [
        (push, max(need[key] for key in row))
        for (push, _), row in zip(stretches, keys, strict=True)
    ]


def _key(push: Push, share: float, cell: float) -> tuple[object, ...]:
    x, y, z = push.tip_at(share)
    return push.load, push.window, round(x / cell), round(y / cell), round(z / _LAYER_MM)


def _worst_of_each(setup: Setup, body: Body, spots: Sequence[Spot]) -> list[float]:
    """kPa of each place: its worst case picked coarsely, then worked finely."""
    per_spot = [rows_at(spot) for spot in spots]
    rows = [row for own in per_spot for row in own]
    if not rows:
        return []
    cups, weight = setup.cups(body.places), setup.weight(body.shape)
    rough = least_of_each(cups, cases_of(rows, body.safety_factor), weight, fine=False)
    ends = np.cumsum([len(own) for own in per_spot])
    starts = ends - [len(own) for own in per_spot]
    picked = [rows[a + int(rough[a:b].argmax())] for a, b in zip(starts, ends, strict=True)]
    fine = least_of_each(cups, cases_of(picked, body.safety_factor), weight)
    return [float(need) / 1e3 for need in fine]
