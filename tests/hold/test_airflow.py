"""Pump, pipes and leaks against the fluids library, closed forms and published examples."""

import math

import fluids
import numpy as np
import pytest
from fluids.compressible import P_critical_flow, isothermal_gas
from fluids.friction import Colebrook
from scipy.integrate import quad

from kiosk.hold.airflow import (
    CRITICAL_RATIO,
    RT,
    VISCOSITY_PA_S,
    Hole,
    Lip,
    Pipe,
    Porous,
    Pump,
    board_edge,
    board_face,
    branch_drop_pa,
    draw_down_s,
    friction_factor,
    holes,
    leak_from_rise,
    leak_mass,
    lowered_seats,
    operating_point,
    pipe_end,
    pump_mass,
)

AIR = 101325.0
HOUR = 3600.0


def steady_speed(speed_m3_h, end_pa=0.0):
    """A pump of S(p) = S0 (1 - p_end / p): free air falls in a line with vacuum."""
    free = speed_m3_h / HOUR
    return Pump(((0.0, free * (1.0 - end_pa / AIR)), (AIR - end_pa, 0.0)))


def litres_a_minute(mass):
    return mass * RT / AIR * 60e3


@pytest.mark.parametrize(
    ("reynolds", "rough", "published"),
    [(1e4, 0.0, 0.03088295), (1e5, 1e-4, 0.01851387), (1e5, 1e-3, 0.02217454)],
)
def test_friction_factor_agrees_with_the_fluids_library(reynolds, rough, published):
    # C4-02
    found = friction_factor(reynolds, rough)
    assert found == pytest.approx(published, rel=1e-5)
    assert found == pytest.approx(Colebrook(reynolds, rough), rel=1e-9)


def test_below_two_thousand_flow_is_laminar():
    assert friction_factor(1000.0, 1e-3) == pytest.approx(fluids.friction_factor(1000.0))


@pytest.mark.parametrize(
    ("bore", "length", "end"),
    [(0.025, 5.0, 29584.809), (0.019, 5.0, 28428.834), (0.012, 3.0, 18583.075)],
)
def test_hoses_with_ten_cubic_metres_an_hour_of_free_air(bore, length, end):
    # C4-03: 3.344773 g/s from 30 kPa absolute, roughness 1.5 um
    mass = 10.0 / HOUR * AIR / RT
    assert mass == pytest.approx(3.344773e-3, rel=1e-6)
    assert pipe_end(Pipe(length, bore), 30000.0, mass) == pytest.approx(end, rel=1e-6)


def test_pipes_agree_with_the_isothermal_flow_of_the_fluids_library():
    rng, compared = np.random.default_rng(4), 0
    for _ in range(30):
        bore, length = rng.uniform(0.01, 0.06), rng.uniform(0.5, 20.0)
        start, mass = rng.uniform(15e3, 100e3), rng.uniform(1e-4, 5e-3)
        end = pipe_end(Pipe(length, bore), start, mass)
        if end is None:
            continue
        reynolds = 4.0 * mass / (math.pi * bore * VISCOSITY_PA_S)
        factor = friction_factor(reynolds, 1.5e-6 / bore)
        library = isothermal_gas(rho=start / RT, fd=factor, P1=start, P2=end, L=length, D=bore)
        assert library == pytest.approx(mass, rel=1e-6)
        compared += 1
    assert compared > 15


def test_a_thin_tube_follows_hagen_and_poiseuille():
    # C4-04: d 2 mm, l 1 m, 61 -> 59 kPa: Q = pi d^4 p_mean dp / (128 eta l) = 2.589225 Pa m3/s
    mass = 2.589225 / RT
    assert pipe_end(Pipe(1.0, 2e-3), 61e3, mass) == pytest.approx(59e3, rel=2e-3)


def test_a_fitting_loses_k_times_dynamic_pressure():
    # C4-05: K 0.9 at 30 kPa absolute and 16 m/s: 41.07 Pa
    bore = 0.025
    mass = 30e3 / RT * 16.0 * math.pi * bore**2 / 4.0
    lost = 30e3 - pipe_end(Pipe(0.0, bore, 0.9), 30e3, mass)
    assert lost == pytest.approx(41.07, rel=5e-3)


def test_a_pipe_that_would_choke_has_no_end():
    assert pipe_end(Pipe(2.0, 0.006), 30e3, 10e-3) is None


@pytest.mark.parametrize(
    ("bore_mm", "inside_kpa", "grams_s"),
    [(1, 20, 0.150277), (1, 60, 0.148919), (1, 80, 0.125323), (1, 90, 0.097355),
     (2, 20, 0.601109), (3, 20, 1.352495)],
)  # fmt: skip
def test_holes_leak_as_an_isentropic_orifice(bore_mm, inside_kpa, grams_s):
    # C4-06, coefficient 0.8
    mass = leak_mass(holes(1, bore_mm / 1e3), inside_kpa * 1e3, AIR)
    assert mass * 1e3 == pytest.approx(grams_s, rel=1e-5)


def test_the_critical_ratio_is_the_librarys():
    assert P_critical_flow(AIR, 1.4) == pytest.approx(CRITICAL_RATIO * AIR, rel=1e-12)


@pytest.mark.parametrize(
    ("permeability", "litres"),
    [(2e-13, 14.00732), (3.8e-14, 2.66139), (6.26e-13, 43.84291), (1e-12, 70.03659)],
)
def test_a_porous_board_follows_darcy(permeability, litres):
    # C4-08: 18 mm board over a 100 mm cup, 101325 -> 20000 Pa absolute
    board = board_face(permeability, math.pi * 0.1**2 / 4.0, 0.018)
    assert litres_a_minute(leak_mass(board, 20e3, AIR)) == pytest.approx(litres, rel=1e-6)


def test_flow_from_an_edge_is_that_between_a_cylinder_and_a_plane():
    # numeric check of the shape: resistance of image source and sink, by quadrature between the
    # cylinder's nearest point and the plane along the axis of symmetry
    radius, distance, thickness = 0.034, 0.05, 0.018
    half = math.sqrt(distance**2 - radius**2)

    def field(x):  # of a unit line source at +half and sink at -half, per thickness
        return (1.0 / (half - x) + 1.0 / (half + x)) / (2.0 * math.pi * thickness)

    resistance = quad(field, 0.0, distance - radius)[0]
    shape = board_edge(1e-12, thickness, radius, distance).shape_m
    assert 1.0 / shape == pytest.approx(resistance, rel=1e-9)
    with pytest.raises(ValueError, match="outside the seal"):
        board_edge(1e-12, thickness, 0.05, 0.04)


def test_lips_and_lowered_seats_leak_little():
    # the defaults: a metre of lip one free litre a minute at 60 kPa
    lip = litres_a_minute(leak_mass(Lip(1.0), AIR - 60e3, AIR))
    assert lip == pytest.approx(1.0, rel=0.01)
    assert litres_a_minute(leak_mass(lowered_seats(10), 20e3, AIR)) < 10.0


@pytest.mark.parametrize(
    ("bore_mm", "absolute_pa"), [(1, 6552.43), (2, 20209.71), (3, 42971.84), (5, 85901.22)]
)
def test_pump_and_hole_meet_at_the_published_pressure(bore_mm, absolute_pa):
    # C4-07: S0 10 m3/h, end pressure 2 kPa, one hole
    point = operating_point(steady_speed(10.0, 2000.0), (), (holes(1, bore_mm / 1e3),), AIR)
    assert AIR - point.table_pa == pytest.approx(absolute_pa, rel=1e-5)
    assert point.pump_pa == pytest.approx(point.table_pa)


def test_without_a_leak_the_table_has_the_end_of_the_curve():
    point = operating_point(steady_speed(10.0, 2000.0), (Pipe(5.0, 0.025),), (), AIR)
    assert point.table_pa == pytest.approx(AIR - 2000.0, rel=1e-6)
    assert point.flow_m3_s == 0.0
    assert point.drops == (0.0,)


def test_at_the_operating_point_everything_balances():
    pump = Pump(((0.0, 40 / HOUR), (60e3, 30 / HOUR), (88e3, 0.0)))
    pipes = (Pipe(6.0, 0.038, 2.0), Pipe(2.0, 0.019, 1.5))
    leaks = (holes(1, 0.004), Lip(3.0), Porous(2e-13, 2.4))
    point = operating_point(pump, pipes, leaks, AIR)
    mass = sum(leak_mass(leak, AIR - point.table_pa, AIR) for leak in leaks)
    assert point.flow_m3_s == pytest.approx(mass * RT / AIR)
    assert pump_mass(pump, AIR - point.pump_pa, AIR) == pytest.approx(mass, rel=1e-6)
    # table to pump: the thin pipe first, and it takes the most
    middle = pipe_end(pipes[1], AIR - point.table_pa, mass)
    assert point.drops[1] == pytest.approx(AIR - point.table_pa - middle)
    assert point.drops[1] > point.drops[0] > 0.0
    assert point.pump_pa - point.table_pa == pytest.approx(sum(point.drops))


def test_a_forgotten_open_seat_is_seen_and_a_restriction_is_told_from_a_leak():
    pump = Pump(((0.0, 40 / HOUR), (60e3, 30 / HOUR), (88e3, 0.0)))
    wide, narrow = (Pipe(6.0, 0.038),), (Pipe(6.0, 0.012),)
    good = operating_point(pump, wide, (Lip(2.6),), AIR)
    open_ = operating_point(pump, wide, (Lip(2.6), holes(1, 0.008)), AIR)
    tight = operating_point(pump, narrow, (Lip(2.6), holes(1, 0.008)), AIR)
    assert open_.table_pa < good.table_pa - 20e3
    assert open_.pump_pa - open_.table_pa < 3e3  # a leak lowers both gauges
    assert tight.pump_pa - tight.table_pa > 10e3  # a restriction parts them


def test_altitude_scales_what_a_pump_can_reach():
    pump = Pump(((0.0, 40 / HOUR), (88e3, 0.0)))
    high = operating_point(pump, (), (), 79495.2)  # ISO 2533 at 2000 m
    assert high.table_pa == pytest.approx(88e3 * 79495.2 / AIR, rel=1e-6)


def test_draw_down_of_a_steady_pump():
    # C4-01: V 20 L, S 10 m3/h, 1013.25 -> 100 mbar: 16.673 s; with an end pressure of 20 mbar
    # 18.136 s; t = (V / S) ln((p1 - pe) / (p2 - pe))
    for end, seconds in ((0.0, 16.67339), (2000.0, 18.13648)):
        found = draw_down_s(
            steady_speed(10.0, end), (), (), volume_m3=0.02, target_pa=AIR - 10e3, air_pa=AIR
        )
        assert found == pytest.approx(seconds, rel=1e-5)


def test_draw_down_through_a_hose_is_slower_and_past_the_end_never():
    pump = steady_speed(10.0, 2000.0)
    free = draw_down_s(pump, (), (), volume_m3=0.02, target_pa=80e3, air_pa=AIR)
    slow = draw_down_s(pump, (Pipe(10.0, 0.012),), (), volume_m3=0.02, target_pa=80e3, air_pa=AIR)
    assert slow > 1.05 * free
    assert draw_down_s(pump, (), (), volume_m3=0.02, target_pa=100e3, air_pa=AIR) is None
    assert (
        draw_down_s(pump, (), (holes(1, 0.003),), volume_m3=0.02, target_pa=70e3, air_pa=AIR)
        is None
    )


def test_a_branch_loses_what_its_own_leak_draws():
    branch, leak = Pipe(1.0, 0.006), (holes(1, 0.002),)
    lost = branch_drop_pa(branch, leak, 70e3, AIR)
    cup = AIR - 70e3 + lost
    mass = leak_mass(leak[0], AIR - 70e3, AIR)
    assert pipe_end(branch, cup, mass) == pytest.approx(AIR - 70e3, rel=1e-6)
    assert branch_drop_pa(branch, (), 70e3, AIR) == pytest.approx(0.0, abs=1e-3)


def test_rate_of_rise_gives_the_leak():
    # C4-09: 10 L, 5 kPa in 60 s: 0.8333333 Pa m3/s, 0.4934616 free L/min, a hole of 0.25671 mm
    leak = leak_from_rise(0.01, 5000.0, 60.0)
    assert leak == pytest.approx(0.8333333, rel=1e-6)
    assert leak / AIR * 60e3 == pytest.approx(0.4934616, rel=1e-6)
    assert leak_mass(Hole(math.pi * 0.2567078e-3**2 / 4.0), 20e3, AIR) * RT == pytest.approx(
        leak, rel=1e-5
    )


@pytest.mark.parametrize(
    "curve", [((0.0, 1.0),), ((0.0, 1.0), (0.0, 0.0)), ((0.0, 0.1), (1.0, 0.2)), ()]
)
def test_a_curve_that_cannot_be_is_refused(curve):
    with pytest.raises(ValueError, match="pump curve"):
        operating_point(Pump(curve), (), (), AIR)
