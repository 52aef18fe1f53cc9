"""Which weight of a part is the worse one for its hold: the most it has, or the least."""

from __future__ import annotations

import numpy as np

from kiosk.hold.minimum import Cups, Weight
from kiosk.hold.seals import rim_rows, seals_of

_RIM = 64  # corners round each ring
_ROUNDING = 1e-9


def weights_that_count(cups: Cups, most: Weight, least: Weight) -> tuple[Weight, ...]:
    """The weights that a minimum must be worked out with, one or both; the greater minimum counts.

    The minimum is the greatest of functions that are linear in the weight: over all shares of what
    comes off, it is greatest with all of it or with none.  Where that presses on every ring all
    round it only helps, and ``least`` alone counts; off the cups it may tip the part.
    """
    if np.size(cups.x_m) == 0:
        return (least,)
    seals = seals_of(cups)
    (x, y), scale = seals.origin_m, seals.scale_m
    off = most.force_n - least.force_n
    turn_x = most.force_n * (most.x_m - x) - least.force_n * (least.x_m - x)
    turn_y = most.force_n * (most.y_m - y) - least.force_n * (least.y_m - y)
    presses = rim_rows(seals, _RIM, True) @ np.array([off, turn_x / scale, turn_y / scale])
    helps = bool((presses >= -_ROUNDING * max(most.force_n, 1.0)).all())
    return (least,) if helps else (least, most)
