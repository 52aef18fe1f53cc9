"""The quick minimum of each case against the exact one of the same case alone."""

from __future__ import annotations

import numpy as np
import pytest

from kiosk.hold.along import least_of_each
from kiosk.hold.loads import Cases
from kiosk.hold.minimum import Cups, Weight, job_minimum

COUNT = 60


def cases_at(seed: int) -> Cases:
    chance, none = np.random.default_rng(seed), np.zeros(COUNT)
    return Cases(
        x_m=chance.uniform(-0.1, 0.9, COUNT),
        y_m=chance.uniform(-0.1, 0.5, COUNT),
        z_m=chance.uniform(0.0, 0.02, COUNT),
        fx_n=none,
        fy_n=none,
        fz_n=chance.uniform(0.0, 60.0, COUNT),
        any_n=chance.uniform(20.0, 200.0, COUNT),
        torque_nm=chance.uniform(0.0, 1.5, COUNT),
        factor=np.full(COUNT, 2.0),
    )


def one(cases: Cases, index: int) -> Cases:
    part = slice(index, index + 1)
    return Cases(
        cases.x_m[part], cases.y_m[part], cases.z_m[part], cases.fx_n[part], cases.fy_n[part],
        cases.fz_n[part], cases.any_n[part], cases.torque_nm[part], cases.factor[part],
    )  # fmt: skip


@pytest.mark.parametrize("number", [1, 2, 3, 12])
def test_what_each_case_needs_is_within_five_percent_and_never_above(number: int) -> None:
    chance = np.random.default_rng(number)
    cups = Cups(chance.uniform(0, 0.8, number), chance.uniform(0, 0.4, number),
                np.full(number, 0.034), 0.45)  # fmt: skip
    weight, cases = Weight(20.0, 0.4, 0.2), cases_at(number)
    found = least_of_each(cups, cases, weight)
    for index in range(COUNT):
        exact = job_minimum(cups, one(cases, index), weight).pressure_pa
        assert exact is not None
        assert 0.95 * exact <= found[index] <= 1.002 * exact


def test_without_a_cup_nothing_holds_any_case() -> None:
    none = np.zeros(0)
    found = least_of_each(Cups(none, none, none, 0.4), cases_at(5), Weight(20.0, 0.4, 0.2))
    assert np.isinf(found).all()
