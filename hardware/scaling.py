"""From the number a gauge sends to vacuum in kPa below local air, or to a fault."""

from __future__ import annotations

import math

from kiosk.interlock.reading import Fault, Reading, Sample, Why
from kiosk.site import Layout
from kiosk.units import to_kpa


def vacuum_of(value: float, layout: Layout, air_kpa: float | None) -> float:
    """A pressure in ``layout.unit`` as vacuum in kPa; larger is stronger.

    air_kpa  local air pressure, needed when ``layout.reference`` is "absolute"

    Raises ValueError when it is needed and missing.
    """
    pressure_kpa = to_kpa(value, layout.unit)
    if layout.reference == "vacuum":
        return pressure_kpa
    if layout.reference == "gauge":
        return -pressure_kpa
    if air_kpa is None:
        raise ValueError("an absolute gauge needs the local air pressure")
    return air_kpa - pressure_kpa


def sample_of(
    raw: float, value: float, layout: Layout, air_kpa: float | None, taken_s: float
) -> Sample:
    """A sample of ``value`` in ``layout.unit``: a fault when it is no number or out of range."""
    if not math.isfinite(raw) or not math.isfinite(value):
        return Fault(Why.BROKEN, f"the gauge sent {raw}", taken_s)
    vacuum_kpa = vacuum_of(value, layout, air_kpa)
    low, high = layout.valid_kpa
    if not low <= vacuum_kpa <= high:
        detail = f"{vacuum_kpa:.1f} kPa is outside {low:g} to {high:g} kPa"
        return Fault(Why.OUT_OF_RANGE, detail, taken_s)
    return Reading(vacuum_kpa, raw, taken_s)
