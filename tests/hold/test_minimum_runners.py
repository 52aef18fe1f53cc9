"""The runners-up: each is the worst case of its own group, and none that is worse is left out."""

import numpy as np
import pytest
from hold_cases import cups_of

from kiosk.hold.minimum import Cases, Weight, job_minimum

WEIGHT = Weight(20.0, 0.05, 0.0)
GROUPS, EACH = 30, 12


def set_up(seed, open_direction):
    """Cups, and cases in groups whose cases are alike but not the same."""
    chance = np.random.default_rng(seed)
    x, y = chance.uniform(-0.3, 0.3, (2, 7))
    middle = chance.uniform(-0.35, 0.35, (GROUPS, 1, 2))
    at = (middle + chance.normal(0.0, 0.03, (GROUPS, EACH, 2))).reshape(-1, 2)
    count, push = len(at), chance.uniform(40.0, 160.0, len(at))
    turn = chance.uniform(0.0, 6.283, count)
    fixed = 0.0 if open_direction else 1.0
    cases = Cases(
        at[:, 0], at[:, 1], chance.uniform(0.0, 0.02, count),
        fixed * push * np.cos(turn), fixed * push * np.sin(turn), chance.uniform(0.0, 60.0, count),
        (1.0 - fixed) * push, chance.normal(0.0, 1.0, count), np.full(count, 2.0),
        np.repeat(np.arange(GROUPS), EACH),
    )  # fmt: skip
    return cups_of((x, y, np.full(7, 0.034), 0.45)), cases


def alone(cups, cases, group):
    own = cases.group == group
    fields = (getattr(cases, name)[own] for name in Cases.__slots__ if name != "group")
    return job_minimum(cups, Cases(*fields), WEIGHT, 0).pressure_pa


@pytest.mark.parametrize("open_direction", [True, False])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_runner_up_is_the_minimum_of_its_group(seed, open_direction):
    cups, cases = set_up(seed, open_direction)
    found = job_minimum(cups, cases, WEIGHT, 9)
    each = [alone(cups, cases, group) for group in range(GROUPS)]
    told = {int(cases.group[runner.case]): runner.pressure_pa for runner in found.runners_up}
    assert len(told) == 9
    assert int(cases.group[found.case]) not in told
    for group, pressure in told.items():
        assert pressure == pytest.approx(each[group], rel=4e-4)
    left_out = [each[g] for g in range(GROUPS) if g not in told and g != cases.group[found.case]]
    assert max(left_out) <= min(told.values()) * 1.0004
    assert list(told.values()) == sorted(told.values(), reverse=True)
