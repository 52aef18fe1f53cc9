"""What each load case needs on its own: quick, a little too low, for shading a path.

The minimum of a job is never taken from here.  A motion's own pressure is a lower bound; the
greatest over the middles of 1024 cells of motions is 5 % too low at most (tested), mostly 1 %.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.loads import Cases, Weight, checked, loads_about
from kiosk.hold.motions import centres, first_cells
from kiosk.hold.rows import Rows, worst
from kiosk.hold.seals import Cups, friction_rows, rim_rows, ring_speeds, seals_of

FloatArray = NDArray[np.float64]
_FINE_LEVEL, _COARSE_LEVEL = 4, 1
_RIM = 64


def least_of_each(
    cups: Cups, cases: Cases, weight: Weight, uncut: Weight | None = None, fine: bool = True
) -> FloatArray:
    """Pa for every case, (L,): the least vacuum that holds it, from below; inf where none does.

    ``weight``, ``uncut``: as for ``job_minimum``.  ``fine`` False: coarse, only good for choosing
    the worst of a few like cases.  ValueError in words when arrays do not fit together; no cups or
    no friction gives inf.
    """
    cases = checked(cases)
    if np.size(cups.x_m) == 0 or cups.friction <= 0.0:
        return np.full(len(cases), np.inf)
    seals = seals_of(cups)
    loads = loads_about(cases, weight, uncut, seals.origin_m, seals.scale_m)
    rim = rim_rows(seals, _RIM, True)
    lift, _ = worst(loads, Rows(np.zeros_like(rim), rim), seals.suction)
    middle = centres(first_cells(_FINE_LEVEL if fine else _COARSE_LEVEL))
    rows = Rows(middle, friction_rows(seals, ring_speeds(seals, middle)))
    slip, _ = worst(loads, rows, seals.suction)
    return np.asarray(np.maximum(np.maximum(lift, slip), 0.0))
