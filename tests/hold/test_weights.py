"""Which weight counts, by statics of a ring and against shares of what comes off.

A part weighs less when the program has cut some of it away; the minimum is taken at the worse.
"""

from functools import partial

import numpy as np
import pytest
from hold_cases import cases_of, cups_of

from kiosk.hold.minimum import Weight, job_minimum

RING_M = 0.034
AREA_M2 = np.pi * RING_M**2
FOUR = ([0.0, 0.2, 0.0, 0.2], [0.0, 0.0, 0.2, 0.2], [RING_M] * 4, 0.4)
HEAVY_N, LIGHT_N = 20.0, 8.0


def least_pa(cups, load, weight, uncut=None):
    """For a load (x, y, push, pull), in the plane any way and up, 10 mm above the seals."""
    x, y, push_n, pull_n = load
    cases = cases_of([(x, y, 0.01, 0.0, 0.0, pull_n, 0.0)], push_n)
    return job_minimum(cups, cases, weight, uncut=uncut).pressure_pa


def test_what_presses_amid_the_cups_only_helps():
    most, least = Weight(HEAVY_N, 0.1, 0.1), Weight(LIGHT_N, 0.1, 0.1)
    asked = partial(least_pa, cups_of(FOUR), (0.1, 0.1, 60.0, 30.0))
    assert asked(least, most) == asked(least) > asked(most)


def test_off_its_cup_a_weight_tips_the_part_and_the_greater_one_counts():
    """A ring that carries W at d from its middle opens where S + W - F = 2 W d / r, F upward."""
    away, pull_n = 0.1, 1.0
    most, least = Weight(HEAVY_N, away, 0.0), Weight(LIGHT_N, away, 0.0)
    asked = partial(least_pa, cups_of(([0.0], [0.0], [RING_M], 5.0)), (0.0, 0.0, 0.0, pull_n))
    told = [asked(weight) * AREA_M2 for weight in (least, most)]
    by_hand = [
        pull_n - weight.force_n + 2.0 * weight.force_n * away / RING_M for weight in (least, most)
    ]
    assert told == pytest.approx(by_hand, rel=1e-3)
    assert asked(least, most) * AREA_M2 == pytest.approx(max(by_hand), rel=1e-3)
    assert by_hand[1] > 2.0 * by_hand[0]


@pytest.mark.parametrize("seed", range(12))
def test_no_share_of_what_comes_off_asks_for_more_than_all_of_it_or_none(seed):
    """Against the minimum with every tenth of it still there; the answer is the greater end's."""
    chance = np.random.default_rng(seed)
    cups = cups_of((*chance.uniform(0.0, 0.4, (2, 3)), [RING_M] * 3, 0.4))
    (x, y, off_x, off_y), least_n = chance.uniform(-0.1, 0.5, 4), 10.0
    asked = partial(least_pa, cups, (0.2, 0.2, 40.0, 20.0))

    def with_share(share):
        force = least_n + share * 30.0
        at = ((least_n * a + share * 30.0 * b) / force for a, b in ((x, off_x), (y, off_y)))
        return Weight(force, *at)

    found = asked(with_share(0.0), with_share(1.0))
    shares = [asked(with_share(tenth / 10.0)) for tenth in range(11)]
    assert found == pytest.approx(max(shares[0], shares[-1]), rel=4e-4)
    assert max(shares) <= found * (1.0 + 1e-3)


@pytest.mark.parametrize("seed", range(8))
def test_among_many_cases_some_need_the_one_weight_and_some_the_other(seed):
    """The job's answer, and each runner-up, is that of its own worse weight."""
    chance = np.random.default_rng(100 + seed)
    cups = cups_of((*chance.uniform(0.0, 0.4, (2, 5)), [RING_M] * 5, 0.35))
    least, most = Weight(5.0, *chance.uniform(0.0, 0.4, 2)), Weight(60.0, 0.45, 0.2)
    spots = chance.uniform(0.0, 0.4, (40, 2))
    rows = [
        (x, y, 0.012, 0.0, 0.0, pull, 0.0)
        for (x, y), pull in zip(spots, 3.0 * spots[:, 0], strict=True)
    ]
    found = job_minimum(cups, cases_of(rows, 60.0), least, 3, most)
    alone = [
        max(
            job_minimum(cups, cases_of([row], 60.0), weight).pressure_pa for weight in (least, most)
        )
        for row in rows
    ]
    told = [found.pressure_pa, *(runner.pressure_pa for runner in found.runners_up)]
    assert told == pytest.approx(sorted(alone, reverse=True)[:4], rel=4e-4)
