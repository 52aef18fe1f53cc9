"""Laws that any minimum must keep, on set-ups that hypothesis invents."""

import numpy as np
import pytest
from hold_cases import cups_of
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.hold.minimum import Cases, Weight, job_minimum

CLOSE = 1e-3
QUICK = settings(max_examples=25, deadline=None, derandomize=True)


def number(low, high):
    return st.floats(low, high, allow_nan=False, allow_subnormal=False)


@st.composite
def set_ups(draw):
    """(x, y, r, mu), load rows (x, y, z, fx, fy, fz, any, torque), weight (force, x, y)."""
    cups = draw(
        st.lists(
            st.tuples(number(-0.4, 0.4), number(-0.3, 0.3)),
            min_size=1, max_size=7, unique_by=lambda at: (round(at[0], 2), round(at[1], 2)),
        )
    )  # fmt: skip
    x, y = np.array(cups, dtype=float).T
    r = np.full(x.size, draw(number(0.02, 0.06)))
    loads = draw(st.lists(st.tuples(*_LOAD), min_size=1, max_size=4))
    table = np.array(loads, dtype=float)
    open_ = draw(st.booleans())
    size = np.hypot(table[:, 3], table[:, 4])
    fixed = np.zeros((len(table), 2)) if open_ else table[:, 3:5]
    rows = np.column_stack(
        [table[:, :3], fixed, table[:, 5], size if open_ else 0 * size, table[:, 6]]
    )
    weight = (draw(number(0.0, 80.0)), draw(number(-0.1, 0.1)), draw(number(-0.1, 0.1)))
    return (x, y, r, draw(number(0.15, 0.7))), rows, weight


_LOAD = (
    number(-0.5, 0.5), number(-0.4, 0.4), number(0.0, 0.04), number(-200.0, 200.0),
    number(-200.0, 200.0), number(-50.0, 80.0), number(-5.0, 5.0),
)  # fmt: skip


def minimum(cups, rows, weight, factor=2.0):
    cases = Cases(*rows.T, np.full(len(rows), factor))
    return job_minimum(cups_of(cups), cases, Weight(*weight)).pressure_pa


def same(found, expected):
    assert found == pytest.approx(expected, rel=CLOSE, abs=1.0)


@QUICK
@given(set_ups())
def test_a_mirror_changes_nothing(set_up):
    (x, y, r, mu), rows, weight = set_up
    mirrored = rows * np.array([-1, 1, 1, -1, 1, 1, 1, -1])
    same(
        minimum((-x, y, r, mu), mirrored, (weight[0], -weight[1], weight[2])),
        minimum((x, y, r, mu), rows, weight),
    )


@QUICK
@given(set_ups(), number(-3.0, 3.0))
def test_a_turn_changes_nothing(set_up, angle):
    (x, y, r, mu), rows, weight = set_up
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    turned = rows.copy()
    turned[:, :2], turned[:, 3:5] = rows[:, :2] @ turn.T, rows[:, 3:5] @ turn.T
    cups = turn @ np.stack([x, y])
    centre = turn @ np.array(weight[1:])
    same(
        minimum((cups[0], cups[1], r, mu), turned, (weight[0], *centre)),
        minimum((x, y, r, mu), rows, weight),
    )


@QUICK
@given(set_ups(), number(-2.0, 2.0), number(-2.0, 2.0))
def test_a_shift_changes_nothing(set_up, right, away):
    (x, y, r, mu), rows, weight = set_up
    shifted = rows + np.array([right, away, 0, 0, 0, 0, 0, 0])
    same(
        minimum((x + right, y + away, r, mu), shifted,
                (weight[0], weight[1] + right, weight[2] + away)),
        minimum((x, y, r, mu), rows, weight),
    )  # fmt: skip


@QUICK
@given(set_ups())
def test_all_forces_and_the_weight_doubled_double_it(set_up):
    cups, rows, weight = set_up
    heavy = (2.0 * weight[0], *weight[1:])
    same(minimum(cups, rows, heavy, factor=4.0), 2.0 * minimum(cups, rows, weight))


@QUICK
@given(set_ups(), number(-0.4, 0.4), number(-0.3, 0.3))
def test_without_weight_or_pull_or_tipping_one_more_cup_never_raises_it(set_up, right, away):
    (x, y, r, mu), rows, _ = set_up
    flat = rows * np.array([1, 1, 0, 1, 1, 0, 1, 1])
    more = (np.append(x, right), np.append(y, away), np.append(r, r[0]), mu)
    before = minimum((x, y, r, mu), flat, (0.0, 0.0, 0.0))
    assert minimum(more, flat, (0.0, 0.0, 0.0)) <= before * (1.0 + CLOSE) + 1.0


@QUICK
@given(set_ups(), number(0.0, 1.0))
def test_the_whole_cutter_force_scaled_down_never_raises_it(set_up, share):
    cups, rows, _ = set_up
    full = minimum(cups, rows, (0.0, 0.0, 0.0))
    assert minimum(cups, rows, (0.0, 0.0, 0.0), factor=2.0 * share) <= full * (1 + CLOSE) + 1.0


@QUICK
@given(set_ups())
def test_scaled_down_never_raises_it_when_the_weight_lies_within_the_cups(set_up):
    (x, y, r, mu), rows, weight = set_up
    inside = (weight[0], float(x.mean()), float(y.mean()))
    full = minimum((x, y, r, mu), rows, inside)
    half = minimum((x, y, r, mu), rows, inside, factor=1.0)
    assert half <= full * (1 + CLOSE) + 1.0


@QUICK
@given(set_ups())
def test_one_more_load_never_lowers_it(set_up):
    cups, rows, weight = set_up
    assert minimum(cups, rows, weight) >= minimum(cups, rows[:1], weight) * (1.0 - CLOSE) - 1.0


@QUICK
@given(set_ups())
def test_less_friction_never_lowers_it(set_up):
    (x, y, r, mu), rows, weight = set_up
    slippery = minimum((x, y, r, 0.7 * mu), rows, weight)
    assert slippery >= minimum((x, y, r, mu), rows, weight) * (1.0 - CLOSE) - 1.0


@QUICK
@given(set_ups(), number(0.0, 6.28))
def test_an_open_direction_is_never_milder_than_a_given_one(set_up, angle):
    cups, rows, weight = set_up
    size = np.hypot(rows[:, 3], rows[:, 4]) + rows[:, 6]
    zero = 0 * size
    open_ = np.column_stack([rows[:, :3], zero, zero, rows[:, 5], size, rows[:, 7]])
    pushes = np.column_stack([size * np.cos(angle), size * np.sin(angle)])
    given_ = np.column_stack([rows[:, :3], pushes, rows[:, 5], zero, rows[:, 7]])
    assert minimum(cups, given_, weight) <= minimum(cups, open_, weight) * (1 + CLOSE) + 1.0
