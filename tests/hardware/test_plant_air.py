"""The plant's air against handbook figures, closed forms and the ``fluids`` library.

Figures of White (orifice), Jousten (pump-down) and Darcy's law as worked out independently of this
code; ``fluids`` 1.3 is a general library of fluid mechanics.
"""

from __future__ import annotations

import math

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from hardware.plant.air import (
    CRITICAL_RATIO,
    DISCHARGE,
    GAS_J_KG_K,
    TEMPERATURE_K,
    bore_area_m2,
    density_kg_m3,
    pumped_m3_h,
    through_board_kg_s,
    through_hole_kg_s,
)
from hardware.plant.model import GaugeNumbers, Table, TableGauge, TableNumbers

AIR_PA = 101325.0


def constant_speed(speed_m3_h: float, ultimate_kpa: float = 0.0) -> tuple[tuple[float, float], ...]:
    """A pump of constant speed as a curve: S (1 - pu/p) p / p0 is a straight line in vacuum."""
    at_air = speed_m3_h * (1.0 - ultimate_kpa / 101.325)
    return ((0.0, at_air), (101.325 - ultimate_kpa, 0.0))


def bare(curve: tuple[tuple[float, float], ...], volume_l: float) -> Table:
    table = Table(TableNumbers(volume_l=volume_l, pump_curve=curve, seats_up=0, seats_covered=0))
    table.vacuum_on = True
    return table


def seconds_to(table: Table, pressure_pa: float, step_s: float = 0.01) -> float:
    seconds = 0.0
    while table.pressure_pa > pressure_pa:
        table.step(step_s)
        seconds += step_s
        assert seconds < 100.0
    return seconds


def test_the_critical_ratio_is_that_of_air() -> None:
    """fluids.P_critical_flow: 53528.15 Pa downstream of 101325 Pa."""
    assert fluids.P_critical_flow(AIR_PA, 1.4) == pytest.approx(CRITICAL_RATIO * AIR_PA, rel=1e-9)


@pytest.mark.parametrize(
    ("bore_mm", "inside_kpa", "flow_g_s"),
    [(1, 20, 0.150277), (1, 50, 0.150277), (1, 60, 0.148919), (1, 80, 0.125323),
     (1, 90, 0.097355), (2, 20, 0.601109), (3, 20, 1.352495)],
)  # fmt: skip
def test_a_hole_lets_in_what_the_isentropic_formula_says(
    bore_mm: float, inside_kpa: float, flow_g_s: float
) -> None:
    """Worked figures, discharge coefficient 0.8, 101325 Pa outside, 20 C, gamma 1.4."""
    flow = through_hole_kg_s(bore_area_m2(bore_mm), AIR_PA, inside_kpa * 1000.0)
    assert flow * 1000.0 == pytest.approx(flow_g_s, rel=1e-5)


def test_a_choked_hole_agrees_with_the_critical_flow_of_an_ideal_gas() -> None:
    """Choked: m = Cd A p sqrt(g/(R T)) (2/(g+1))^((g+1)/(2(g-1))) = 0.6847315 Cd A p/sqrt(R T)."""
    area = bore_area_m2(5.0)
    due = 0.6847315 * DISCHARGE * area * AIR_PA / math.sqrt(GAS_J_KG_K * TEMPERATURE_K)
    assert through_hole_kg_s(area, AIR_PA, 1000.0) == pytest.approx(due, rel=1e-6)


@pytest.mark.parametrize(
    ("permeability_m2", "free_l_min"),
    [(2e-13, 14.00732), (3.8e-14, 2.66139), (6.26e-13, 43.84291), (1e-12, 70.03659)],
)
def test_a_board_lets_in_what_darcy_says(permeability_m2: float, free_l_min: float) -> None:
    """18 mm board under a 100 mm cup, 101325 to 20000 Pa; worked figures."""
    flow = through_board_kg_s(bore_area_m2(100.0), 0.018, permeability_m2, AIR_PA, 20000.0)
    assert flow / density_kg_m3(AIR_PA) * 60000.0 == pytest.approx(free_l_min, rel=1e-6)


@pytest.mark.parametrize(
    ("ultimate_kpa", "to_pa", "seconds"),
    [(0.0, 10000.0, 16.67339), (2.0, 10000.0, 18.13648), (0.0, 20000.0, 11.683)],
)
def test_it_draws_down_in_the_time_of_the_closed_form(
    ultimate_kpa: float, to_pa: float, seconds: float
) -> None:
    """t = V/S ln((p1 - pu)/(p2 - pu)): 20 litres at 10 m3/h from 1013.25 mbar."""
    table = bare(constant_speed(10.0, ultimate_kpa), 20.0)
    assert seconds_to(table, to_pa) == pytest.approx(seconds, rel=0.002)


@pytest.mark.parametrize(
    ("bore_mm", "pressure_pa"), [(1, 6552.43), (2, 20209.71), (3, 42971.84), (5, 85901.22)]
)
def test_a_pump_against_a_hole_settles_where_their_flows_are_equal(
    bore_mm: float, pressure_pa: float
) -> None:
    """10 m3/h with 2 kPa ultimate pressure against a hole with Cd 0.8; worked figures."""
    table = bare(constant_speed(10.0, 2.0), 20.0)
    table.set_leak(bore_mm)
    table.step(120.0)
    assert table.pressure_pa == pytest.approx(pressure_pa, rel=1e-4)


def test_the_demo_pump_and_leak_settle_where_an_independent_root_finder_says() -> None:
    """scipy's brentq on the same balance written with fluids.isentropic_work-free terms."""
    curve = ((0.0, 40.0), (60.0, 30.0), (88.0, 0.0))
    table = bare(curve, 10.0)
    table.set_leak(6.0)
    table.step(120.0)
    choked_m3_h = 198.63 * 0.8 * bore_area_m2(6.0) * 3600.0  # free air, 20 C, choked
    due = brentq(lambda kpa: 30.0 - (kpa - 60.0) / 28.0 * 30.0 - choked_m3_h, 60.0, 88.0)
    assert table.vacuum_kpa == pytest.approx(due, rel=1e-3)


def test_pressure_rises_at_an_even_rate_while_the_leak_is_choked() -> None:
    """Rate of rise, EN 13184: a 1 mm hole (Cd 0.8) on 10 litres gives 1264.6 Pa/s."""
    table = bare(constant_speed(10.0), 10.0)
    seconds_to(table, 10000.0)
    table.vacuum_on = False
    table.set_leak(1.0)
    before = table.pressure_pa
    table.step(10.0)
    assert (table.pressure_pa - before) / 10.0 == pytest.approx(1264.6, rel=1e-3)


def test_five_kpa_in_a_minute_on_ten_litres_is_a_quarter_millimetre_hole() -> None:
    """0.833333 Pa m3/s = a sharp hole of 0.25671 mm (Cd 0.8); worked figure."""
    table = bare(constant_speed(10.0), 10.0)
    seconds_to(table, 10000.0)
    table.vacuum_on = False
    table.set_leak(0.25671)
    before = table.pressure_pa
    table.step(60.0)
    assert table.pressure_pa - before == pytest.approx(5000.0, rel=2e-3)


def test_cups_count_in_the_inflow_one_by_one() -> None:
    numbers = TableNumbers(lip_bore_mm=1.0, port_bore_mm=6.0, permeability_m2=2e-13, board_mm=18.0,
                           seal_diameter_mm=100.0, seats_up=5, seats_covered=3)  # fmt: skip
    lip = through_hole_kg_s(bore_area_m2(1.0), AIR_PA, 20000.0)
    port = through_hole_kg_s(bore_area_m2(6.0), AIR_PA, 20000.0)
    board = 14.00732 / 60000.0 * density_kg_m3(AIR_PA)  # Darcy, worked figure above
    inflow = Table(numbers).inflow_kg_s(20000.0)
    assert inflow == pytest.approx(3 * (lip + board) + 2 * port, rel=1e-6)


def test_a_leak_that_opens_over_time_grows_evenly_in_area() -> None:
    table = bare(constant_speed(10.0), 20.0)
    table.set_leak(8.0, over_s=4.0)
    table.step(1.0)
    assert table.leak_area_m2 == pytest.approx(bore_area_m2(8.0) / 4.0, rel=1e-6)
    table.step(5.0)
    assert table.leak_area_m2 == bore_area_m2(8.0)
    table.set_leak(0.0)
    table.step(0.01)
    assert table.leak_area_m2 == 0.0


def test_venting_brings_it_back_to_the_air_and_no_further() -> None:
    table = bare(constant_speed(10.0), 20.0)
    seconds_to(table, 30000.0)
    table.vacuum_on, table.vent_open = False, True
    table.step(10.0)
    assert table.pressure_pa == pytest.approx(AIR_PA, abs=1.0)
    assert table.vacuum_kpa >= 0.0


@given(
    st.floats(0.0, 12.0), st.floats(0.0, 12.0), st.floats(2000.0, 101325.0)
)  # fmt: skip
def test_a_larger_hole_never_lets_in_less(one_mm: float, two_mm: float, inside_pa: float) -> None:
    small, large = sorted((one_mm, two_mm))
    assert through_hole_kg_s(bore_area_m2(small), AIR_PA, inside_pa) <= through_hole_kg_s(
        bore_area_m2(large), AIR_PA, inside_pa
    )


def test_a_pump_curve_is_read_by_straight_lines_and_ends_at_nothing() -> None:
    curve = ((0.0, 40.0), (60.0, 30.0), (88.0, 0.0))
    points = [(-1.0, 40.0), (0.0, 40.0), (30.0, 35.0), (60.0, 30.0), (74.0, 15.0), (88.0, 0.0),
              (95.0, 0.0)]  # fmt: skip
    assert [pumped_m3_h(curve, kpa) for kpa, _ in points] == pytest.approx([m for _, m in points])


def test_the_gauge_follows_with_a_first_order_lag() -> None:
    """Step response of a first-order system: 1 - 1/e after one time constant."""
    gauge = TableGauge(GaugeNumbers(lag_s=0.5, noise_kpa=0.0, offset_kpa=0.25))
    for _ in range(50):
        gauge.step(0.01, 80.0)
    assert gauge.vacuum_kpa == pytest.approx(80.0 * (1.0 - math.exp(-1.0)) + 0.25, rel=1e-9)


def test_the_gauge_has_the_noise_it_is_given() -> None:
    """Sample deviation of 4000 draws lies within 5 % of the true one (chi-square, 99.99 %)."""
    gauge = TableGauge(GaugeNumbers(lag_s=0.0, noise_kpa=0.2))
    said = []
    for _ in range(4000):
        gauge.step(0.01, 50.0)
        said.append(gauge.vacuum_kpa - 50.0)
    mean = sum(said) / len(said)
    deviation = math.sqrt(sum((x - mean) ** 2 for x in said) / (len(said) - 1))
    assert mean == pytest.approx(0.0, abs=0.02)
    assert deviation == pytest.approx(0.2, rel=0.05)
