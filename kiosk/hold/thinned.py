"""How much bending stiffness pockets and grooves leave in each cell of a plate.

A cell that is thinner in places is taken as strips: side by side their stiffness adds, one
after the other their give adds; of the two directions the softer one counts for both.  A groove
along x or y is exact so, across it; along it the plate is stiffer than it counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_MOST_LOOKS = 24  # places in a row of one cell


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """What is left of the part: ``height_m`` (rows of y, columns of x) over a regular grid of
    places ``x_m``, ``y_m``.  What is at most ``none_m`` high is no part, and nothing is said of it.
    """

    x_m: FloatArray
    y_m: FloatArray
    height_m: FloatArray
    none_m: float


def stiffness_shares(
    left: Heights | None,
    origin: tuple[float, float],
    cell: tuple[float, float],
    shape: tuple[int, ...],
    thickness_m: float,
) -> FloatArray:
    """Share of a full plate's stiffness, above 0 to 1, of each of (nx, ny) cells; the stiffness
    of a plate goes with the cube of its thickness."""
    if left is None:
        return np.ones(shape)
    columns, nx = _looked_at(left.x_m, origin[0], cell[0], shape[0])
    rows, ny = _looked_at(left.y_m, origin[1], cell[1], shape[1])
    height = left.height_m[np.ix_(rows, columns)].reshape(shape[1], ny, shape[0], nx)
    cube = np.where(height > left.none_m, np.minimum(height / thickness_m, 1.0) ** 3, np.nan)
    return np.minimum(_softness(cube, 1, 3), _softness(cube, 3, 1)).T


def _looked_at(
    at_m: FloatArray, start: float, step: float, cells: int
) -> tuple[NDArray[np.int64], int]:
    """Indices of the places nearest to evenly spaced looks into each cell, and looks in a cell."""
    pitch = float(at_m[1] - at_m[0]) if at_m.size > 1 else step
    looks = int(np.clip(np.ceil(step / pitch), 1, _MOST_LOOKS))
    wanted = start + (np.arange(cells * looks) + 0.5) * step / looks
    nearest = np.rint((wanted - at_m[0]) / pitch).astype(np.int64)
    return np.clip(nearest, 0, at_m.size - 1), looks


def _softness(cube: FloatArray, beside: int, after: int) -> FloatArray:
    """Strips side by side along one axis, then one after the other along the other, (ny, nx)."""
    give = _mean(1.0 / _mean(cube, beside), after).squeeze((1, 3))
    return np.asarray(1.0 / np.nan_to_num(give, nan=1.0))


def _mean(values: FloatArray, axis: int) -> FloatArray:
    """Over what is part; not a number where none is."""
    there = ~np.isnan(values)
    total = np.where(there, values, 0.0).sum(axis=axis, keepdims=True)
    count = there.sum(axis=axis, keepdims=True)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
