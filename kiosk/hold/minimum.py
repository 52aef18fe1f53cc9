"""The least vacuum that holds a piece against every load case, and what governs it.

All cases are bounded at once; only (case, motion cell) pairs that can still govern are split
further, until nothing can be above the answer by more than ``TOLERANCE``.  A motion's own
pressure is a lower bound (upper-bound theorem of plasticity); the tangent of the friction power
at a cell's middle bounds the whole cell from above.  Theory: docs/holding-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.loads import Cases, Loads, Weight, checked, loads_about
from kiosk.hold.motions import centres, first_cells, split
from kiosk.hold.rows import Rows, paired_pressures, pressures, worst
from kiosk.hold.seals import (
    Cups,
    Seals,
    friction_rows,
    rim_rows,
    ring_speeds,
    seals_of,
    tangent_speeds,
)

__all__ = ["Cases", "Cups", "Minimum", "Runner", "Weight", "job_minimum"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE = 2e-4  # of the answer; the answer is given at the upper end
LEAST_GAP_PA = 0.2
_COARSE_LEVEL, _DEEPEST = 1, 14
_COARSE_RIM, _FINE_RIM = 16, 256
RUNNERS = 4


@dataclass(frozen=True, slots=True)
class Runner:
    """The worst case of a group that comes near the governing one: its index, its own minimum in
    Pa, its mode.

    ``direction`` as in ``Minimum``.
    """

    case: int
    pressure_pa: float
    mode: str
    direction: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Minimum:
    """The job's minimum before any floor.  ``pressure_pa`` None: no pressure holds, see ``why``.

    ``why``: "no_cups", "no_friction", "suction_opens_a_seal" or "".  ``direction`` is the unit
    vector of the governing lateral force (None when it has none); ``lift_pa`` (L,) is the least p
    that keeps every seal shut, a close upper bound; ``slip_low_pa``, ``slip_high_pa`` (L,) bound
    the least p against slip.  ``exact``: proved to ``TOLERANCE``.
    """

    pressure_pa: float | None
    case: int | None
    mode: str | None
    direction: tuple[float, float] | None
    lift_pa: FloatArray
    slip_low_pa: FloatArray
    slip_high_pa: FloatArray
    runners_up: tuple[Runner, ...]
    exact: bool
    why: str = ""


@dataclass(slots=True)
class _Best:
    """The greatest lower bound found so far, with what gave it."""

    pressure: float = 0.0
    case: int | None = None
    mode: str | None = None
    motion: FloatArray = field(default_factory=lambda: np.zeros(3))
    cost: FloatArray = field(default_factory=lambda: np.zeros(3))

    @property
    def limit(self) -> float:
        """Above this a bound still matters."""
        return max(self.pressure * (1.0 + TOLERANCE), self.pressure + LEAST_GAP_PA)

    def offer(self, pressure: float, case: int, mode: str, rows: Rows, row: int) -> None:
        """Take a lower bound when it is greater; equal ones leave the first, so that lift comes
        before the sliding of a part that presses nowhere any more.
        """
        if pressure > self.pressure * (1.0 + 1e-9):
            self.pressure, self.case, self.mode = pressure, case, mode
            self.motion, self.cost = rows.motion[row], rows.cost[row]


def job_minimum(cups: Cups, cases: Cases, weight: Weight, runners: int = RUNNERS) -> Minimum:
    """Least vacuum at which every case is held by the cups, to ``TOLERANCE``.

    ValueError in words when arrays do not fit together.  No pressure: ``pressure_pa`` is None
    and ``why`` says what is missing.  ``runners``: how many runners-up to work out.
    """
    cases = checked(cases)
    if np.size(cups.x_m) == 0:
        return _impossible(len(cases), "no_cups")
    seals = seals_of(cups)
    loads = loads_about(cases, weight, seals.origin_m, seals.scale_m)
    if why := _obstacle(seals, loads):
        return _impossible(len(cases), why)
    if len(loads) == 0:
        return _settled(_Best(), loads, np.zeros((3, 0)), (), True)
    return _search(seals, loads, cases.group, runners)


def _obstacle(seals: Seals, loads: Loads) -> str:
    lateral = (loads.any != 0.0) | (loads.fx != 0.0) | (loads.fy != 0.0) | (loads.torque != 0.0)
    if seals.friction <= 0.0 and lateral.any():
        return "no_friction"
    if (rim_rows(seals, _FINE_RIM, True) @ seals.suction <= 0.0).any():
        return "suction_opens_a_seal"  # far apart sizes: suction itself tips the piece
    return ""


def _impossible(count: int, why: str) -> Minimum:
    endless = np.full(count, math.inf)
    return Minimum(None, None, None, None, endless, endless, endless, (), True, why)


def _search(seals: Seals, loads: Loads, group: IntArray | None, most: int) -> Minimum:
    best, bounds, exact = _solve(seals, loads)
    runners: tuple[Runner, ...] = ()
    if best.case is not None and most:
        group = np.arange(len(loads)) if group is None else np.asarray(group)
        others = np.flatnonzero(group != group[best.case])
        runners = _runners_up(seals, loads, group, others[_near(group, others, bounds, most)], most)
    return _settled(best, loads, bounds, runners, exact)


def _solve(seals: Seals, loads: Loads) -> tuple[_Best, FloatArray, bool]:
    """The governing lower bound, the bounds (lift, slip low, slip high) (3, L), and the proof."""
    best = _Best()
    lift = _lift(seals, loads, best)
    if seals.friction <= 0.0:
        none = np.zeros(len(loads))
        return best, np.stack([lift, none, none]), True
    cells = first_cells(_COARSE_LEVEL)
    low, high = _slip_bounds(seals, loads, cells, best)
    top = np.argsort(-low)[: min(4, low.size)]
    _split_until_proved(seals, loads, top, cells, best)
    open_cases = np.flatnonzero(high > best.limit)
    exact = _split_until_proved(seals, loads, open_cases, cells, best)
    return best, np.stack([lift, np.maximum(low, 0.0), np.maximum(high, 0.0)]), exact


def _rim(seals: Seals, corners: int, outside: bool) -> Rows:
    cost = rim_rows(seals, corners, outside)
    return Rows(np.zeros_like(cost), cost)


def _lift(seals: Seals, loads: Loads, best: _Best) -> FloatArray:
    """Upper bound of each case's lift pressure, exact to the fine rim where it can govern."""
    inner = _rim(seals, _COARSE_RIM, False)
    low, row = worst(loads, inner, seals.suction)
    case = int(low.argmax())
    best.offer(float(low[case]), case, "lift", inner, int(row[case]))
    high, _ = worst(loads, _rim(seals, _COARSE_RIM, True), seals.suction)
    near = np.flatnonzero(high > best.limit)
    if near.size:
        fine = _rim(seals, _FINE_RIM, True)
        high[near], row = worst(loads.take(near), fine, seals.suction)
        case = int(high[near].argmax())
        best.offer(float(high[near][case]), int(near[case]), "lift", fine, int(row[case]))
    return np.maximum(high, 0.0)


def _middle_rows(seals: Seals, cells: FloatArray) -> Rows:
    middle = centres(cells)
    return Rows(middle, friction_rows(seals, ring_speeds(seals, middle)))


def _corner_rows(seals: Seals, cells: FloatArray) -> Rows:
    """Bounding rows of each cell, (C, 3, 3): its corners at the friction power's tangent."""
    return Rows(cells, friction_rows(seals, tangent_speeds(seals, centres(cells), cells)))


def _slip_bounds(
    seals: Seals, loads: Loads, cells: FloatArray, best: _Best
) -> tuple[FloatArray, FloatArray]:
    middle, corner = _middle_rows(seals, cells), _corner_rows(seals, cells)
    low, row = worst(loads, middle, seals.suction)
    case = int(low.argmax())
    best.offer(float(low[case]), case, "slip", middle, int(row[case]))
    flat = Rows(corner.motion.reshape(-1, 3), corner.cost.reshape(-1, 3))
    high, _ = worst(loads, flat, seals.suction)
    return low, high


def _split_until_proved(
    seals: Seals, loads: Loads, cases: IntArray, cells: FloatArray, best: _Best
) -> bool:
    """Split cells until no (case, cell) pair can be above ``best``; False when it ran too deep."""
    case, cell = _open_pairs(seals, loads, cases, cells, best)
    for _ in range(_DEEPEST):
        if case.size == 0:
            return True
        used, place = np.unique(cell, return_inverse=True)
        cells = split(cells[used])
        cell = (4 * place[:, None] + np.arange(4)).ravel()
        case = np.repeat(case, 4)
        case, cell = _prune((seals, loads), case, cell, cells, best)
    return bool(case.size == 0)


def _open_pairs(
    seals: Seals, loads: Loads, cases: IntArray, cells: FloatArray, best: _Best
) -> tuple[IntArray, IntArray]:
    rows = _corner_rows(seals, cells)
    flat = Rows(rows.motion.reshape(-1, 3), rows.cost.reshape(-1, 3))
    found: list[tuple[IntArray, IntArray]] = []
    for start in range(0, cases.size, 2000):
        part = cases[start : start + 2000]
        table = pressures(loads.take(part), flat, seals.suction)
        open_ = table.reshape(part.size, -1, 3).max(axis=2) > best.limit
        row, cell = np.nonzero(open_)
        found.append((part[row], cell))
    if not found:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])


def _prune(
    setup: tuple[Seals, Loads], case: IntArray, cell: IntArray, cells: FloatArray, best: _Best
) -> tuple[IntArray, IntArray]:
    """Raise ``best`` by the middles of the pairs' cells, keep the pairs that can exceed it."""
    seals, loads = setup
    middle, corner = _middle_rows(seals, cells), _corner_rows(seals, cells)
    kept: list[IntArray] = []
    for start in range(0, case.size, 50_000):
        part = slice(start, start + 50_000)
        some, where = loads.take(case[part]), cell[part]
        rows = Rows(middle.motion[where, None], middle.cost[where, None])
        low = paired_pressures(some, rows, seals.suction)[:, 0]
        top = int(low.argmax())
        best.offer(float(low[top]), int(case[part][top]), "slip", middle, int(where[top]))
        rows = Rows(corner.motion[where], corner.cost[where])
        high = paired_pressures(some, rows, seals.suction).max(axis=1)
        kept.append(start + np.flatnonzero(high > best.limit))
    keep = np.concatenate(kept)
    return case[keep], cell[keep]


def _near(group: IntArray, others: IntArray, bounds: FloatArray, most: int) -> NDArray[np.bool_]:
    """Which of the other cases can be among so many groups that come next, by their bounds."""
    names, place = np.unique(group[others], return_inverse=True)
    if names.size <= most:
        return np.ones(others.size, dtype=bool)
    least = np.zeros(names.size)
    np.maximum.at(least, place, bounds[1][others])
    high = np.maximum(bounds[0][others], bounds[2][others])
    return np.asarray(high >= np.partition(least, -most)[-most])


def _runners_up(
    seals: Seals, loads: Loads, group: IntArray, others: IntArray, most: int
) -> tuple[Runner, ...]:
    """The worst of the other cases, then the worst of another group, and so on."""
    runners: list[Runner] = []
    while others.size and len(runners) < most:
        some = loads.take(others)
        found, _, _ = _solve(seals, some)
        if found.mode is None or found.case is None:
            break
        case, level = int(others[found.case]), found.pressure * (1.0 + TOLERANCE)
        direction = _direction(found, some.take(np.array([found.case])))
        runners.append(Runner(case, level, found.mode, direction))
        others = others[group[others] != group[case]]
    return tuple(runners)


def _settled(
    best: _Best, loads: Loads, bounds: FloatArray, runners: tuple[Runner, ...], exact: bool
) -> Minimum:
    pressure = best.pressure * (1.0 + TOLERANCE)
    direction = None if best.case is None else _direction(best, loads.take(np.array([best.case])))
    return Minimum(
        pressure, best.case, best.mode, direction, bounds[0], bounds[1], bounds[2], runners, exact
    )


def _direction(best: _Best, load: Loads) -> tuple[float, float] | None:
    """The governing lateral direction: given, or the worst for the governing motion."""
    if load.any[0] <= 0.0:
        push_x, push_y = float(load.fx[0]), float(load.fy[0])
    else:
        vx, vy, spin = best.motion
        ux, uy = vx - spin * load.y[0], vy + spin * load.x[0]
        gx, gy = load.z[0] * best.cost[1], load.z[0] * best.cost[2]
        sense = -1.0 if ux * gx + uy * gy > 0.0 else 1.0
        push_x, push_y = sense * ux - gx, sense * uy - gy
    size = math.hypot(push_x, push_y)
    return None if size == 0.0 else (float(push_x / size), float(push_y / size))
