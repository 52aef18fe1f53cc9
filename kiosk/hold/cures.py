"""Which spare cups would bring bending within its limit.  Knows seats only as places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.flex import Deflection, Sheet, Supports, largest_deflection

FloatArray = NDArray[np.float64]
MOST_ADDED = 4


def cups_that_cure(
    sheet: Sheet, supports: Supports, spare: Supports, loads: FloatArray, limit_m: float
) -> tuple[int, ...] | None:
    """Indices of ``spare`` cups to raise, the nearest to the worst place first; None: no cure.

    ``loads`` (P, 3) are x, y, force.  At most four are added; an empty tuple means that none is
    needed.  Near the best choice, not proved to be it.
    """
    added: list[int] = []
    for _ in range(MOST_ADDED + 1):
        found = largest_deflection(
            sheet, _joined(supports, spare, added), loads[:, :2], loads[:, 2]
        )
        if found is None:
            return None
        if found.deflection_m <= limit_m:
            return tuple(added)
        free = [i for i in range(np.size(spare.x_m)) if i not in added]
        if not free or len(added) == MOST_ADDED:
            return None
        added.append(min(free, key=lambda i: _apart(spare, i, found)))
    return None


def _joined(supports: Supports, spare: Supports, added: list[int]) -> Supports:
    return replace(
        supports,
        x_m=np.append(supports.x_m, spare.x_m[added]),
        y_m=np.append(supports.y_m, spare.y_m[added]),
        radius_m=np.append(supports.radius_m, spare.radius_m[added]),
    )


def _apart(spare: Supports, index: int, found: Deflection) -> float:
    return float(np.hypot(spare.x_m[index] - found.x_m, spare.y_m[index] - found.y_m))
