"""Air at the simulated table: how fast it comes in through holes and boards, and goes out.

Dry air as an ideal gas at 20 C.  Flows are kg/s, pressures Pa absolute.  Orifice: isentropic flow
with a discharge coefficient, choked below the critical ratio (White, Fluid Mechanics, chapter 9,
from memory).  Board: Darcy's law for an ideal gas, isothermal, one-dimensional.
"""

from __future__ import annotations

import itertools
import math

GAS_J_KG_K = 287.05
TEMPERATURE_K = 293.15
GAMMA = 1.4
VISCOSITY_PA_S = 1.82e-5
DISCHARGE = 0.8  # drilled hole or short tube; common practice, no source
CRITICAL_RATIO = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
_RT = GAS_J_KG_K * TEMPERATURE_K


def density_kg_m3(pressure_pa: float) -> float:
    """Density of air at 20 C."""
    return pressure_pa / _RT


def bore_area_m2(bore_mm: float) -> float:
    """Area of a round hole."""
    return math.pi / 4.0 * (bore_mm / 1000.0) ** 2


def through_hole_kg_s(area_m2: float, outside_pa: float, inside_pa: float) -> float:
    """Inflow through a hole; zero when the inside is not lower than the outside."""
    if inside_pa >= outside_pa or area_m2 <= 0.0:
        return 0.0
    ratio = max(inside_pa / outside_pa, CRITICAL_RATIO)
    head = ratio ** (2.0 / GAMMA) - ratio ** ((GAMMA + 1.0) / GAMMA)
    speed = math.sqrt(2.0 * GAMMA / ((GAMMA - 1.0) * _RT) * head)
    return DISCHARGE * area_m2 * outside_pa * speed


def through_board_kg_s(
    area_m2: float, thickness_m: float, permeability_m2: float, outside_pa: float, inside_pa: float
) -> float:
    """Inflow through a porous board below one cup."""
    if inside_pa >= outside_pa or permeability_m2 <= 0.0:
        return 0.0
    squares = outside_pa**2 - inside_pa**2
    free_m3_s = (
        permeability_m2 * area_m2 * squares / (2.0 * VISCOSITY_PA_S * thickness_m * outside_pa)
    )
    return density_kg_m3(outside_pa) * free_m3_s


def pumped_m3_h(curve: tuple[tuple[float, float], ...], vacuum_kpa: float) -> float:
    """Free air that a pump takes at a vacuum, m3/h: straight lines between the rows of its curve.

    curve  rows (vacuum kPa, free air m3/h), rising vacuum; beyond the last row nothing is taken
    """
    if vacuum_kpa <= curve[0][0]:
        return curve[0][1]
    for (low_kpa, low_m3_h), (high_kpa, high_m3_h) in itertools.pairwise(curve):
        if vacuum_kpa <= high_kpa:
            share = (vacuum_kpa - low_kpa) / (high_kpa - low_kpa)
            return low_m3_h + share * (high_m3_h - low_m3_h)
    return 0.0
