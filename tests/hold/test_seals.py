"""Ring speeds, elliptic integrals and rims against SciPy, quadrature and geometry."""

import numpy as np
import pytest
from hold_cases import cups_of
from scipy import special
from scipy.spatial import ConvexHull

from kiosk.hold.motions import centres, first_cells, split
from kiosk.hold.seals import (
    convex_hull,
    elliptic,
    rim_rows,
    ring_speed,
    ring_speeds,
    seals_of,
    tangent_speeds,
)


def test_elliptic_integrals_agree_with_scipy():
    m = np.concatenate([np.linspace(0.0, 0.999, 200), 1.0 - np.logspace(-12, -3, 50)])
    first, second = elliptic(m)
    assert first == pytest.approx(special.ellipk(m), rel=1e-10)
    assert second == pytest.approx(special.ellipe(m), rel=1e-10)


@pytest.mark.parametrize(("centre", "rim"), [(1.0, 0.3), (0.3, 1.0), (1.0, 0.99), (2.0, 1e-9)])
def test_mean_speed_round_a_ring_is_its_average_over_many_points(centre, rim):
    angle = (np.arange(200_000) + 0.5) * 2.0 * np.pi / 200_000
    average = np.sqrt(centre**2 + rim**2 + 2.0 * centre * rim * np.cos(angle)).mean()
    assert ring_speed(np.array(centre), np.array(rim))[0] == pytest.approx(average, rel=1e-9)


def test_slopes_of_the_mean_speed_agree_with_differences():
    centre, rim = np.array([1.0, 0.2, 0.7, 1.0]), np.array([0.3, 1.0, 0.69, 0.0])
    _, by_centre, by_rim = ring_speed(centre, rim)
    step = 1e-6
    ahead = ring_speed(centre + step, rim)[0] - ring_speed(centre - step, rim)[0]
    assert by_centre == pytest.approx(ahead / (2 * step), abs=1e-6)
    inside = rim > 0
    round_ = ring_speed(centre, rim + step)[0] - ring_speed(centre, rim - step * inside)[0]
    assert by_rim[inside] == pytest.approx((round_ / (2 * step))[inside], abs=1e-6)
    assert by_rim[3] == pytest.approx(0.0, abs=1e-12)


def test_tangent_speeds_never_exceed_the_true_ones():
    rng = np.random.default_rng(5)
    seals = seals_of(
        cups_of((rng.normal(0, 0.2, 7), rng.normal(0, 0.2, 7), rng.uniform(0.01, 0.1, 7), 0.4))
    )
    cells = first_cells(3)
    true = ring_speeds(seals, cells)
    tangent = tangent_speeds(seals, centres(cells), cells)
    assert (tangent <= true + 1e-12).all()
    assert (tangent > true - 0.05).mean() > 0.9


def test_cells_cover_the_half_sphere_once():
    def solid_angle(cells):
        a, b, c = cells[:, 0], cells[:, 1], cells[:, 2]
        triple = np.abs(np.einsum("ij,ij->i", a, np.cross(b, c)))
        below = 1.0 + (a * b).sum(1) + (b * c).sum(1) + (c * a).sum(1)
        return 2.0 * np.arctan2(triple, below)  # Van Oosterom and Strackee, 1983

    for cells in (first_cells(0), first_cells(2), split(first_cells(1))):
        assert solid_angle(cells).sum() == pytest.approx(2.0 * np.pi, rel=1e-12)


def test_rims_are_the_hull_of_all_polygons():
    rng = np.random.default_rng(8)
    cups = (rng.normal(0, 0.2, 9), rng.normal(0, 0.2, 9), rng.uniform(0.01, 0.1, 9), 0.4)
    seals = seals_of(cups_of(cups))
    angle = (np.arange(64) + 0.5) * 2.0 * np.pi / 64
    reach = seals.r[:, None] / np.cos(np.pi / 64)
    points = np.stack(
        [seals.x[:, None] + reach * np.cos(angle), seals.y[:, None] + reach * np.sin(angle)],
        axis=-1,
    ).reshape(-1, 2)
    corners = points[ConvexHull(points).vertices]
    expected = np.column_stack([np.ones(len(corners)), corners]) @ seals.spread
    found = rim_rows(seals, 64, outside=True)
    assert sorted(map(tuple, found.round(9))) == sorted(map(tuple, expected.round(9)))


def test_hull_of_points_agrees_with_scipy():
    points = np.random.default_rng(2).normal(size=(200, 2))
    expected = points[ConvexHull(points).vertices]
    assert sorted(map(tuple, convex_hull(points))) == sorted(map(tuple, expected))


@pytest.mark.parametrize(
    ("cups", "words"),
    [
        (([0.0, 1.0], [0.0], [0.1, 0.1], 0.4), "one length"),
        (([0.0], [0.0], [0.0], 0.4), "above zero"),
        (([float("inf")], [0.0], [0.1], 0.4), "numbers"),
    ],
)
def test_cups_that_make_no_sense_are_refused_in_words(cups, words):
    with pytest.raises(ValueError, match=words):
        seals_of(cups_of(cups))
