"""Load cases on one piece, and their form for the solver.  Knows no cups.

A load case is a point, a force (up is positive) and a torque about z.  Forces and torque are
multiplied by the case's factor; the weight is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Weight:
    """The piece's weight in N and its centre, m."""

    force_n: float
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Cases:
    """Load cases, each array (L,).  z from the seal plane up; forces without ``factor``.

    ``any_n`` is a lateral magnitude that may point anywhere, its torque acts either way; where it
    is above zero, ``fx_n`` and ``fy_n`` must be 0.  ``group`` (L,) says which cases are one thing
    to a person (a program line), so that runners-up differ; None: each case on its own.
    """

    x_m: FloatArray
    y_m: FloatArray
    z_m: FloatArray
    fx_n: FloatArray
    fy_n: FloatArray
    fz_n: FloatArray
    any_n: FloatArray
    torque_nm: FloatArray
    factor: FloatArray
    group: IntArray | None = None

    def __len__(self) -> int:
        return int(np.asarray(self.x_m).size)


_FIELDS = ("x_m", "y_m", "z_m", "fx_n", "fy_n", "fz_n", "any_n", "torque_nm", "factor")


def checked(cases: Cases) -> Cases:
    """The same cases as float arrays of one length; ValueError in words when they cannot be."""
    arrays: dict[str, Any] = {}
    for name in _FIELDS:
        arrays[name] = np.atleast_1d(np.asarray(getattr(cases, name), dtype=np.float64))
        if arrays[name].shape != arrays["x_m"].shape or arrays[name].ndim != 1:
            raise ValueError(f"load cases: {name} has not the length of x_m")
        if not np.isfinite(arrays[name]).all():
            raise ValueError(f"load cases: {name} holds a value that is not a number")
    if (arrays["any_n"] < 0.0).any() or (arrays["factor"] < 0.0).any():
        raise ValueError("load cases: any_n and factor must not be negative")
    fixed = (arrays["fx_n"] != 0.0) | (arrays["fy_n"] != 0.0)
    if (fixed & (arrays["any_n"] > 0.0)).any():
        raise ValueError("load cases: a lateral force is either fixed or in any direction")
    return Cases(**arrays, group=cases.group)


@dataclass(frozen=True, slots=True, eq=False)
class Loads:
    """Cases with the factor in, lengths in units of ``scale_m`` about an origin; arrays (L,).

    ``press`` (L, 3) is (V, Mx, My) of all that does not depend on p or on the open direction:
    pressing force and its moments, weight and fixed lateral force included.  ``more`` (3,) is that
    of the weight that may also be there, or not.
    """

    x: FloatArray
    y: FloatArray
    z: FloatArray
    fx: FloatArray
    fy: FloatArray
    any: FloatArray
    torque: FloatArray
    press: FloatArray
    more: FloatArray

    def __len__(self) -> int:
        return int(self.x.size)

    def take(self, index: IntArray | slice) -> Loads:
        """The cases at an index."""
        return Loads(
            self.x[index], self.y[index], self.z[index], self.fx[index], self.fy[index],
            self.any[index], self.torque[index], self.press[index], self.more,
        )  # fmt: skip


def loads_about(
    cases: Cases,
    weight: Weight,
    uncut: Weight | None,
    origin: tuple[float, float],
    scale_m: float,
) -> Loads:
    """The solver's form of ``cases`` (checked) and the weight: it may be that of the uncut too."""
    x, y = (cases.x_m - origin[0]) / scale_m, (cases.y_m - origin[1]) / scale_m
    z = cases.z_m / scale_m
    fx, fy, fz = (f * cases.factor for f in (cases.fx_n, cases.fy_n, cases.fz_n))
    press = np.stack([-fz, fx * z - fz * x, fy * z - fz * y], axis=1)
    least = _pressing(weight, origin, scale_m)
    more = _pressing(uncut or weight, origin, scale_m) - least
    turn = cases.torque_nm * cases.factor / scale_m
    return Loads(x, y, z, fx, fy, cases.any_n * cases.factor, turn, press + least, more)


def _pressing(weight: Weight, origin: tuple[float, float], scale_m: float) -> FloatArray:
    """(V, Mx, My) of a weight, (3,)."""
    x, y = (weight.x_m - origin[0]) / scale_m, (weight.y_m - origin[1]) / scale_m
    return weight.force_n * np.array([1.0, x, y])
