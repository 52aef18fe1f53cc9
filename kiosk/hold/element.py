"""One rectangular cell of a Kirchhoff plate: twelve freedoms, (w, w_x, w_y) at each corner.

Adini, Clough, Melosh; Zienkiewicz and Taylor, The Finite Element Method (from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_POWERS = tuple(
    (p, q) for p in range(4) for q in range(4) if p + q < 4 or (p, q) in ((3, 1), (1, 3))
)  # full cubic, and x^3 y, x y^3
_CORNERS = ((0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, 1.0))  # node order: column, then row


def terms(x: float, y: float, dx: int, dy: int) -> FloatArray:
    """Derivative of the twelve monomials of the element."""
    row = []
    for p, q in _POWERS:
        if p < dx or q < dy:
            row.append(0.0)
        else:
            factor = math.perm(p, dx) * math.perm(q, dy)
            row.append(factor * x ** (p - dx) * y ** (q - dy))
    return np.array(row)


def shape_matrix(dx: float, dy: float) -> FloatArray:
    """Monomial coefficients from nodal (w, w_x, w_y), (12, 12)."""
    rows = []
    for cx, cy in _CORNERS:
        x, y = cx * dx, cy * dy
        rows.extend([terms(x, y, 0, 0), terms(x, y, 1, 0), terms(x, y, 0, 1)])
    return np.asarray(np.linalg.inv(np.array(rows)))


def element(stiffness: FloatArray, dx: float, dy: float) -> FloatArray:
    """Stiffness (12, 12) of one cell by 3 x 3 Gauss points, exact for its polynomials."""
    shape = shape_matrix(dx, dy)
    nodes, weights = np.polynomial.legendre.leggauss(3)
    total = np.zeros((12, 12))
    for gx, wx in zip(nodes, weights, strict=True):
        for gy, wy in zip(nodes, weights, strict=True):
            x, y = (gx + 1.0) * dx / 2.0, (gy + 1.0) * dy / 2.0
            bend = np.stack([terms(x, y, 2, 0), terms(x, y, 0, 2), 2.0 * terms(x, y, 1, 1)])
            bend = bend @ shape
            total += wx * wy * dx * dy / 4.0 * bend.T @ stiffness @ bend
    return total
