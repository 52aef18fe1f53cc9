"""Levels that the gauge must show, and the caution printed beside a minimum."""

import pytest

from kiosk.hold.materials import Kienzle, Value
from kiosk.hold.verdict import caution, levels, ratio


def test_required_and_start_levels_of_an_example_by_hand():
    # minimum 40 kPa, drop 2, error 1: required 43, start 1.15 x 40 + 3 = 49
    found = levels(40e3, 20e3, 2e3, 1e3, 1.15)
    assert (found.minimum_pa, found.required_pa, found.start_pa) == pytest.approx(
        (40e3, 43e3, 49e3)
    )
    assert not found.by_floor


def test_a_light_load_is_held_to_the_floor():
    found = levels(3e3, 20e3, 2e3, 1e3, 1.15)
    assert (found.minimum_pa, found.required_pa, found.start_pa) == pytest.approx(
        (20e3, 23e3, 26e3)
    )
    assert found.by_floor


def test_r_is_one_at_the_required_level_and_the_start_ratio_at_the_start_level():
    found = levels(40e3, 20e3, 2e3, 1e3, 1.15)
    assert ratio(found.required_pa, found.minimum_pa, 2e3, 1e3) == pytest.approx(1.0)
    assert ratio(found.start_pa, found.minimum_pa, 2e3, 1e3) == pytest.approx(1.15)


@pytest.mark.parametrize("minimum", [0.0, -1.0])
def test_a_ratio_to_nothing_is_refused(minimum):
    with pytest.raises(ValueError, match="above zero"):
        ratio(50e3, minimum, 0.0, 0.0)


def value(low, typical, high):
    return Value(low, typical, high, "C", "of the example")


def test_the_caution_is_told_as_three_factors_and_their_product():
    row = Kienzle(value(20e6, 40e6, 60e6), value(0.3, 0.4, 0.5), value(0.1, 0.2, 0.3))
    fresh = caution(row, "sharp", value(0.45, 0.6, 0.9), 2.0)
    assert (fresh.force, fresh.friction, fresh.safety) == pytest.approx((1.5, 4.0 / 3.0, 2.0))
    assert fresh.product == pytest.approx(4.0)
    assert caution(row, "blunt", value(0.45, 0.6, 0.9), 2.0).force == pytest.approx(1.6)
