"""The job minimum against Clarabel, a general convex solver, on random set-ups."""

import numpy as np
import pytest
from hold_cases import cases_of, cups_of
from ring_socp import least_pressure, programme, solve
from scipy.optimize import minimize_scalar

from kiosk.hold.minimum import Weight, job_minimum

WITHIN = 1e-3


def random_cups(rng, kind):
    n = 1 if kind == "one" else int(rng.integers(2, 9))
    x, y = rng.uniform(-0.4, 0.4, n), rng.uniform(-0.3, 0.3, n)
    if kind == "collinear":
        y = 0.3 * x + 0.05
    r = np.full(n, rng.uniform(0.02, 0.06))
    if kind == "mixed":
        r = rng.uniform(0.02, 0.06, n)
    return x, y, r, float(rng.uniform(0.12, 0.7))


def random_load(rng, kind):
    reach = 1.2 if kind == "overhang" else 0.45
    at = rng.uniform(-reach, reach, 2)
    z = float(rng.uniform(0.0, 0.05))
    push = rng.normal(0.0, 150.0, 2)
    lift, torque = float(rng.uniform(-100.0, 150.0)), float(rng.normal(0.0, 8.0))
    if kind == "torque":
        push, lift = np.zeros(2), 0.0
    if kind == "upward":
        push, torque = np.zeros(2), 0.0
    return (*map(float, at), z, *map(float, push), lift, torque)


def expect_close(cups, load, weight, found):
    expected = least_pressure(cups, load, weight)
    assert expected is not None
    # an answer below 20 Pa is nothing against any floor: the solver's own accuracy
    assert found == pytest.approx(max(expected, 0.0), rel=WITHIN, abs=20.0)


@pytest.mark.parametrize(
    "kind", ["plain", "mixed", "one", "collinear", "overhang", "torque", "upward"]
)
def test_one_load_agrees_with_a_general_convex_solver(kind):
    rng = np.random.default_rng(sum(kind.encode()))
    proved = 0
    for _ in range(30):
        cups, load = random_cups(rng, kind), random_load(rng, kind)
        weight = (float(rng.uniform(0.0, 120.0)), *map(float, rng.uniform(-0.1, 0.1, 2)))
        found = job_minimum(cups_of(cups), cases_of([load]), Weight(*weight))
        if found.why == "suction_opens_a_seal":
            continue
        assert found.exact
        expect_close(cups, load, weight, found.pressure_pa)
        proved += 1
    assert proved >= 25


def test_many_loads_give_the_worst_of_them():
    rng = np.random.default_rng(11)
    for _ in range(4):
        cups = random_cups(rng, "mixed")
        loads = [random_load(rng, "plain") for _ in range(12)]
        found = job_minimum(cups_of(cups), cases_of(loads), Weight(40.0, 0.0, 0.0))
        each = [least_pressure(cups, load, (40.0, 0.0, 0.0)) for load in loads]
        assert found.pressure_pa == pytest.approx(max(each), rel=WITHIN)
        assert each[found.case] == pytest.approx(max(each), rel=WITHIN)
        for low, high, lift, true in zip(
            found.slip_low_pa, found.slip_high_pa, found.lift_pa, each, strict=True
        ):
            assert low <= true * (1 + WITHIN)
            assert max(high, lift) >= true * (1 - WITHIN)
        for runner in found.runners_up:
            assert runner.pressure_pa == pytest.approx(each[runner.case], rel=WITHIN)


def worst_direction(cups, place, size, pull, weight):
    """Greatest least pressure over directions and both senses of torque: grid, then refine.

    ``place`` is (x, y, z); ``pull`` is (force up, torque).
    """
    up, torque = pull

    def minus(angle, sense):
        push = (size * np.cos(angle), size * np.sin(angle))
        return -least_pressure(cups, (*place, *push, up, sense * torque), weight, points=24)

    step = 2.0 * np.pi / 24
    grid = [(minus(i * step, s), i * step, s) for i in range(24) for s in (1.0, -1.0)]
    _, angle, sense = min(grid)
    fine = minimize_scalar(
        minus, bounds=(angle - step, angle + step), args=(sense,), method="bounded",
        options={"xatol": 1e-3},
    )  # fmt: skip
    return -fine.fun, fine.x


@pytest.mark.parametrize(
    "seed", [*range(3), *(pytest.param(n, marks=pytest.mark.long) for n in range(3, 8))]
)
def test_an_open_direction_is_taken_at_its_worst(seed):
    rng = np.random.default_rng(seed)
    cups = random_cups(rng, "plain")
    at, z = tuple(map(float, rng.uniform(-0.5, 0.5, 2))), float(rng.uniform(0.0, 0.04))
    size, up, torque = 150.0, float(rng.uniform(0.0, 60.0)), 2.0
    weight = (30.0, 0.0, 0.0)
    expected, angle = worst_direction(cups, (*at, z), size, (up, torque), weight)
    case = cases_of([(*at, z, 0.0, 0.0, up, torque)], any_n=size)
    found = job_minimum(cups_of(cups), case, Weight(*weight))
    assert found.pressure_pa == pytest.approx(expected, rel=WITHIN)
    push = (size * found.direction[0], size * found.direction[1])
    either = [
        least_pressure(cups, (*at, z, *push, up, sense * torque), weight, points=24)
        for sense in (1.0, -1.0)
    ]
    assert max(either) == pytest.approx(expected, rel=1e-2), angle


@pytest.mark.parametrize(("kind", "cost"), [("plain", 0.05), ("mixed", 0.05), ("one", 0.35)])
def test_what_even_friction_round_a_ring_costs(kind, cost):
    # where every point of a ring grips by its own pressing force instead: docs/holding-model.md
    # gives these bounds; a single tipped cup is the bad case
    rng, apart = np.random.default_rng(5), []
    for _ in range(30):
        cups, load = random_cups(rng, kind), random_load(rng, kind)
        uneven = solve(programme(cups, even=False), load, (50.0, 0.0, 0.0))
        found = job_minimum(cups_of(cups), cases_of([load]), Weight(50.0, 0.0, 0.0)).pressure_pa
        if uneven is not None and found is not None and found > 1000.0:
            apart.append(uneven / found - 1.0)
    assert len(apart) > 20
    assert max(map(abs, apart)) < cost
