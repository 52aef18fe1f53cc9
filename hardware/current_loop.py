"""A 4-20 mA current loop, read by an analogue module: current to pressure, and NE 43.

NAMUR NE 43: 3.8 to 20.5 mA carries a measurement; 3.6 mA or less and 21.0 mA or more says that
the transmitter failed or the wire is broken.  Between the two nothing is defined: out of range.
"""

from __future__ import annotations

import math

from kiosk.interlock.reading import Fault, Why

LOWEST_MA, HIGHEST_MA = 3.8, 20.5
BROKEN_LOW_MA, BROKEN_HIGH_MA = 3.6, 21.0


def loop_fault(current_ma: float, taken_s: float) -> Fault | None:
    """What NE 43 says is wrong with a current, or None when it carries a measurement."""
    if LOWEST_MA <= current_ma <= HIGHEST_MA:
        return None
    if not math.isfinite(current_ma):
        return Fault(Why.BROKEN, f"the module sent {current_ma}", taken_s)
    detail = f"{current_ma:.2f} mA"
    if current_ma <= BROKEN_LOW_MA or current_ma >= BROKEN_HIGH_MA:
        return Fault(Why.BROKEN, f"{detail}: transmitter failed or wire broken", taken_s)
    return Fault(Why.OUT_OF_RANGE, f"{detail} is between measurement and failure", taken_s)


def at_current(current_ma: float, span: tuple[float, float]) -> float:
    """The value at a current: ``span`` is the value at 4 and at 20 mA, linear between."""
    return span[0] + (current_ma - 4.0) / 16.0 * (span[1] - span[0])
