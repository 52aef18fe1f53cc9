"""A plate that is thinner in places, against beam theory.

Deflection in the middle of a strip on two edges by virtual work: integral of M m / (E I) along it
(S.P. Timoshenko, Strength of Materials, part 1, from memory).
"""

import numpy as np
import pytest

from kiosk.hold.flex import Sheet, Supports, influence, plate_of
from kiosk.hold.thinned import Heights, stiffness_shares

E, T, LENGTH, WIDTH = 3e9, 0.018, 0.4, 0.04
PITCH = 0.001


def heights(cut, depth, length=LENGTH, width=WIDTH):
    """A board whose places for which ``cut(x, y)`` holds are lower by ``depth``."""
    x = np.arange(PITCH / 2, length, PITCH)
    y = np.arange(PITCH / 2, width, PITCH)
    low = cut(x[None, :], y[:, None]) & np.ones((y.size, x.size), dtype=bool)
    return Heights(x, y, np.where(low, T - depth, T), 0.0005)


def middle_gives(left):
    """Movement under 1 N in the middle of a strip on two rigid edges, Poisson 0."""
    outline = np.array([[0.0, 0.0], [LENGTH, 0.0], [LENGTH, WIDTH], [0.0, WIDTH]])
    sheet = Sheet(outline, (), T, E, E, 0.0, 0.0, left)
    y = np.linspace(0.0, WIDTH, 5)
    ends = np.concatenate([np.zeros(5), np.full(5, LENGTH)])
    edges = Supports(ends, np.concatenate([y, y]), np.zeros(10), 1e12)
    middle = np.array([[LENGTH / 2, WIDTH / 2]])
    return float(influence(plate_of(sheet, edges), middle, middle)[0, 0])


def by_virtual_work(thick):
    """The same by hand for a thickness (n,) along the strip."""
    x = (np.arange(thick.size) + 0.5) * LENGTH / thick.size
    arm = np.minimum(x, LENGTH - x) / 2.0
    return float((arm**2 / (E * WIDTH * thick**3 / 12.0)).sum() * LENGTH / thick.size)


def along(low, high, depth):
    x = (np.arange(4000) + 0.5) * LENGTH / 4000
    return np.where((x > low) & (x < high), T - depth, T)


def test_half_the_thickness_everywhere_gives_eight_times_as_much():
    left = heights(lambda x, y: x >= 0.0, T / 2)
    assert middle_gives(left) == pytest.approx(8.0 * middle_gives(None), rel=1e-6)


@pytest.mark.parametrize(("low", "high"), [(0.15, 0.25), (0.19, 0.21), (0.05, 0.35)])
def test_a_groove_across_a_strip_by_virtual_work(low, high):
    left = heights(lambda x, y: (x > low) & (x < high), 0.006)
    expected = by_virtual_work(along(low, high, 0.006))
    plain = by_virtual_work(along(0.0, 0.0, 0.0))
    assert middle_gives(left) / middle_gives(None) == pytest.approx(expected / plain, rel=0.03)


def test_a_groove_along_a_strip_counts_at_least_as_soft_as_it_is():
    left = heights(lambda x, y: abs(y - WIDTH / 2) < 0.005, 0.006)
    inertia = 0.75 * T**3 + 0.25 * (T - 0.006) ** 3  # each strip bends about its own middle
    assert middle_gives(left) >= middle_gives(None) * T**3 / inertia * 0.999


def test_a_blind_hole_takes_little_and_what_is_gone_takes_nothing():
    hole = heights(lambda x, y: np.hypot(x - 0.2, y - 0.02) < 0.0025, 0.012)
    shares = stiffness_shares(hole, (0.0, 0.0), (0.02, 0.02), (20, 2), T)
    assert shares.min() > 0.75
    assert (shares == 1.0).sum() >= 36
    gone = heights(lambda x, y: x < 0.1, T)
    assert (stiffness_shares(gone, (0.0, 0.0), (0.02, 0.02), (20, 2), T) == 1.0).all()


def test_a_board_finer_than_its_map_takes_the_nearest_places():
    coarse = Heights(np.array([0.1, 0.3]), np.array([0.1]), np.array([[T, T / 2]]), 0.0)
    shares = stiffness_shares(coarse, (0.0, 0.0), (0.05, 0.05), (8, 4), T)
    assert shares[:4] == pytest.approx(1.0)
    assert shares[4:] == pytest.approx(0.125)
