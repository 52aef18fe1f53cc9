"""Bending against plate and beam theory.

Coefficients: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, tables
8, 23, 35 and section 54 (from memory), where marked computed again by series or Ritz.
"""

import math

import numpy as np
import pytest

from kiosk.hold.cures import cups_that_cure
from kiosk.hold.flex import (
    MOST_M,
    Deflection,
    Sheet,
    Supports,
    influence,
    inside,
    largest_deflection,
    plate_of,
    rigidity,
)

E, NU, T = 3e9, 0.3, 0.018
D = E * T**3 / (12.0 * (1.0 - NU**2))
SIDE = 0.3
STIFF = 1e12


def rectangle(length, width):
    return np.array([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])


def board(length=SIDE, width=SIDE, nu=NU, **more):
    return Sheet(rectangle(length, width), (), T, E, E, nu, **more)


def points(at, stiffness=STIFF):
    x, y = np.array(at, dtype=float).T
    return Supports(x, y, np.zeros(x.size), stiffness)


def spread(length, width, count=40):
    """Middles of count x count equal fields, for a uniform load."""
    x, y = np.meshgrid(
        (np.arange(count) + 0.5) * length / count, (np.arange(count) + 0.5) * width / count
    )
    return np.stack([x.ravel(), y.ravel()], axis=1)


def edges(length, width, count=97):
    along, across = np.linspace(0, length, count), np.linspace(0, width, count)
    sides = [(x, y) for x in along for y in (0.0, width)]
    return sides + [(x, y) for y in across for x in (0.0, length)]


def test_plate_rigidity_of_the_worked_example():
    # C6-01: MDF 18 mm, E 3000: D = 1.602198E6 N mm
    assert rigidity(board())[0, 0] * 1e3 == pytest.approx(1602197.8, rel=1e-6)


def middle_of(supports, load):
    """Movement at the middle of the square board from 'point' or 'uniform', times D."""
    plate, middle = plate_of(board(), points(supports)), np.array([[SIDE / 2, SIDE / 2]])
    if load == "point":
        return influence(plate, middle, middle)[0, 0] * D / SIDE**2
    return influence(plate, spread(SIDE, SIDE), middle).mean() * D / SIDE**2


CORNERS = [(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)]


@pytest.mark.parametrize(
    ("supports", "load", "coefficient"),
    [
        (edges(SIDE, SIDE), "uniform", 0.00406235),  # table 8, by series
        (edges(SIDE, SIDE), "point", 0.01160084),  # table 23, by series
        (CORNERS, "uniform", 0.02551),  # section 48, by Ritz
        (CORNERS, "point", 0.0391),  # by Ritz, within 0.5 %
    ],
)
def test_square_plates_of_the_handbook(supports, load, coefficient):
    assert middle_of(supports, load) == pytest.approx(coefficient, rel=5e-3)


def test_a_simply_supported_board_of_the_worked_example():
    # C6-01: square 300 mm, q 0.001 N/mm2 = 1 kPa: 0.0205256 mm
    total = 1e3 * SIDE**2
    sag = middle_of(edges(SIDE, SIDE), "uniform") * SIDE**2 / D * total
    assert sag == pytest.approx(0.0205256e-3, rel=5e-3)


def test_a_bay_of_a_large_board_on_many_points():
    # C6-00: infinite plate on a square array: centre of a bay 0.00580042, mid-side 0.00435031
    # q l^4 / D (Catalan's constant G / 16 pi^2 and 3 G / 64 pi^2); here the middle of 8 x 8 bays,
    # whose edges and mesh leave 3 %
    bays, pitch = 8, 0.1
    size = bays * pitch
    at = [(x * pitch, y * pitch) for x in range(bays + 1) for y in range(bays + 1)]
    plate = plate_of(board(size, size), points(at))
    # symmetric neighbourhood of the middle: one bay's centre and one side's middle
    look = np.array([[4.5 * pitch, 4.5 * pitch], [4.0 * pitch, 4.5 * pitch]])
    moved = influence(plate, look, spread(size, size, 80)).mean(axis=0) * size**2
    assert moved * D / pitch**4 == pytest.approx([0.00580042, 0.00435031], rel=3e-2)


def test_a_beam_on_two_supports_of_the_worked_example():
    # C6-03: 300 mm span, 100 mm wide, 100 N in the middle: F L^3 / 48 E I = 0.385802 mm
    strip = board(0.3, 0.1, nu=0.0)
    ends = [(x, y) for x in (0.0, 0.3) for y in np.linspace(0, 0.1, 33)]
    line = np.array([[0.15, y] for y in np.linspace(0.001, 0.099, 25)])
    moved = influence(plate_of(strip, points(ends)), line, line).mean() * 100.0
    assert moved == pytest.approx(0.385802e-3, rel=5e-3)


def test_an_overhang_of_the_worked_example():
    # C6-03: 150 mm overhang, 100 mm wide, 100 N at its end: F L^3 / 3 E I = 0.771605 mm.
    # Clamped by a dense field of stiff points behind the root.
    strip = board(0.3, 0.1, nu=0.0)
    root = [(x, y) for x in np.linspace(0.0, 0.15, 49) for y in np.linspace(0, 0.1, 9)]
    tip = np.array([[0.3, y] for y in np.linspace(0.001, 0.099, 25)])
    moved = influence(plate_of(strip, points(root)), tip, tip).mean() * 100.0
    assert moved == pytest.approx(0.771605e-3, rel=2e-2)


def test_a_stiff_part_only_presses_its_cups_down():
    # rigid body on three springs: at the centroid F / 3 k
    stiff = Sheet(rectangle(0.4, 0.3), (), 0.05, 1e11, 1e11, 0.3)
    cups = Supports(np.array([0.1, 0.3, 0.2]), np.array([0.1, 0.1, 0.25]), np.full(3, 0.034), 2e5)
    centroid = np.array([[0.2, 0.15]])
    plate = plate_of(stiff, cups)
    assert influence(plate, centroid, centroid)[0, 0] == pytest.approx(1.0 / 6e5, rel=1e-3)


def test_one_ring_resists_tilting_by_its_own_radius():
    # ring of stiffness k: K_tilt = k r^2 / 2, so a load at x moves 1/k + x^2 / (k r^2 / 2)
    stiff = Sheet(rectangle(0.2, 0.2), (), 0.05, 1e11, 1e11, 0.3)
    cup = Supports(np.array([0.1]), np.array([0.1]), np.array([0.04]), 2e5)
    at = np.array([[0.15, 0.1]])
    expected = (1.0 + 0.05**2 / (0.04**2 / 2.0)) / 2e5
    assert influence(plate_of(stiff, cup), at, at)[0, 0] == pytest.approx(expected, rel=1e-3)


def strip_middle(angle):
    """Middle of a narrow strip along x of a wood ten times stiffer along the grain."""
    wood = Sheet(rectangle(0.4, 0.04), (), T, 12e9, 1.2e9, 0.0, angle)
    ends = [(x, y) for x in (0.0, 0.4) for y in np.linspace(0, 0.04, 9)]
    line = np.array([[0.2, y] for y in np.linspace(0.001, 0.039, 9)])
    return influence(plate_of(wood, points(ends)), line, line).mean()


def test_wood_bends_by_the_modulus_along_the_strip():
    inertia = 0.04 * T**3 / 12.0
    for angle, modulus in ((0.0, 12e9), (math.pi / 2.0, 1.2e9)):
        expected = 0.4**3 / (48.0 * modulus * inertia)
        assert strip_middle(angle) == pytest.approx(expected, rel=1e-2)
    assert strip_middle(0.0) < strip_middle(0.6) < strip_middle(math.pi / 2.0)


def test_influence_is_the_same_both_ways():
    # Maxwell's reciprocal theorem
    plate = plate_of(board(0.4, 0.25), points([(0.05, 0.05), (0.35, 0.05), (0.2, 0.2)], 1e6))
    at = np.array([[0.11, 0.07], [0.33, 0.21], [0.02, 0.24]])
    table = influence(plate, at, at)
    assert table == pytest.approx(table.T, rel=1e-6)


def cups_at(at):
    x, y = np.array(at, dtype=float).T
    return Supports(x, y, np.full(x.size, 0.034))


def test_the_overhang_gives_most_and_one_more_cup_cures_it():
    sheet = Sheet(rectangle(0.6, 0.2), (), 0.006, E, E, NU)
    loads = np.array([[0.2, 0.1], [0.4, 0.1], [0.58, 0.1]])
    force = np.full(3, 60.0)
    three = [(0.06, 0.1), (0.2, 0.1), (0.34, 0.1)]
    found = largest_deflection(sheet, cups_at(three), loads, force)
    assert (found.x_m, found.y_m) == (0.58, 0.1)
    cured = largest_deflection(sheet, cups_at([*three, (0.54, 0.1)]), loads, force)
    assert cured.deflection_m < 0.2 * found.deflection_m
    pulled = largest_deflection(sheet, cups_at(three), loads, -force)
    assert pulled.deflection_m == pytest.approx(found.deflection_m)


def test_the_cups_that_cure_are_named_and_do_cure():
    sheet = Sheet(rectangle(0.6, 0.2), (), 0.006, E, E, NU)
    up = cups_at([(0.06, 0.1), (0.2, 0.1), (0.34, 0.1)])
    spare = cups_at([(0.13, 0.1), (0.54, 0.1), (0.44, 0.1)])
    loads = np.array([[0.2, 0.1, 60.0], [0.4, 0.1, 60.0], [0.58, 0.1, 60.0]])
    before = largest_deflection(sheet, up, loads[:, :2], loads[:, 2]).deflection_m
    limit = 0.2 * before
    added = cups_that_cure(sheet, up, spare, loads, limit)
    assert added == (1,)
    assert cups_that_cure(sheet, up, spare, loads, 2.0 * before) == ()
    assert cups_that_cure(sheet, up, spare, loads, 1e-9) is None


def test_an_opening_makes_a_part_softer():
    opening = np.array([[0.1, 0.06], [0.3, 0.06], [0.3, 0.14], [0.1, 0.14]])
    whole = Sheet(rectangle(0.4, 0.2), (), 0.006, E, E, NU)
    framed = Sheet(rectangle(0.4, 0.2), (opening,), 0.006, E, E, NU)
    cups = cups_at([(0.04, 0.1), (0.36, 0.1)])
    at, force = np.array([[0.2, 0.02]]), np.array([50.0])
    softer = largest_deflection(framed, cups, at, force).deflection_m
    assert softer > 1.2 * largest_deflection(whole, cups, at, force).deflection_m


def test_no_number_without_cups_or_loads_and_the_most_where_it_can_fall():
    none = Supports(np.empty(0), np.empty(0), np.empty(0))
    at, force = np.array([[0.1, 0.1]]), np.array([50.0])
    assert largest_deflection(board(), none, at, force) is None
    assert largest_deflection(board(), cups_at([(0.1, 0.1)]), np.empty((0, 2)), np.empty(0)) is None
    on_a_point = largest_deflection(board(), points([(0.1, 0.1)]), np.array([[0.2, 0.1]]), force)
    assert on_a_point == Deflection(MOST_M, 0.2, 0.1)


def test_inside_counts_openings_out():
    outline, hole = rectangle(1.0, 1.0), rectangle(0.5, 0.5) + 0.25
    at = np.array([[0.1, 0.1], [0.5, 0.5], [1.5, 0.5], [0.9, 0.1]])
    assert inside((outline, hole), at).tolist() == [True, False, False, True]
