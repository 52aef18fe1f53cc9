"""Which weight counts: by statics of a ring, and against more and less of what comes off."""

import numpy as np
import pytest
from hold_cases import cases_of, cups_of

from kiosk.hold.minimum import Weight, job_minimum
from kiosk.hold.weights import weights_that_count

RING_M = 0.034
AREA_M2 = np.pi * RING_M**2
FOUR = ([0.0, 0.2, 0.0, 0.2], [0.0, 0.0, 0.2, 0.2], [RING_M] * 4, 0.4)
HEAVY_N, LIGHT_N = 20.0, 8.0


def least_pa(cups, weight, at, push_n, pull_n):
    """Pushed anywhere in the plane and pulled up, 10 mm above the seals."""
    load = (*at, 0.01, 0.0, 0.0, pull_n, 0.0)
    return job_minimum(cups, cases_of([load], push_n), weight).pressure_pa


def test_what_presses_amid_the_cups_only_helps():
    most, least = Weight(HEAVY_N, 0.1, 0.1), Weight(LIGHT_N, 0.1, 0.1)
    cups = cups_of(FOUR)
    assert weights_that_count(cups, most, least) == (least,)
    load = (0.1, 0.1), 60.0, 30.0
    assert least_pa(cups, least, *load) > least_pa(cups, most, *load)


def test_off_its_cup_a_weight_tips_the_part_and_the_greater_one_counts():
    """A ring that carries W at d from its middle opens where S + W - F = 2 W d / r, F upward."""
    away, pull_n = 0.1, 1.0
    most, least = Weight(HEAVY_N, away, 0.0), Weight(LIGHT_N, away, 0.0)
    cup = cups_of(([0.0], [0.0], [RING_M], 5.0))
    counted = weights_that_count(cup, most, least)
    assert counted == (least, most)
    told = [least_pa(cup, weight, (0.0, 0.0), 0.0, pull_n) * AREA_M2 for weight in counted]
    by_hand = [pull_n - weight.force_n + 2.0 * weight.force_n * away / RING_M for weight in counted]
    assert told == pytest.approx(by_hand, rel=1e-3)
    assert told[1] > told[0]


def test_what_comes_off_beyond_the_cups_counts_though_all_together_it_presses():
    """The whole presses all round, but 12 N of it stand far out and go."""
    most, least = Weight(HEAVY_N, 0.19, 0.1), Weight(LIGHT_N, 0.1, 0.1)
    cups = cups_of(FOUR)
    assert weights_that_count(cups, most, least) == (least, most)


def test_without_cups_there_is_nothing_to_ask():
    least = Weight(LIGHT_N, 0.1, 0.1)
    none = cups_of(([], [], [], 0.4))
    assert weights_that_count(none, Weight(HEAVY_N, 0.1, 0.1), least) == (least,)


@pytest.mark.parametrize("seed", range(12))
def test_no_share_of_what_comes_off_asks_for_more_than_all_of_it_or_none(seed):
    """Against the minimum with every tenth of it still there."""
    chance = np.random.default_rng(seed)
    cups = cups_of((*chance.uniform(0.0, 0.4, (2, 3)), [RING_M] * 3, 0.4))
    (x, y, off_x, off_y), least_n = chance.uniform(-0.1, 0.5, 4), 10.0
    load = (0.2, 0.2), 40.0, 20.0

    def with_share(share):
        force = least_n + share * 30.0
        at = ((least_n * a + share * 30.0 * b) / force for a, b in ((x, off_x), (y, off_y)))
        return Weight(force, *at)

    counted = weights_that_count(cups, with_share(1.0), with_share(0.0))
    asked = max(least_pa(cups, weight, *load) for weight in counted)
    for tenth in range(11):
        assert least_pa(cups, with_share(tenth / 10.0), *load) <= asked * (1.0 + 1e-3)
