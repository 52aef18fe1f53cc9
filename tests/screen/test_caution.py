"""The caution that stands at the foot of every screen."""

from __future__ import annotations

import pytest
from screen_scenes import hold, snapshot

from kiosk.screen.show import caution_code


@pytest.mark.parametrize(
    ("state", "closed", "vacuum_kpa", "code"),
    [
        ("CHECKING", False, 66.0, "C08"),  # emergency stop: the part is still held
        ("CHECKING", False, 2.0, "C08"),
        ("CHECKING", False, 1.9, "C05"),  # vented: nothing is held
        ("CHECKING", True, 66.0, "C05"),
        ("CHECKING", None, 66.0, "C05"),  # not known, or not wired
        ("HOLD LOST", False, 66.0, "C07"),  # a cutter that may turn comes first
    ],
)
def test_an_emergency_stop_over_a_held_part_has_its_own_caution(
    state: str, closed: bool | None, vacuum_kpa: float, code: str
) -> None:
    shown = snapshot(state, inputs={"stop_healthy": closed}, hold=hold(vacuum_kpa))
    assert caution_code(shown) == code


def test_a_vacuum_that_is_not_known_is_not_said_to_be_on() -> None:
    shown = snapshot("CHECKING", inputs={"stop_healthy": False}, hold=hold(None), gauges=())
    assert caution_code(shown) == "C05"
