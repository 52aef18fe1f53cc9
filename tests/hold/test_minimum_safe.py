"""The minimum stays right and finite from one cup to four hundred, and at odd sizes of numbers."""

import math

import numpy as np
import pytest
from hold_cases import cases_of, cups_of

from kiosk.hold.minimum import Weight, job_minimum

NONE = Weight(0.0, 0.0, 0.0)
RADIUS, MU = 0.034, 0.4
AREA = math.pi * RADIUS**2


def grid(columns, rows, pitch=0.1):
    x, y = np.meshgrid(np.arange(columns) * pitch, np.arange(rows) * pitch)
    return x.ravel(), y.ravel(), np.full(columns * rows, RADIUS), MU


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 1), (3, 1), (5, 2), (10, 10), (20, 20)])
def test_sliding_pulling_and_turning_of_any_number_of_cups(columns, rows):
    """Closed forms: F = mu n p A; pull = n p A; one torque about the middle: each ring carries
    mu p A along its own circle, at least mu p A times its distance, at most that and its radius.
    """
    cups, n = grid(columns, rows), columns * rows
    x, y = (columns - 1) * 0.05, (rows - 1) * 0.05
    push = job_minimum(cups_of(cups), cases_of([(x, y, 0.0, 300.0, 400.0, 0.0, 0.0)]), NONE)
    assert push.exact
    assert push.pressure_pa == pytest.approx(500.0 / (MU * n * AREA), rel=1e-3)
    pull = job_minimum(cups_of(cups), cases_of([(x, y, 0.0, 0.0, 0.0, 500.0, 0.0)]), NONE)
    assert pull.pressure_pa == pytest.approx(500.0 / (n * AREA), rel=1e-3)
    turn = job_minimum(cups_of(cups), cases_of([(x, y, 0.0, 0.0, 0.0, 0.0, 20.0)]), NONE)
    away = np.hypot(cups[0] - x, cups[1] - y)
    least, most = np.maximum(away, RADIUS).sum(), (away + RADIUS).sum()
    assert 20.0 / (MU * AREA * most) <= turn.pressure_pa <= 20.0 / (MU * AREA * least) * 1.001


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize("force", [1e-4, 1.0, 1e5])
def test_lengths_and_forces_of_odd_sizes_scale_the_answer(scale, force):
    """All lengths times s and all forces times f: the pressure times f / s^2."""

    def least(s, f):
        x, y, r, mu = grid(4, 3)
        load = (0.4 * s, 0.25 * s, 0.01 * s, 60.0 * f, -80.0 * f, 30.0 * f, 2.0 * f * s)
        found = job_minimum(cups_of((x * s, y * s, r * s, mu)), cases_of([load]), NONE)
        assert found.exact
        return found.pressure_pa

    wanted = least(1.0, 1.0) * force / scale**2
    if wanted < 1e3:  # an answer is exact to 0.2 Pa at best, which is nothing against any floor
        assert least(scale, force) == pytest.approx(wanted, abs=0.5)
    else:
        assert least(scale, force) == pytest.approx(wanted, rel=1e-3)


def test_four_hundred_cups_far_from_the_origin_give_what_they_give_there():
    x, y, r, mu = grid(20, 20)
    load = np.array([2.1, 0.3, 0.012, 150.0, -90.0, 60.0, 4.0])
    here = job_minimum(cups_of((x, y, r, mu)), cases_of([load]), NONE).pressure_pa
    moved = load + np.array([1e3, -2e3, 0.0, 0.0, 0.0, 0.0, 0.0])
    far = job_minimum(cups_of((x + 1e3, y - 2e3, r, mu)), cases_of([moved]), NONE).pressure_pa
    assert far == pytest.approx(here, rel=1e-3)
