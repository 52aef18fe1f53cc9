"""Clamped and simply supported plates of the handbook, and how the mesh converges.

Coefficients w D / (q a^4) and w D / (P a^2) at the middle, a the shorter side: Timoshenko and
Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, tables 8, 23, 35 and 37 (from memory;
those of simple support computed again by Navier's series here).
"""

import math

import numpy as np
import pytest

from kiosk.hold.flex import Sheet, Supports, influence, plate_of

E, NU, T, STIFF, A = 3e9, 0.3, 0.018, 1e12, 0.3
D = E * T**3 / (12.0 * (1.0 - NU**2))


def plate(length, width, at, cells):
    outline = np.array([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])
    x, y = np.array(at).T
    sheet = Sheet(outline, (), T, E, E, NU, cells=cells)
    return plate_of(sheet, Supports(x, y, np.zeros(x.size), STIFF))


def middle(built, low, size, load):
    """w D / (q a^4) or w D / (P a^2) in the middle of an opening from ``low``, of this size."""
    here = np.array([[low[0] + size[0] / 2.0, low[1] + size[1] / 2.0]])
    if load == "point":
        return influence(built, here, here)[0, 0] * D / A**2
    count = 40
    x, y = np.meshgrid(
        low[0] + (np.arange(count) + 0.5) * size[0] / count,
        low[1] + (np.arange(count) + 0.5) * size[1] / count,
    )
    spread = np.stack([x.ravel(), y.ravel()], axis=1)
    area = size[0] * size[1]
    return influence(built, spread, here).mean() * area * D / A**4


def simply_supported(ratio, load, cells=48):
    length, count = ratio * A, 4 * cells + 1
    along, across = np.linspace(0.0, length, count), np.linspace(0.0, A, count)
    at = [(x, y) for x in along for y in (0.0, A)] + [(x, y) for y in across for x in (0.0, length)]
    return middle(plate(length, A, at, cells), (0.0, 0.0), (length, A), load)


def clamped(ratio, load, inner):
    """An opening of ``inner`` cells across in a frame two cells wide, held down at nine points a
    cell, so that neither place nor slope is left to its edge."""
    cell = A / inner
    long_cells = ratio * inner
    length, width = (long_cells + 4) * cell, (inner + 4) * cell
    third = (np.arange(3) + 0.5) / 3.0
    at = [
        ((i + u) * cell, (j + v) * cell)
        for i in range(long_cells + 4)
        for j in range(inner + 4)
        if i < 2 or j < 2 or i >= long_cells + 2 or j >= inner + 2
        for u in third
        for v in third
    ]
    built = plate(length, width, at, long_cells + 4)
    return middle(built, (2 * cell, 2 * cell), (ratio * A, A), load)


def navier(ratio, load, terms=199):
    """Simply supported, in the middle, by the double sine series."""
    total = 0.0
    for m in range(1, terms + 1, 2):
        for n in range(1, terms + 1, 2):
            bending = math.pi**4 * ((m / ratio) ** 2 + n**2) ** 2
            sign = (-1) ** ((m + n) // 2 - 1)
            load_share = 16.0 * sign / (math.pi**2 * m * n) if load == "uniform" else 4.0 / ratio
            total += load_share / bending
    return total


@pytest.mark.parametrize(
    ("ratio", "load", "handbook"),
    [
        (1, "uniform", 0.00406),
        (1, "point", 0.01160),
        (2, "uniform", 0.01013),
        (2, "point", 0.01651),
    ],
)
def test_simply_supported_plates(ratio, load, handbook):
    series = navier(ratio, load)
    assert series == pytest.approx(handbook, rel=2e-3)
    assert simply_supported(ratio, load) == pytest.approx(series, rel=1e-2)


@pytest.mark.parametrize(
    ("ratio", "load", "inner", "handbook"),
    [
        (1, "uniform", 40, 0.00126),
        (1, "point", 40, 0.00560),
        (2, "uniform", 20, 0.00254),
        (2, "point", 20, 0.00722),
    ],
)
def test_clamped_plates(ratio, load, inner, handbook):
    assert clamped(ratio, load, inner) == pytest.approx(handbook, rel=1.5e-2)


@pytest.mark.parametrize("load", ["uniform", "point"])
def test_the_error_falls_with_the_mesh(load):
    """As docs/holding-model.md tells it."""
    series = navier(1, load)
    errors = [abs(simply_supported(1, load, cells) / series - 1.0) for cells in (12, 24, 48)]
    assert errors[1] < 0.5 * errors[0]
    assert errors[2] < 0.5 * errors[1]
    assert errors[1] < 0.004
    assert errors[2] < 0.001
