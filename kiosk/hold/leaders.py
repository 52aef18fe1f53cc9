"""The groups of load cases that need most so far: a lower bound of each, with what gave it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.loads import Loads
from kiosk.hold.rows import Rows

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE = 2e-4  # of the answer; the answer is given at the upper end
LEAST_GAP_PA = 0.2
_SAME = 1e-9  # of a pressure: nearer ones are equal


@dataclass(frozen=True, slots=True)
class Leader:
    """The worst case of a group: its index, its lower bound in Pa, its mode, and the motion and
    its cost, both (3,), that gave the bound.
    """

    case: int
    pressure: float
    mode: str
    motion: FloatArray
    cost: FloatArray

    def direction(self, loads: Loads) -> tuple[float, float] | None:
        """Its lateral direction: given, or the worst for its motion; None when it has none."""
        load = loads.take(np.array([self.case]))
        if load.any[0] <= 0.0:
            push_x, push_y = float(load.fx[0]), float(load.fy[0])
        else:
            vx, vy, spin = self.motion
            ux, uy = vx - spin * load.y[0], vy + spin * load.x[0]
            gx, gy = load.z[0] * self.cost[1], load.z[0] * self.cost[2]
            sense = -1.0 if ux * gx + uy * gy > 0.0 else 1.0
            push_x, push_y = sense * ux - gx, sense * uy - gy
        size = math.hypot(push_x, push_y)
        return None if size == 0.0 else (float(push_x / size), float(push_y / size))


class Leaders:
    """The greatest lower bound of every group found so far; only the first ``most`` matter.

    ``group`` (L,) is what group each case is of, any whole numbers; None: each case its own.
    """

    def __init__(self, group: IntArray | None, count: int, most: int) -> None:
        self.group: IntArray = np.arange(count)
        if group is not None:
            self.group = np.unique(np.asarray(group), return_inverse=True)[1]
        size = int(self.group.max(initial=-1)) + 1
        self._most = min(most, size)
        self._pressure, self._slips = np.zeros(size), np.zeros(size, dtype=bool)
        self._case = np.full(size, -1)
        self._motion, self._cost = np.zeros((size, 3)), np.zeros((size, 3))

    def offer(
        self, case: IntArray, pressure: FloatArray, mode: str, rows: Rows, row: IntArray
    ) -> None:
        """Take lower bounds (k,) of cases in rows where they are greater than their group's.

        Equal ones leave the first, so that lift comes before the sliding of a part that presses
        nowhere any more.
        """
        better = np.flatnonzero(pressure > self._pressure[self.group[case]] * (1.0 + _SAME))
        group = self.group[case[better]]
        order = np.lexsort(
            (-pressure[better], group)
        )  # the greatest of each group, the first of it
        first = order[np.flatnonzero(np.diff(group[order], prepend=-1))]
        better, group = better[first], group[first]
        self._pressure[group], self._case[group] = pressure[better], case[better]
        self._slips[group] = mode == "slip"
        self._motion[group], self._cost[group] = rows.motion[row[better]], rows.cost[row[better]]

    def limits(self, case: IntArray) -> FloatArray:
        """Above this, (k,), a bound of these cases still matters."""
        least = self._pressure[self._first()].min(initial=math.inf)
        level = np.maximum(self._pressure[self.group[case]], least)
        return np.asarray(np.maximum(level * (1.0 + TOLERANCE), level + LEAST_GAP_PA))

    def foremost(self, pressure: FloatArray) -> IntArray:
        """One case of each group that comes first by bounds (L,) of all cases, ``most`` groups."""
        order = np.argsort(-pressure, kind="stable")[: 64 * self._most]
        first = np.unique(self.group[order], return_index=True)[1]
        return order[np.sort(first)][: self._most]

    def told(self) -> tuple[Leader, ...]:
        """The first groups, greatest first."""
        first = self._first()
        first = first[self._case[first] >= 0]
        rough = np.round(self._pressure[first] / self._pressure[first].max(initial=1e-300), 9)
        order = np.lexsort((self._case[first], self._slips[first], -rough))
        return tuple(
            Leader(
                int(self._case[one]),
                float(self._pressure[one]),
                "slip" if self._slips[one] else "lift",
                self._motion[one],
                self._cost[one],
            )
            for one in first[order].tolist()
        )

    def _first(self) -> IntArray:
        size = self._pressure.size
        if self._most >= size:
            return np.arange(size)
        return np.argpartition(self._pressure, size - self._most)[size - self._most :]
