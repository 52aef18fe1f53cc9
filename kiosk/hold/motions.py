"""Small motions of a rigid piece as cells on a half sphere of (vx, vy, omega), omega >= 0.

A motion and its reverse cost the same friction, so half a sphere is enough.  Cells are
triangles; splitting one in four gives cells half as wide.  Knows no seals and no loads.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def first_cells(level: int) -> FloatArray:
    """The half sphere in 4^(level + 1) triangles, (C, 3 corners, 3)."""
    up = [0.0, 0.0, 1.0]
    round_ = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, -1.0, 0.0]]
    cells = np.array([[round_[i], round_[(i + 1) % 4], up] for i in range(4)])
    for _ in range(level):
        cells = split(cells)
    return cells


def split(cells: FloatArray) -> FloatArray:
    """Each triangle in four, children of cell i at 4 i ... 4 i + 3."""
    a, b, c = cells[:, 0], cells[:, 1], cells[:, 2]
    ab, bc, ca = _middle(a, b), _middle(b, c), _middle(c, a)
    children = np.stack(
        [
            np.stack([a, ab, ca], axis=1),
            np.stack([ab, b, bc], axis=1),
            np.stack([ca, bc, c], axis=1),
            np.stack([ab, bc, ca], axis=1),
        ],
        axis=1,
    )
    return children.reshape(-1, 3, 3)


def centres(cells: FloatArray) -> FloatArray:
    """Middle motion of each cell, unit length, (C, 3)."""
    middle = cells.sum(axis=1)
    return np.asarray(middle / np.linalg.norm(middle, axis=-1, keepdims=True))


def _middle(a: FloatArray, b: FloatArray) -> FloatArray:
    middle = a + b
    return np.asarray(middle / np.linalg.norm(middle, axis=-1, keepdims=True))
