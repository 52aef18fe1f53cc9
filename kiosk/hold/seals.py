"""The seals under one piece: equal springs on rings, and what a small motion costs in friction.

Knows no load.  Lengths are scaled inside: about the stiffness centre, in units of the group's
radius of gyration, so that one mesh of motions suits any set-up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Cups:
    """Raised cups under one piece: arrays (n,) in m; one friction for all."""

    x_m: FloatArray
    y_m: FloatArray
    seal_radius_m: FloatArray
    friction: float


@dataclass(frozen=True, slots=True, eq=False)
class Seals:
    """Cups in scaled lengths.  ``stiffness`` (n,) goes with circumference.

    ``spread`` (3, 3) turns (V, Mx, My) into the pressing plane w + b x + c y;
    ``suction`` (3,) is (V, Mx, My) of 1 Pa of vacuum.
    """

    x: FloatArray
    y: FloatArray
    r: FloatArray
    stiffness: FloatArray
    spread: FloatArray
    suction: FloatArray
    friction: float
    origin_m: tuple[float, float]
    scale_m: float


@lru_cache(maxsize=8)
def seals_of(cups: Cups) -> Seals:
    """Scaled seals.  ValueError in words for lengths that differ, no cup, or a radius not > 0.

    Remembered for these very cups: one set-up is asked with several weights.
    """
    arrays = (cups.x_m, cups.y_m, cups.seal_radius_m)
    x, y, r = (np.atleast_1d(np.asarray(a, dtype=np.float64)) for a in arrays)
    if not (x.shape == y.shape == r.shape) or x.size == 0:
        raise ValueError("cups: x, y and radius must have one length, at least 1")
    if not (np.isfinite(x).all() and np.isfinite(y).all() and (r > 0.0).all()):
        raise ValueError("cups: places must be numbers and radii above zero")
    share = r / r.sum()
    origin = (float(share @ x), float(share @ y))
    x, y = x - origin[0], y - origin[1]
    scale = math.sqrt(float(share @ (x**2 + y**2 + r**2)))
    x, y, rs = x / scale, y / scale, r / scale
    spread = np.asarray(np.linalg.inv(_stiffness_matrix(x, y, rs, share)), dtype=np.float64)
    area = math.pi * r**2
    suction = np.array([area.sum(), area @ x, area @ y])
    return Seals(x, y, rs, share, spread, suction, float(cups.friction), origin, scale)


def _stiffness_matrix(x: FloatArray, y: FloatArray, r: FloatArray, k: FloatArray) -> FloatArray:
    """Sums of k, k x, k (x^2 + r^2/2) ...; r^2/2 is the ring's own stiffness against tilt."""
    rows = np.stack([np.ones_like(x), x, y])
    matrix = (rows * k) @ rows.T
    own = float(k @ r**2) / 2.0
    matrix[1, 1] += own
    matrix[2, 2] += own
    return np.asarray(matrix, dtype=np.float64)


def elliptic(modulus: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Complete elliptic integrals K(m), E(m), 0 <= m < 1, by the arithmetic-geometric mean.

    Source: Abramowitz & Stegun 17.6 (from memory); checked against SciPy in the tests.
    """
    mean, other = np.ones_like(modulus), np.sqrt(np.maximum(1.0 - modulus, 1e-30))
    gap, total = np.sqrt(modulus), 0.5 * modulus
    power = 0.5
    for _ in range(8):
        gap = 0.5 * (mean - other)
        mean, other = 0.5 * (mean + other), np.sqrt(mean * other)
        power *= 2.0
        total = total + power * gap**2
    first = math.pi / (2.0 * mean)
    return first, first * (1.0 - total)


def ring_speed(centre: FloatArray, rim: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean speed round a ring, and its slopes with the two arguments.

    ``centre`` is the speed of the ring's centre, ``rim`` = turning speed x radius, same shape.
    Mean of sqrt(V^2 + s^2 + 2 V s cos t) over t = (2 / pi) (V + s) E(4 V s / (V + s)^2).
    """
    whole = np.maximum(centre + rim, 1e-300)
    first, second = elliptic(np.minimum(4.0 * centre * rim / whole**2, 1.0))
    mean = (2.0 / math.pi) * whole * second
    gap = second - first
    small_v, small_s = centre < 1e-6 * rim, rim < 1e-6 * centre
    with np.errstate(divide="ignore", invalid="ignore"):
        by_centre = (2.0 / math.pi) * (second + gap * (rim - centre) / (2.0 * centre))
        by_rim = (2.0 / math.pi) * (second + gap * (centre - rim) / (2.0 * rim))
        by_centre = np.where(small_v, centre / (2.0 * np.maximum(rim, 1e-300)), by_centre)
        by_rim = np.where(small_s, rim / (2.0 * np.maximum(centre, 1e-300)), by_rim)
    return mean, by_centre, by_rim


def _centre_velocity(seals: Seals, motions: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Velocity of each cup's centre, (..., n) twice, for motions (..., 3)."""
    vx, vy, omega = (motions[..., i, None] for i in range(3))
    return vx - omega * seals.y, vy + omega * seals.x


def friction_rows(seals: Seals, speeds: FloatArray) -> FloatArray:
    """Friction power of 1 N, 1 moment in V, Mx, My, (..., 3), for ring speeds (..., n)."""
    plane = np.stack([np.ones_like(seals.x), seals.x, seals.y], axis=1)
    weighted = speeds * (seals.friction * seals.stiffness)
    return np.asarray((weighted @ plane) @ seals.spread, dtype=np.float64)


def ring_speeds(seals: Seals, motions: FloatArray) -> FloatArray:
    """Mean speed of each cup's ring (..., n) for motions (..., 3) with omega >= 0."""
    ux, uy = _centre_velocity(seals, motions)
    return ring_speed(np.hypot(ux, uy), motions[..., 2, None] * seals.r)[0]


def tangent_speeds(seals: Seals, centres: FloatArray, motions: FloatArray) -> FloatArray:
    """Ring speeds at ``motions`` (C, m, 3) by the tangent at ``centres`` (C, 3): never too great.

    The ring speed is convex and positively homogeneous in the motion, so its tangent supports it.
    Shape (C, m, n); omega >= 0 throughout.
    """
    ux, uy = _centre_velocity(seals, centres)
    speed = np.hypot(ux, uy)
    _, by_centre, by_rim = ring_speed(speed, centres[:, 2, None] * seals.r)
    pull = by_centre / np.maximum(speed, 1e-300)
    gx, gy, turn = pull * ux, pull * uy, by_rim * seals.r
    spin = turn - gx * seals.y + gy * seals.x
    slopes = np.stack([gx, gy, spin], axis=1)  # (C, 3, n)
    return np.asarray(motions @ slopes, dtype=np.float64)


@lru_cache(maxsize=32)
def rim_rows(seals: Seals, corners: int, outside: bool) -> FloatArray:
    """Pressing plane at the corners of polygons drawn round every ring, hull only, (h, 3).

    Row j times (V, Mx, My) is the pressing plane there; a ring is sealed when it is nowhere
    negative.  ``outside``: the polygon's sides touch the ring, so nothing of it is missed;
    else its corners lie on the ring.  Remembered, so never to be changed.
    """
    angle = (np.arange(corners) + 0.5) * (2.0 * math.pi / corners)
    reach = seals.r[:, None] / (math.cos(math.pi / corners) if outside else 1.0)
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = np.stack([seals.x, seals.y], axis=1)[:, None] + reach[..., None] * outward
    hull = convex_hull(_may_be_outermost(points, outward))
    plane = np.column_stack([np.ones(len(hull)), hull])
    return np.asarray(plane @ seals.spread, dtype=np.float64)


def _may_be_outermost(points: FloatArray, outward: FloatArray) -> FloatArray:
    """The corners (m, 2) of points (n, c, 2) that can be on the hull, and few others.

    A polygon's corner is outermost only towards directions within half a step of its own; between
    them another corner at most ``widest`` away gains no more than widest x sin(half a step).
    """
    reach = (points * outward).sum(axis=2)
    widest = float(np.hypot(*np.ptp(points.reshape(-1, 2), axis=0)))
    slack = widest * math.sin(math.pi / len(outward)) * 1.001
    return np.asarray(points[reach >= reach.max(axis=0) - slack])


def convex_hull(points: FloatArray) -> FloatArray:
    """Corners of the convex hull of points (m, 2), counter-clockwise (Andrew's chain)."""
    order = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()

    def chain(rows: list[list[float]]) -> list[list[float]]:
        kept: list[list[float]] = []
        for row in rows:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], row) <= 0.0:
                kept.pop()
            kept.append(row)
        return kept[:-1]

    return np.array(chain(order) + chain(order[::-1]))


def _turn(a: list[float], b: list[float], c: list[float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
