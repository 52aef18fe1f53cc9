"""The least vacuum that holds a piece against every load case, and what governs it.

How it is found: ``kiosk.hold.search``.  Theory: docs/holding-model.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.leaders import TOLERANCE, Leaders
from kiosk.hold.loads import Cases, Loads, Weight, checked, loads_about
from kiosk.hold.seals import Cups, Seals, rim_rows, seals_of
from kiosk.hold.search import FINE_RIM, Search

__all__ = ["Cases", "Cups", "Minimum", "Runner", "Weight", "job_minimum"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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


def job_minimum(
    cups: Cups,
    cases: Cases,
    weight: Weight,
    runners: int = RUNNERS,
    uncut: Weight | None = None,
) -> Minimum:
    """Least vacuum at which every case is held by the cups, to ``TOLERANCE``.

    ``weight`` is the least that the piece weighs, ``uncut`` the most; each case is taken with the
    one that is worse for it.  What a case needs is the greatest of functions that are linear in the
    weight, so no share of what comes off between them is worse than both: off the cups a weight
    may tip the piece, over them it presses.

    ValueError in words when arrays do not fit together.  No pressure: ``pressure_pa`` is None
    and ``why`` says what is missing.  ``runners``: how many runners-up to work out.
    """
    cases = checked(cases)
    if np.size(cups.x_m) == 0:
        return _impossible(len(cases), "no_cups")
    seals = seals_of(cups)
    loads = loads_about(cases, weight, uncut, seals.origin_m, seals.scale_m)
    if why := _obstacle(seals, loads):
        return _impossible(len(cases), why)
    if len(loads) == 0:
        none = np.zeros(0)
        return Minimum(0.0, None, None, None, none, none, none, (), True)
    return _search(seals, loads, cases.group, runners)


def _obstacle(seals: Seals, loads: Loads) -> str:
    lateral = (loads.any != 0.0) | (loads.fx != 0.0) | (loads.fy != 0.0) | (loads.torque != 0.0)
    if seals.friction <= 0.0 and lateral.any():
        return "no_friction"
    if (rim_rows(seals, FINE_RIM, True) @ seals.suction <= 0.0).any():
        return "suction_opens_a_seal"  # far apart sizes: suction itself tips the piece
    return ""


def _impossible(count: int, why: str) -> Minimum:
    endless = np.full(count, math.inf)
    return Minimum(None, None, None, None, endless, endless, endless, (), True, why)


def _search(seals: Seals, loads: Loads, group: IntArray | None, most: int) -> Minimum:
    leaders = Leaders(group, len(loads), 1 + most)
    bounds, exact = Search(seals, loads, leaders).run()
    told = tuple(
        Runner(row.case, row.pressure * (1.0 + TOLERANCE), row.mode, row.direction(loads))
        for row in leaders.told()
    )
    if not told:
        return Minimum(0.0, None, None, None, *bounds, (), exact)
    first = told[0]
    return Minimum(
        first.pressure_pa, first.case, first.mode, first.direction, *bounds, told[1:], exact
    )
