"""What the program leaves of each piece at its end, as far as it weighs.  Part frame, mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon, contains_xy, prepare

from kiosk.job.frames import FloatArray
from kiosk.job.stock import Stock

_MOST_BLOCKS = 40_000  # of one piece; cells of the map are taken together until there are no more


@dataclass(frozen=True, slots=True)
class Remains:
    """Volume of a piece, mm3, and its centre."""

    volume_mm3: float
    x_mm: float
    y_mm: float


def remains_of(shape: Polygon, thickness_mm: float, stock: Stock | None) -> Remains:
    """What is left of a piece; all of it without a program.

    The map gives the share that is left and how far its centre has moved; area and centre of the
    outline are exact, so that a piece that nothing thins weighs exactly what it did.
    """
    volume, centre = shape.area * thickness_mm, shape.centroid
    if stock is None:
        return Remains(volume, float(centre.x), float(centre.y))
    x, y, height = _blocks(shape, stock)
    if not height.any():
        return Remains(0.0, float(centre.x), float(centre.y))
    moved_x, moved_y = (float(np.average(at, weights=height) - at.mean()) for at in (x, y))
    share = min(float(height.mean()) / thickness_mm, 1.0)
    return Remains(volume * share, float(centre.x) + moved_x, float(centre.y) + moved_y)


def together(several: Sequence[Remains]) -> Remains | None:
    """What several weigh as one; None when nothing is left of them."""
    volume = sum(one.volume_mm3 for one in several)
    if volume <= 0.0:
        return None
    x = sum(one.volume_mm3 * one.x_mm for one in several) / volume
    y = sum(one.volume_mm3 * one.y_mm for one in several) / volume
    return Remains(volume, x, y)


def _blocks(shape: Polygon, stock: Stock) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Middles and mean heights of blocks of cells whose middle lies in a shape, each (n,)."""
    x0, y0, x1, y1 = shape.bounds
    columns = np.flatnonzero((stock.x >= x0) & (stock.x <= x1))
    rows = np.flatnonzero((stock.y >= y0) & (stock.y <= y1))
    step = max(1, math.ceil(math.sqrt(columns.size * rows.size / _MOST_BLOCKS)))
    x, y = (_means(at[cells], step, 0) for at, cells in ((stock.x, columns), (stock.y, rows)))
    height = _means(_means(stock.height[np.ix_(rows, columns)], step, 0), step, 1)
    prepare(shape)
    within = contains_xy(shape, x[None, :], y[:, None])
    row, column = np.nonzero(within)
    return x[column], y[row], height[within]


def _means(values: FloatArray, step: int, axis: int) -> FloatArray:
    """Of every ``step`` entries along an axis, the last ones of fewer."""
    count = values.shape[axis]
    starts = np.arange(0, count, step)
    sums = np.add.reduceat(values, starts, axis=axis)
    sizes = np.diff(np.append(starts, count))
    return np.asarray(sums / (sizes if axis == values.ndim - 1 else sizes[:, None]))
