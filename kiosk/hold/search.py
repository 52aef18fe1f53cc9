"""The search for the load cases that need most vacuum.

All cases are bounded at once; only (case, motion cell) pairs that can still be among the leaders
are split further, until none can be above its group's answer by more than ``TOLERANCE``.  A
motion's own pressure is a lower bound (upper-bound theorem of plasticity); the tangent of the
friction power at a cell's middle bounds the whole cell from above.  Theory: docs/holding-model.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.leaders import Leaders
from kiosk.hold.loads import Loads
from kiosk.hold.motions import centres, first_cells, split
from kiosk.hold.rows import Rows, paired_pressures, pressures, worst
from kiosk.hold.seals import Seals, friction_rows, rim_rows, ring_speeds, tangent_speeds

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FINE_RIM = 256
_COARSE_RIM = 16
_COARSE_LEVEL, _DEEPEST = 1, 14
_FIRST_LEVELS = 4  # of the likely leaders, so that most of the others need no split
_CASES_AT_ONCE, _PAIRS_AT_ONCE = 2000, 4000


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """Loads on seals, and who leads so far."""

    seals: Seals
    loads: Loads
    leaders: Leaders

    def run(self) -> tuple[tuple[FloatArray, FloatArray, FloatArray], bool]:
        """Find the leaders: bounds (lift, slip low, slip high), (L,) each, and whether proved."""
        lift = self._lift()
        if self.seals.friction <= 0.0:
            none = np.zeros(len(self.loads))
            return (lift, none, none), True
        cells = first_cells(_COARSE_LEVEL)
        low, high = self._slip_bounds(cells)
        self._split(self.leaders.foremost(low), cells, _FIRST_LEVELS)
        every = np.arange(len(self.loads))
        exact = self._split(np.flatnonzero(high > self.leaders.limits(every)), cells, _DEEPEST)
        return (lift, np.maximum(low, 0.0), np.maximum(high, 0.0)), exact

    def _lift(self) -> FloatArray:
        """Upper bound of each case's lift, exact to the fine rim where it can lead."""
        every = np.arange(len(self.loads))
        inner, fine = self._rim(_COARSE_RIM, False), self._rim(FINE_RIM, True)
        low, row = worst(self.loads, inner, self.seals.suction)
        self.leaders.offer(every, low, "lift", inner, row)
        high, _ = worst(self.loads, self._rim(_COARSE_RIM, True), self.seals.suction)
        for near in (
            self.leaders.foremost(low),
            np.flatnonzero(high > self.leaders.limits(every)),
        ):
            high[near], row = worst(self.loads.take(near), fine, self.seals.suction)
            self.leaders.offer(near, high[near], "lift", fine, row)
        return np.maximum(high, 0.0)

    def _rim(self, corners: int, outside: bool) -> Rows:
        cost = rim_rows(self.seals, corners, outside)
        return Rows(np.zeros_like(cost), cost)

    def _slip_bounds(self, cells: FloatArray) -> tuple[FloatArray, FloatArray]:
        middle, corner = self._middle_rows(cells), self._corner_rows(cells)
        low, row = worst(self.loads, middle, self.seals.suction)
        self.leaders.offer(np.arange(len(self.loads)), low, "slip", middle, row)
        high, _ = worst(self.loads, _flat(corner), self.seals.suction)
        return low, high

    def _middle_rows(self, cells: FloatArray) -> Rows:
        middle = centres(cells)
        return Rows(middle, friction_rows(self.seals, ring_speeds(self.seals, middle)))

    def _corner_rows(self, cells: FloatArray) -> Rows:
        """Bounding rows of each cell, (C, 3, 3): its corners at the friction power's tangent."""
        speeds = tangent_speeds(self.seals, centres(cells), cells)
        return Rows(cells, friction_rows(self.seals, speeds))

    def _split(self, cases: IntArray, cells: FloatArray, levels: int) -> bool:
        """Split cells until no (case, cell) pair can lead any more; False when it ran too deep."""
        case, cell = self._open_pairs(cases, cells)
        for _ in range(levels):
            if case.size == 0:
                return True
            used, place = np.unique(cell, return_inverse=True)
            cells = split(cells[used])
            cell = (4 * place[:, None] + np.arange(4)).ravel()
            case = np.repeat(case, 4)
            case, cell = self._prune(case, cell, cells)
        return bool(case.size == 0)

    def _open_pairs(self, cases: IntArray, cells: FloatArray) -> tuple[IntArray, IntArray]:
        rows = _flat(self._corner_rows(cells))
        limit = self.leaders.limits(cases)
        none = np.empty(0, dtype=np.int64)
        found: list[tuple[IntArray, IntArray]] = [(none, none)]
        for start in range(0, cases.size, _CASES_AT_ONCE):
            part = slice(start, start + _CASES_AT_ONCE)
            table = pressures(self.loads.take(cases[part]), rows, self.seals.suction)
            most = table.reshape(len(table), -1, 3).max(axis=2)
            row, cell = np.nonzero(most > limit[part, None])
            found.append((cases[part][row], cell))
        return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])

    def _prune(
        self, case: IntArray, cell: IntArray, cells: FloatArray
    ) -> tuple[IntArray, IntArray]:
        """Raise the leaders by the middles of the pairs' cells, keep the pairs that can exceed."""
        middle, corner = self._middle_rows(cells), self._corner_rows(cells)
        kept: list[IntArray] = []
        for start in range(0, case.size, _PAIRS_AT_ONCE):
            part = slice(start, start + _PAIRS_AT_ONCE)
            some, where = self.loads.take(case[part]), cell[part]
            rows = Rows(middle.motion[where, None], middle.cost[where, None])
            low = paired_pressures(some, rows, self.seals.suction)[:, 0]
            self.leaders.offer(case[part], low, "slip", middle, where)
            rows = Rows(corner.motion[where], corner.cost[where])
            high = paired_pressures(some, rows, self.seals.suction).max(axis=1)
            kept.append(start + np.flatnonzero(high > self.leaders.limits(case[part])))
        keep = np.concatenate(kept)
        return case[keep], cell[keep]


def _flat(rows: Rows) -> Rows:
    return Rows(rows.motion.reshape(-1, 3), rows.cost.reshape(-1, 3))
