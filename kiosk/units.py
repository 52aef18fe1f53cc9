"""The only conversions of units in the program, and the air pressure at an altitude.

Files, screens and the log carry kPa below local atmosphere, mm and N; other units come in and
go out here.  Factors: NIST SP 811 (2008), appendix B.8.  Atmosphere: ISO 2533:1975.
"""

from __future__ import annotations

import math

GRAVITY_M_S2 = 9.80665  # standard acceleration of free fall, NIST SP 811 B.8
MM_PER_INCH = 25.4  # exact, NIST SP 811 B.8
STANDARD_AIR_KPA = 101.325  # ISO 2533 sea level

KPA_PER: dict[str, float] = {
    "kPa": 1.0,
    "Pa": 0.001,
    "hPa": 0.1,
    "mbar": 0.1,
    "bar": 100.0,
    "MPa": 1000.0,
    "inHg": 3.386388640341,  # conventional inch of mercury, 25.4 x 13.5951 x 9.80665 Pa
    "mmHg": 0.133322387415,  # conventional millimetre of mercury
    "Torr": 101.325 / 760.0,
    "psi": 6.894757293168,
}
_TINY = 1e-6  # per cent: exactly 61 stays 61 whatever the last bit says


def to_kpa(value: float, unit: str) -> float:
    """A pressure in ``unit`` as kPa; KeyError when the unit is not in ``KPA_PER``."""
    return value * KPA_PER[unit]


def from_kpa(value_kpa: float, unit: str) -> float:
    """A pressure in kPa as ``unit``; KeyError when the unit is not in ``KPA_PER``."""
    return value_kpa / KPA_PER[unit]


def whole_percent(share: float) -> int:
    """A ratio or share in whole per cent: rounded down, so that 0.999 of what is needed is never
    told as all of it, and never below 0.
    """
    return max(0, math.floor(share * 100.0 + _TINY))


def air_pressure_kpa(altitude_m: float) -> float:
    """Mean air pressure in kPa at a geopotential altitude in m, -500 to 11,000.

    Source: ISO 2533:1975, troposphere: p0 (1 - L H / T0)^(g / (R L)) with T0 = 288.15 K,
    L = 6.5 K/km, R = 287.05287 J/(kg K).  Weather moves it by about 3 kPa either way.
    """
    lapse, temperature, gas = 0.0065, 288.15, 287.05287
    share = 1.0 - lapse * altitude_m / temperature
    return float(STANDARD_AIR_KPA * share ** (GRAVITY_M_S2 / (gas * lapse)))
