"""How far the part bends under the cutter between cups and at overhangs.

Kirchhoff plate, orthotropic, on elastic ring supports; rectangular elements on a regular grid,
solved column by column; where pockets thin it, thinner there.  Thin plates and small bending
only: thickness below a tenth of the span, deflection below half the thickness.  Knows no cups'
names and no job.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.element import element, shape_matrix, terms
from kiosk.hold.thinned import Heights, stiffness_shares

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Pressing stiffness of one cup's lip or stop: common practice, no source (measure it).
CUP_STIFFNESS_N_M = 5e5
MOST_CELLS, _LEAST_CELLS = 48, 8
_RING_POINTS = 12
MOST_M = 1.0  # more than this is a part without support, not bending, and told as this


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A flat part: loops (m, 2) in m, thickness, moduli with and against the grain.

    ``grain_rad`` is the grain's direction from x.  ``poisson`` belongs to the stiff direction.
    ``left`` says where less than the thickness is left; ``cells``: along the longer side.
    """

    outline: FloatArray
    openings: tuple[FloatArray, ...]
    thickness_m: float
    modulus_along_pa: float
    modulus_across_pa: float
    poisson: float
    grain_rad: float = 0.0
    left: Heights | None = None
    cells: int = MOST_CELLS


@dataclass(frozen=True, slots=True, eq=False)
class Supports:
    """Raised cups: places and seal radii (n,) in m; radius 0 is a point.  One stiffness, N/m."""

    x_m: FloatArray
    y_m: FloatArray
    radius_m: FloatArray
    stiffness_n_m: float = CUP_STIFFNESS_N_M


@dataclass(frozen=True, slots=True)
class Deflection:
    """The largest movement under the load itself, m, and where."""

    deflection_m: float
    x_m: float
    y_m: float


def rigidity(sheet: Sheet) -> FloatArray:
    """Bending stiffness (3, 3), N m, of (w_xx, w_yy, 2 w_xy), turned to the grain.

    E t^3 / 12 (1 - nu12 nu21); shear modulus by Huber, sqrt(E1 E2) / 2 (1 + sqrt(nu12 nu21)).
    """
    e1, e2 = sheet.modulus_along_pa, sheet.modulus_across_pa
    both = sheet.poisson**2 * e2 / e1
    shear = math.sqrt(e1 * e2) / (2.0 * (1.0 + math.sqrt(both)))
    cross = sheet.poisson * e2
    grain = np.array([[e1, cross, 0.0], [cross, e2, 0.0], [0.0, 0.0, shear * (1.0 - both)]])
    c, s = math.cos(sheet.grain_rad), math.sin(sheet.grain_rad)
    turn = np.array(
        [[c * c, s * s, c * s], [s * s, c * c, -c * s], [-2 * c * s, 2 * c * s, c * c - s * s]]
    )
    return np.asarray(turn.T @ grain @ turn * sheet.thickness_m**3 / (12.0 * (1.0 - both)))


def inside(loops: tuple[FloatArray, ...], points: FloatArray) -> NDArray[np.bool_]:
    """Which points (p, 2) lie within an odd number of the loops."""
    odd = np.zeros(len(points), dtype=bool)
    x, y = points[:, 0], points[:, 1]
    for loop in loops:
        for (ax, ay), (bx, by) in zip(loop, np.roll(loop, -1, axis=0), strict=True):
            if ay == by:
                continue
            crosses = (ay > y) != (by > y)
            odd ^= crosses & (x < ax + (bx - ax) * (y - ay) / (by - ay))
    return odd


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """A factorised plate.  Nodes (nx + 1) x (ny + 1), each with (w, w_x, w_y).

    ``diagonal`` holds inverses of the reduced column blocks, ``beside`` the blocks between
    columns; ``solid`` (nx, ny) says which cells are part.
    """

    origin: tuple[float, float]
    cell: tuple[float, float]
    solid: NDArray[np.bool_]
    diagonal: FloatArray
    beside: FloatArray


def plate_of(sheet: Sheet, supports: Supports) -> Plate | None:
    """The plate on its supports; None without support, or when a piece of it can fall."""
    origin, cell, solid = _grid(sheet)
    if not solid.any() or np.size(supports.x_m) == 0:
        return None
    empty = Plate(origin, cell, solid, np.empty(0), np.empty(0))
    columns = solid.shape[0] + 1
    freedoms = 3 * (solid.shape[1] + 1)
    diagonal, beside = (
        np.zeros((columns, freedoms, freedoms)),
        np.zeros((columns - 1, freedoms, freedoms)),
    )
    share = stiffness_shares(sheet.left, origin, cell, solid.shape, sheet.thickness_m)
    _add_cells(diagonal, beside, element(rigidity(sheet), *cell), np.where(solid, share, 0.0))
    _add_springs(diagonal, beside, empty, supports)
    _rest_unused(diagonal)
    try:
        return Plate(origin, cell, solid, _reduced(diagonal, beside), beside)
    except np.linalg.LinAlgError:
        return None


def _grid(sheet: Sheet) -> tuple[tuple[float, float], tuple[float, float], NDArray[np.bool_]]:
    low, high = sheet.outline.min(axis=0), sheet.outline.max(axis=0)
    size = high - low
    step = float(size.max()) / sheet.cells
    nx, ny = (int(np.clip(round(float(s) / step), _LEAST_CELLS, sheet.cells)) for s in size)
    dx, dy = float(size[0]) / nx, float(size[1]) / ny
    mx, my = np.meshgrid(
        low[0] + (np.arange(nx) + 0.5) * dx, low[1] + (np.arange(ny) + 0.5) * dy, indexing="ij"
    )
    middles = np.stack([mx.ravel(), my.ravel()], axis=1)
    solid = inside((sheet.outline, *sheet.openings), middles).reshape(nx, ny)
    return (float(low[0]), float(low[1])), (dx, dy), solid


def _add_cells(
    diagonal: FloatArray, beside: FloatArray, block: FloatArray, share: FloatArray
) -> None:
    """``share`` (nx, ny) of the stiffness that each cell has; 0 where there is no part."""
    for j in range(share.shape[1]):
        rows = slice(3 * j, 3 * j + 6)
        used = np.flatnonzero(share[:, j])
        stiff = share[used, j, None, None] * block
        diagonal[used, rows, rows] += stiff[:, :6, :6]
        diagonal[used + 1, rows, rows] += stiff[:, 6:, 6:]
        beside[used, rows, rows] += stiff[:, :6, 6:]


def _locate(plate: Plate, points: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Cell (i, j) of each point and its place in it; a point off the part goes to the nearest."""
    size = np.array(plate.cell)
    place = (points - np.array(plate.origin)) / size
    shape = np.array(plate.solid.shape)
    cell = np.clip(np.floor(place).astype(np.int64), 0, shape - 1)
    solid = np.argwhere(plate.solid)
    for k in np.flatnonzero(~plate.solid[cell[:, 0], cell[:, 1]]):
        apart = np.abs(solid + 0.5 - place[k]) * size
        cell[k] = solid[int((apart**2).sum(axis=1).argmin())]
    return cell[:, 0], cell[:, 1], np.clip(place - cell, 0.0, 1.0) * size


def _weights(plate: Plate, points: FloatArray) -> tuple[IntArray, IntArray, FloatArray]:
    """Cell of each point and the share of its nodal freedoms in w there, (p, 12)."""
    i, j, local = _locate(plate, points)
    shape = shape_matrix(*plate.cell)
    at = np.array([terms(float(x), float(y), 0, 0) for x, y in local])
    return i, j, np.asarray(at @ shape)


def _add_springs(
    diagonal: FloatArray, beside: FloatArray, plate: Plate, supports: Supports
) -> None:
    """Add the rings as points that press."""
    angle = 2.0 * math.pi * np.arange(_RING_POINTS) / _RING_POINTS
    x = np.asarray(supports.x_m)[:, None] + np.asarray(supports.radius_m)[:, None] * np.cos(angle)
    y = np.asarray(supports.y_m)[:, None] + np.asarray(supports.radius_m)[:, None] * np.sin(angle)
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    i, j, weights = _weights(plate, points)
    for column, row, share in zip(i, j, weights, strict=True):
        block = supports.stiffness_n_m / _RING_POINTS * np.outer(share, share)
        rows = slice(3 * row, 3 * row + 6)
        diagonal[column, rows, rows] += block[:6, :6]
        diagonal[column + 1, rows, rows] += block[6:, 6:]
        beside[column, rows, rows] += block[:6, 6:]


def _rest_unused(diagonal: FloatArray) -> None:
    """Nodes of no cell stay at rest."""
    own = np.einsum("cii->ci", diagonal)
    column, freedom = np.nonzero(own == 0.0)
    diagonal[column, freedom, freedom] = 1.0


def _reduced(diagonal: FloatArray, beside: FloatArray) -> FloatArray:
    """Inverse of every column block after the columns before it are eliminated."""
    inverse = np.empty_like(diagonal)
    inverse[0] = np.linalg.inv(diagonal[0])
    for k in range(1, len(diagonal)):
        inverse[k] = np.linalg.inv(diagonal[k] - beside[k - 1].T @ inverse[k - 1] @ beside[k - 1])
    return inverse


def _solve(plate: Plate, loads: FloatArray) -> FloatArray:
    """Nodal freedoms (columns, freedoms, loads) of nodal loads of the same shape."""
    state = loads.copy()
    for k in range(1, len(state)):
        state[k] -= plate.beside[k - 1].T @ (plate.diagonal[k - 1] @ state[k - 1])
    state[-1] = plate.diagonal[-1] @ state[-1]
    for k in range(len(state) - 2, -1, -1):
        state[k] = plate.diagonal[k] @ (state[k] - plate.beside[k] @ state[k + 1])
    return state


def influence(plate: Plate, at: FloatArray, look: FloatArray) -> FloatArray:
    """Movement at ``look`` (m, 2) from 1 N down at each of ``at`` (p, 2), (m, p), m/N."""
    i, j, share = _weights(plate, np.asarray(at, dtype=np.float64))
    columns, freedoms = len(plate.diagonal), plate.diagonal.shape[1]
    loads = np.zeros((columns, freedoms, len(share)))
    place = np.arange(len(share))[:, None]
    rows = 3 * j[:, None] + np.arange(6)
    loads[i[:, None], rows, place] += share[:, :6]
    loads[i[:, None] + 1, rows, place] += share[:, 6:]
    moved = _solve(plate, loads)
    i, j, share = _weights(plate, np.asarray(look, dtype=np.float64))
    rows = 3 * j[:, None] + np.arange(6)
    near = np.concatenate([moved[i[:, None], rows], moved[i[:, None] + 1, rows]], axis=1)
    return np.asarray(np.einsum("mf,mfp->mp", share, near))


def deflections(
    sheet: Sheet, supports: Supports, at: FloatArray, force_n: FloatArray
) -> FloatArray | None:
    """How far the part gives under each load (P, 2), N (P,), m (P,), never more than ``MOST_M``:
    also where nothing holds it up.  None without supports or loads.

    The force may be either way; its size counts.  Worked in batches, one plate for all loads.
    """
    at = np.asarray(at, dtype=np.float64).reshape(-1, 2)
    if np.size(supports.x_m) == 0 or len(at) == 0:
        return None
    moved, plate = np.full(len(at), MOST_M), plate_of(sheet, supports)
    if plate is None:
        return moved
    for start in range(0, len(at), 100):
        part = slice(start, start + 100)
        own = np.diagonal(influence(plate, at[part], at[part]))
        moved[part] = np.abs(np.asarray(force_n)[part] * own)
    return np.asarray(np.fmin(moved, MOST_M))


def largest_deflection(
    sheet: Sheet, supports: Supports, at: FloatArray, force_n: FloatArray
) -> Deflection | None:
    """The load of ``deflections`` under which the part gives most."""
    moved = deflections(sheet, supports, at, force_n)
    if moved is None:
        return None
    worst = int(moved.argmax())
    x, y = np.asarray(at, dtype=np.float64).reshape(-1, 2)[worst]
    return Deflection(float(moved[worst]), float(x), float(y))
