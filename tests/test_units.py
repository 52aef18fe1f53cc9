"""Unit conversions and the air pressure against published tables."""

from __future__ import annotations

import pytest
import scipy.constants
from fluids import ATMOSPHERE_1976

from kiosk.units import KPA_PER, air_pressure_kpa, from_kpa, to_kpa, whole_percent

# ISO 2533:1975 standard atmosphere, geopotential altitude in m and pressure in Pa, as printed.
ISO_2533 = [
    (0.0, 101325.0),
    (500.0, 95460.8),
    (1000.0, 89874.6),
    (1500.0, 84556.0),
    (2000.0, 79495.2),
    (3000.0, 70108.5),
]

# NIST SP 811 (2008), appendix B.8, factors to Pa with the digits that are printed there.
SP_811 = [
    ("bar", 1.0e5, 1e-12),
    ("mbar", 1.0e2, 1e-12),
    ("Torr", 1.333224e2, 1e-6),
    ("mmHg", 1.333224e2, 1e-6),
    ("inHg", 3.386389e3, 1e-6),
    ("psi", 6.894757e3, 1e-6),
]


@pytest.mark.parametrize(("altitude_m", "pressure_pa"), ISO_2533)
def test_air_pressure_is_that_of_iso_2533(altitude_m: float, pressure_pa: float) -> None:
    assert air_pressure_kpa(altitude_m) * 1e3 == pytest.approx(pressure_pa, abs=0.5)


@pytest.mark.parametrize("altitude_m", [-400.0, 120.0, 1460.0, 4999.0])
def test_air_pressure_agrees_with_the_1976_atmosphere_of_another_library(altitude_m: float) -> None:
    """fluids takes geometric altitude; H = r Z / (r + Z), r = 6,356,766 m (US Std Atm 1976)."""
    radius_m = 6_356_766.0
    geometric_m = radius_m * altitude_m / (radius_m - altitude_m)
    other = ATMOSPHERE_1976(geometric_m).P
    assert air_pressure_kpa(altitude_m) * 1e3 == pytest.approx(other, rel=2e-6)


@pytest.mark.parametrize(("unit", "pascal", "relative"), SP_811)
def test_factors_are_those_of_sp_811(unit: str, pascal: float, relative: float) -> None:
    assert to_kpa(1.0, unit) * 1e3 == pytest.approx(pascal, rel=relative)


@pytest.mark.parametrize(
    ("unit", "pascal"),
    [("psi", scipy.constants.psi), ("Torr", scipy.constants.torr), ("bar", scipy.constants.bar),
     ("mmHg", scipy.constants.mmHg)],
)  # fmt: skip
def test_factors_agree_with_scipy(unit: str, pascal: float) -> None:
    assert to_kpa(1.0, unit) * 1e3 == pytest.approx(pascal, rel=2e-7)


@pytest.mark.parametrize(
    ("inches", "kpa"),
    # 25.4 mm x 13.5951 x 9.80665 Pa an inch, worked by hand
    [(15.0, 50.7958), (18.0, 60.9550), (20.0, 67.7278), (25.0, 84.6597), (27.0, 91.4325)],
)
def test_inches_of_mercury_on_a_gauge(inches: float, kpa: float) -> None:
    assert to_kpa(inches, "inHg") == pytest.approx(kpa, abs=6e-5)


@pytest.mark.parametrize("unit", sorted(KPA_PER))
def test_there_and_back_is_the_same(unit: str) -> None:
    assert from_kpa(to_kpa(12.5, unit), unit) == pytest.approx(12.5, rel=1e-14)


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(KeyError):
        to_kpa(1.0, "furlong")


@pytest.mark.parametrize(
    ("share", "percent"),
    [(0.9999, 99), (1.0, 100), (0.29, 29), (1.15, 115), (1.1499, 114), (-0.03, 0), (2.47, 247)],
)
def test_a_share_is_never_told_as_more_than_it_is(share: float, percent: int) -> None:
    """0.29 and 1.15 have no exact binary form: times 100 they come out below 29 and 115."""
    assert whole_percent(share) == percent
