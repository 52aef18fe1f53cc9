"""The job minimum against closed forms and handbook examples of friction and fastener groups.

With one size of cup, no weight and the load in the seal plane, every cup presses with p A, so a
group that slips at a load P in a handbook slips here at mu p A per cup; seals of 0.1 mm radius
stand for the handbook's point contacts.
"""

import dataclasses
import math

import numpy as np
import pytest
from hold_cases import cases_of, cups_of
from ring_socp import least_pressure

from kiosk.hold.minimum import Weight, job_minimum

NOTHING = Weight(0.0, 0.0, 0.0)
CLOSE = 5e-4  # the answer is given up to 0.02 % high, lift up to 0.03 %
POINT = 1e-4
MU = 0.4


def solved(cups, loads, **more):
    return job_minimum(cups_of(cups), cases_of(loads, **more), NOTHING)


def friction_at(found, radius):
    """mu N that each cup of this radius carries at the minimum found."""
    return MU * found.pressure_pa * math.pi * radius**2


def test_one_ring_in_torsion_carries_mu_n_r():
    # thin ring: M = mu N r (statics of a ring of friction)
    found = solved(([0.2], [0.1], [0.034], MU), [(0.2, 0.1, 0.0, 0.0, 0.0, 0.0, 3.0)])
    assert friction_at(found, 0.034) * 0.034 == pytest.approx(3.0, rel=CLOSE)
    assert found.mode == "slip"


def test_a_disc_of_many_small_cups_carries_two_thirds_mu_n_r():
    # uniform disc: M = (2/3) mu N R (plate clutch at uniform pressure)
    side = (np.arange(81) - 40) / 40.0
    x, y = (grid.ravel() for grid in np.meshgrid(side, side))
    inside = x**2 + y**2 < 0.99**2
    x, y = 0.2 * x[inside], 0.2 * y[inside]
    found = solved((x, y, np.full(x.size, POINT), MU), [(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 5.0)])
    total = friction_at(found, POINT) * x.size
    radius = math.sqrt(x.size) * (0.2 / 40.0) / math.sqrt(math.pi)  # of equal area
    assert total * radius * 2.0 / 3.0 == pytest.approx(5.0, rel=3e-3)


def test_pure_translation_uses_the_whole_friction():
    cups = ([0.0, 0.3, 0.1], [0.0, 0.1, 0.4], [0.03] * 3, MU)
    found = solved(cups, [(0.4 / 3, 0.5 / 3, 0.0, 30.0, 40.0, 0.0, 0.0)])
    assert 3 * friction_at(found, 0.03) == pytest.approx(50.0, rel=CLOSE)
    assert found.direction == pytest.approx((0.6, 0.8))


@pytest.mark.parametrize(
    ("offset_mm", "slips_at"),
    [(0, 100.0), (50, 66.666667), (100, 50.0), (200, 33.333333), (1000, 9.0909091)],
)
def test_two_contacts_slip_at_two_a_c_over_a_plus_e(offset_mm, slips_at):
    # C5-08: two contacts at +-100 mm, 50 N each: P = 2 a c / (a + e)
    cups = ([0.1, -0.1], [0.0, 0.0], [POINT] * 2, MU)
    found = solved(cups, [(offset_mm / 1e3, 0.0, 0.0, 0.0, slips_at, 0.0, 0.0)])
    assert friction_at(found, POINT) == pytest.approx(50.0, rel=CLOSE)


SQUARE = [(100, 200.0, 0), (100, 181.38992, 50), (100, 151.84618, 100), (100, 107.37146, 200),
          (100, 64.131022, 400), (100, 27.753548, 1000)]  # fmt: skip


@pytest.mark.parametrize(("half_mm", "slips_at", "offset_mm"), SQUARE)
def test_square_group_as_by_the_instantaneous_centre(half_mm, slips_at, offset_mm):
    # C5-05: four contacts of 50 N; instantaneous-centre method of eccentric bolt groups
    half = half_mm / 1e3
    cups = ([half, half, -half, -half], [half, -half, half, -half], [POINT] * 4, MU)
    found = solved(cups, [(offset_mm / 1e3, 0.0, 0.0, 0.0, slips_at, 0.0, 0.0)])
    assert friction_at(found, POINT) == pytest.approx(50.0, rel=CLOSE)


@pytest.mark.parametrize(
    ("offset_mm", "slips_at"), [(0, 450.0), (100, 307.51408), (200, 204.97861), (400, 117.35649)]
)
def test_nine_contacts_as_by_the_instantaneous_centre(offset_mm, slips_at):
    # C5-06: 3 x 3 contacts at 100 mm, 50 N each
    x, y = (grid.ravel() for grid in np.meshgrid([-0.1, 0.0, 0.1], [-0.1, 0.0, 0.1]))
    found = solved((x, y, [POINT] * 9, MU), [(offset_mm / 1e3, 0, 0, 0, slips_at, 0, 0)])
    assert friction_at(found, POINT) == pytest.approx(50.0, rel=CLOSE)


@pytest.mark.parametrize(
    ("offset_mm", "slips_at"),
    [(150, 160.0), (250, 121.53417), (350, 86.920586), (450, 67.6049)],
)
def test_unequal_contacts_even_with_the_centre_on_a_contact(offset_mm, slips_at):
    # C5-07: capacities 60, 40, 40, 20 N at the corners of 300 x 200 mm.  Equal pressing forces
    # come from cups of one size; the capacities come from cups stacked at one corner: 3, 2, 2, 1.
    corners = [(0.0, 0.0)] * 3 + [(0.3, 0.0)] * 2 + [(0.3, 0.2)] * 2 + [(0.0, 0.2)]
    x, y = np.array(corners).T
    found = solved((x, y, [POINT] * 8, MU), [(offset_mm / 1e3, 0, 0, 0, slips_at, 0, 0)])
    assert friction_at(found, POINT) == pytest.approx(20.0, rel=CLOSE)


def test_line_of_many_contacts_turns_at_mu_n_l_over_four():
    # uniform line about its centre: M = mu N L / 4
    x = (np.arange(200) - 99.5) / 200.0 * 0.6
    found = solved((x, np.zeros(200), [POINT] * 200, MU), [(0, 0, 0, 0, 0, 0, 4.0)])
    assert 200 * friction_at(found, POINT) * 0.6 / 4.0 == pytest.approx(4.0, rel=CLOSE)


@pytest.mark.parametrize(
    ("centre", "force", "moment"),
    [(0.5, 0.2586579, 0.9342155), (1.0, 2 / math.pi, 2 / math.pi), (2.0, 0.9342155, 0.2586579)],
)
def test_one_ring_slides_and_turns_on_its_limit_surface(centre, force, moment):
    # C5-04r: thin ring, centre of rotation at c / R: F / (mu N), M / (mu N R)
    radius, size = 0.05, 100.0
    load = (0.0, 0.0, 0.0, 0.0, size * force, 0.0, size * radius * moment)
    found = solved(([0.0], [0.0], [radius], MU), [load])
    assert friction_at(found, radius) == pytest.approx(size, rel=CLOSE)


def test_one_cup_tips_at_the_kern_of_a_thin_ring():
    # a thin ring opens at M = S r / 2
    push, height, radius = 40.0, 0.02, 0.034
    load = (0.0, 0.0, height, push, 0.0, 0.0, 0.0)
    found = solved(([0.0], [0.0], [radius], 5.0), [load])
    suction = found.pressure_pa * math.pi * radius**2
    assert found.mode == "lift"
    assert suction * radius / 2.0 == pytest.approx(push * height, rel=CLOSE)


def test_a_central_pull_lifts_at_its_own_size():
    cups = ([0.0, 0.2, 0.0, 0.2], [0.0, 0.0, 0.2, 0.2], [0.03] * 4, MU)
    found = solved(cups, [(0.1, 0.1, 0.02, 0.0, 0.0, 300.0, 0.0)])
    assert found.mode == "lift"
    assert found.pressure_pa * 4 * math.pi * 0.03**2 == pytest.approx(300.0, rel=CLOSE)


def plane_loads(points, load, at):
    """Pressing forces of equal springs read off lift pressures: see the tests that use it."""
    x, y = np.array(points, dtype=float).T
    return np.array(
        [
            load / len(x) + load * at[0] * px / (x**2).sum() + load * at[1] * py / (y**2).sum()
            for px, py in zip(x, y, strict=True)
        ]
    )


@pytest.mark.parametrize(
    ("points", "load", "at", "published"),
    [
        # C5-01: pad on four supports at (+-3, +-2), 100 at (2, 1): published 54, 29, 21, -4
        ([(3, 2), (3, -2), (-3, 2), (-3, -2)], 100.0, (2.0, 1.0),
         [54.166667, 29.166667, 20.833333, -4.1666667]),
        # C5-03: 3 x 3 at pitch 100, N 900, Mx 30 000, My 15 000
        ([(x, y) for x in (-100, 0, 100) for y in (-100, 0, 100)], 900.0, (15e3 / 900, 30e3 / 900),
         [25, 75, 125, 50, 100, 150, 75, 125, 175]),
    ],
)  # fmt: skip
def test_pull_on_a_group_lifts_where_the_spring_formula_says(points, load, at, published):
    # The same springs pulled instead of pressed: the hardest-pulled point opens first, at the
    # greatest published force (handbook formula N / n + M c / sum c^2).
    assert plane_loads(points, load, at) == pytest.approx(published, rel=1e-6)
    x, y = np.array(points, dtype=float).T / 1e2
    radius = 1e-5
    found = solved(
        (x, y, [radius] * len(x), 1.0), [(at[0] / 1e2, at[1] / 1e2, 0.0, 0.0, 0.0, load, 0.0)]
    )
    assert found.mode == "lift"
    pull = found.pressure_pa * math.pi * radius**2
    assert pull == pytest.approx(max(published), rel=CLOSE)


def test_a_pile_cap_sheet_gives_the_same_greatest_share():
    # C5-02: four piles of a published sheet, with the product of inertia: the exact shares are
    # 405.753, 384.224, 441.233, 461.789 kN for 1693 kN
    points = [(-376, 393), (376, 437), (370, -339), (-336, -385)]
    x, y = np.array(points, dtype=float).T / 1e3
    load = (0.0, 0.0, 0.0, 0.0, 0.0, 1693.0, 0.0)
    found = solved((x, y, [1e-6] * 4, 1.0), [load])
    assert found.pressure_pa * math.pi * 1e-12 == pytest.approx(461.789, rel=CLOSE)


def test_the_whole_chain_on_four_cups():
    # C10-01: four 90 mm cups at +-100 mm, mu 0.4, safety 2, push 150 N, pull 40 N, weight 30 N:
    # central 31.438 kPa.  Eccentric by 100 mm with equal pressing forces: 40.785 kPa.
    half, radius = 0.1, 0.045
    cups = cups_of(([half, half, -half, -half], [half, -half, half, -half], [radius] * 4, 0.4))
    central = cases_of([(0.0, 0.0, 0.0, 0.0, 150.0, 40.0, 0.0)], factor=2.0)
    found = job_minimum(cups, central, Weight(30.0, 0.0, 0.0))
    assert found.pressure_pa == pytest.approx(31438.01, rel=CLOSE)
    # the pull stays central and the push is moved by a torque, so that pressing stays equal; the
    # sheet's 40.785 kPa is for point contacts, and rings of 45 mm resist turning a little more
    moved = cases_of([(0.0, 0.0, 0.0, 0.0, 150.0, 40.0, 15.0)], factor=2.0)
    ringed = job_minimum(cups, moved, Weight(30.0, 0.0, 0.0)).pressure_pa
    assert 31438.01 < ringed < 40784.6
    tiny = cups_of(([half, half, -half, -half], [half, -half, half, -half], [1e-3] * 4, 0.4))
    pointed = job_minimum(tiny, moved, Weight(30.0, 0.0, 0.0)).pressure_pa
    area_ratio = (1e-3 / radius) ** 2
    assert pointed * area_ratio == pytest.approx(40784.6, rel=CLOSE)


def test_no_cups_and_no_friction_give_no_number_and_say_why():
    load = cases_of([(0.0, 0.0, 0.0, 10.0, 0.0, 0.0, 0.0)])
    none = job_minimum(cups_of(([], [], [], 0.4)), load, NOTHING)
    assert (none.pressure_pa, none.case, none.why) == (None, None, "no_cups")
    smooth = job_minimum(cups_of(([0.0], [0.0], [0.03], 0.0)), load, NOTHING)
    assert (smooth.pressure_pa, smooth.why) == (None, "no_friction")


def test_suction_that_opens_a_seal_is_never_called_held():
    # One plane through a large cup and two small ones in line dips below zero at the middle one
    # whatever the vacuum; the general convex solver finds no pressure either.
    cups = ([0.0, 0.4, 0.8], [0.0] * 3, [0.05, 0.005, 0.005], 0.5)
    load = (0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0)
    found = job_minimum(cups_of(cups), cases_of([load]), NOTHING)
    assert (found.pressure_pa, found.why) == (None, "suction_opens_a_seal")
    x, y, r = (np.array(values) for values in cups[:3])
    assert least_pressure((x, y, r, 0.5), load, (0.0, 0.0, 0.0)) is None


def test_a_part_that_its_weight_holds_needs_nothing():
    cups = cups_of(([0.0, 0.3], [0.0, 0.1], [0.03] * 2, 0.5))
    found = job_minimum(
        cups, cases_of([(0.1, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0)]), Weight(400.0, 0.15, 0.05)
    )
    assert (found.pressure_pa, found.case, found.mode) == (0.0, None, None)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"any_n": [-1.0]}, "must not be negative"),
        ({"any_n": [5.0]}, "either fixed or in any direction"),
        ({"fz_n": [float("nan")]}, "not a number"),
        ({"fz_n": [0.0, 1.0]}, "length"),
    ],
)
def test_loads_that_make_no_sense_are_refused_in_words(change, words):
    cases = cases_of([(0.0, 0.0, 0.0, 10.0, 0.0, 0.0, 0.0)])
    changed = dataclasses.replace(cases, **{k: np.array(v) for k, v in change.items()})
    with pytest.raises(ValueError, match=words):
        job_minimum(cups_of(([0.0], [0.0], [0.03], 0.4)), changed, NOTHING)
