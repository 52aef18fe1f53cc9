"""Rows: half-spaces that a load must stay in, and the pressure at which it does.

A row is a small motion (vx, vy, omega) of the piece and what it costs, ``cost`` . (V, Mx, My):
the friction power of the pressing loads, or for a tilt (motion 0) the pressing plane at a point
of a rim.  A load is inside when, with p times the suction added to its pressing loads, the cost
covers its power.  Each row so gives the least p of each load.  Knows no cups and no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.loads import Loads

FloatArray = NDArray[np.float64]
_CHUNK = 200_000  # loads x rows worked on at once, so that it stays in the cache


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """``motion`` and ``cost``, both (..., 3), scaled lengths."""

    motion: FloatArray
    cost: FloatArray


def pressures(loads: Loads, rows: Rows, suction: FloatArray) -> FloatArray:
    """Least pressure of every load in every row, Pa, (L, M); inf where the row never holds.

    An open direction is taken at its worst: for one motion the power is linear in the force, so
    the worst is a norm; the motion and its reverse are both meant.
    """
    holds = rows.cost @ suction
    with np.errstate(divide="ignore"):
        share = np.where(holds > 0.0, 1.0 / np.maximum(holds, 1e-300), np.inf)
    need = np.abs(_turning(loads) @ rows.motion.T)
    if (loads.any > 0.0).any():
        need += _open_direction(loads, rows)
    need -= loads.press @ rows.cost.T
    need += _off(loads, rows)
    finite = np.isfinite(share)
    need[:, finite] *= share[finite]
    need[:, ~finite] = np.inf
    return need


def _off(loads: Loads, rows: Rows) -> FloatArray:
    """What the weight that may be there as well adds, (...,): in a row where it helps, nothing."""
    return np.maximum(-(rows.cost @ loads.more), 0.0)


def _turning(loads: Loads) -> FloatArray:
    """(Fx, Fy, Mz) about the origin of the fixed forces and the torque, (L, 3)."""
    spin = loads.torque + loads.fy * loads.x - loads.fx * loads.y
    return np.stack([loads.fx, loads.fy, spin], axis=1)


def _open_direction(loads: Loads, rows: Rows) -> FloatArray:
    """A |v_P -+ z g| in its worst sense, (L, M); v_P the velocity under the load, g the tipping."""
    vx, vy, spin = rows.motion.T
    gx, gy = rows.cost[:, 1], rows.cost[:, 2]
    if not rows.motion.any():  # tilts: only the tipping is left
        return np.outer(loads.any * np.abs(loads.z), np.hypot(gx, gy))
    one = np.ones_like(loads.x)
    reach = loads.x**2 + loads.y**2
    square = np.stack([one, loads.x, loads.y, reach, loads.z**2], axis=1) @ np.stack(
        [vx**2 + vy**2, 2.0 * spin * vy, -2.0 * spin * vx, spin**2, gx**2 + gy**2]
    )
    cross = np.stack([loads.z, loads.z * loads.x, loads.z * loads.y], axis=1) @ np.stack(
        [vx * gx + vy * gy, spin * gy, -spin * gx]
    )
    np.abs(cross, out=cross)
    cross *= 2.0
    square += cross
    np.maximum(square, 0.0, out=square)
    np.sqrt(square, out=square)
    square *= loads.any[:, None]
    return np.asarray(square)


def worst(loads: Loads, rows: Rows, suction: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Greatest pressure over the rows and its row, both (L,); worked in chunks of loads."""
    count, step = len(loads), max(1, _CHUNK // max(1, len(rows.motion)))
    most, which = np.empty(count), np.empty(count, dtype=np.int64)
    for start in range(0, count, step):
        part = slice(start, start + step)
        table = pressures(loads.take(part), rows, suction)
        which[part] = table.argmax(axis=1)
        most[part] = np.take_along_axis(table, which[part, None], axis=1)[:, 0]
    return most, which


def paired_pressures(loads: Loads, rows: Rows, suction: FloatArray) -> FloatArray:
    """As ``pressures`` for loads (P,) each with rows of its own (P, m): (P, m)."""
    vx, vy, spin = (rows.motion[..., i] for i in range(3))
    gx, gy = rows.cost[..., 1], rows.cost[..., 2]
    x, y, z = loads.x[:, None], loads.y[:, None], loads.z[:, None]
    need = np.abs(np.einsum("pi,pmi->pm", _turning(loads), rows.motion))
    ux, uy = vx - spin * y, vy + spin * x
    square = ux**2 + uy**2 + z**2 * (gx**2 + gy**2) + 2.0 * np.abs(z * (ux * gx + uy * gy))
    need += loads.any[:, None] * np.sqrt(square)
    need -= np.einsum("pi,pmi->pm", loads.press, rows.cost)
    need += _off(loads, rows)
    holds = rows.cost @ suction
    return np.where(holds > 0.0, need / np.where(holds > 0.0, holds, 1.0), np.inf)
