"""A gauge whose value stands still to the last digit while the pump runs.

The times are our own choice.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from doubted import PUMP, doubt, letter
from interlock_site import TWO_GAUGES, kpa_of, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State

S = State


def test_frozen_is_exactly_the_same_for_30_s_while_the_pump_runs() -> None:
    world = reach(S.CHECKING, site=PUMP)
    world.inputs["pump_running"] = True
    world.set_vacuum(70.0)
    world.run(29.9)
    assert not doubt(world).frozen
    world.run(0.2)
    assert doubt(world).frozen
    assert letter(world) == "S"
    assert "gauge_plausible" in world.unmet()
    world.set_vacuum(70.001)
    world.step()
    assert (doubt(world).frozen, letter(world)) == (False, "")


def test_a_value_that_moves_in_its_last_digit_is_not_frozen() -> None:
    world = reach(S.CHECKING, site=PUMP)
    world.inputs["pump_running"] = True
    for number in range(40):
        world.set_vacuum(70.0 + 0.001 * (number % 2))
        world.run(1.0)
    assert not doubt(world).frozen


def begins_after(world: World, seconds: float) -> None:
    """It is not frozen half a second before so long from now, and is half a second after."""
    world.run(seconds - 0.5)
    assert not doubt(world).frozen
    world.run(1.0)
    assert doubt(world).frozen


def pumping(kpa: float = 70.0, seconds: float = 0.0, **inputs: bool) -> World:
    """The pump runs, the valve is open unless told, and the gauge shows always the same."""
    world = reach(S.CHECKING, site=PUMP)
    world.inputs.update({"pump_running": True, "valve_open": True, **inputs})
    world.set_vacuum(kpa)
    world.run(seconds)
    return world


def test_time_without_the_pump_does_not_count() -> None:
    world = pumping(pump_running=False)
    world.run(60.0)
    assert not doubt(world).frozen
    world.inputs["pump_running"] = True
    begins_after(world, 30.0)


def test_a_pump_that_cycles_hides_no_frozen_gauge() -> None:
    """Three times 10 s of a running pump are 30 s, however long it rests between."""
    world = pumping()
    for _ in range(3):
        assert not doubt(world).frozen
        world.inputs["pump_running"] = True
        world.run(10.1)
        world.inputs["pump_running"] = False
        world.run(1.0)
    assert doubt(world).frozen


@pytest.mark.parametrize("stop", ["pump off", "signals lost", "valve closed"])
def test_a_frozen_gauge_stays_so_until_its_value_changes(stop: str) -> None:
    """What was found untrue is no truer for a pump that trips: no permit on it."""
    world = pumping(kpa_of(1.5), seconds=30.1)
    assert doubt(world).frozen
    world.inputs["pump_running"] = stop == "valve closed"
    world.inputs["valve_open"] = stop != "valve closed"
    world.io = stop != "signals lost"
    world.run(10.0)
    world.io = True
    world.run(5.0)
    assert "gauge_plausible" in world.unmet()
    assert world.send(Name.REQUEST_PERMIT) == "hold_not_proved"
    assert world.outputs == (False, False)
    world.set_ratio(1.501)
    world.run(4.0)
    assert world.state is S.READY


def test_another_value_while_the_pump_stands_begins_the_count_anew() -> None:
    world = pumping(seconds=29.0)
    world.inputs["pump_running"] = False
    world.set_vacuum(69.9)
    world.run(1.0)
    world.inputs["pump_running"] = True
    begins_after(world, 30.0)


@pytest.mark.parametrize(
    ("kpa", "valve_open", "frozen"),
    [(0.0, False, False), (2.0, False, False), (2.1, False, True), (0.0, True, True)],
)
def test_a_good_gauge_may_stand_still_at_a_table_at_rest(
    kpa: float, valve_open: bool, frozen: bool
) -> None:
    """The pump of a shop may run all day: with the valve closed nothing moves a vented gauge."""
    world = pumping(kpa, seconds=40.0, valve_open=valve_open)
    assert doubt(world).frozen is frozen
    assert ("A09" in world.alarms()) is frozen


def test_rest_between_parts_adds_nothing_to_the_count() -> None:
    world = pumping(1.0, seconds=20.0)
    world.inputs["valve_open"] = False
    world.run(60.0)
    world.inputs["valve_open"] = True
    begins_after(world, 10.0)


def test_a_gauge_that_never_answered_is_not_frozen() -> None:
    world = World(site=PUMP)
    world.set_vacuum(None)
    world.inputs["pump_running"] = True
    world.run(40.0)
    world.set_vacuum(70.0)
    begins_after(world, 30.0)


def test_a_pump_that_is_not_known_to_run_is_not_taken_to_run() -> None:
    world = reach(S.CHECKING, site=PUMP)
    world.inputs["pump_running"] = True
    world.io = False
    world.run(40.0)
    assert not doubt(world).frozen


def test_a_gauge_with_coarse_steps_may_be_given_longer() -> None:
    slow = replace(site_of().gauges[0], frozen_s=120.0)
    world = reach(S.CHECKING, site=replace(PUMP, gauges=(slow,)))
    world.inputs["pump_running"] = True
    world.set_vacuum(70.0)
    begins_after(world, 120.0)


def test_of_two_gauges_the_one_that_stands_still_is_frozen() -> None:
    site = replace(PUMP, gauges=TWO_GAUGES)
    world = reach(S.CHECKING, site=site)
    world.inputs.update(pump_running=True, valve_open=True)
    for number in range(31):
        world.vacuum["pump"] = 10.0 + 0.01 * number
        world.run(1.0)
    assert doubt(world, "table").frozen
    assert not doubt(world, "pump").frozen
    alarm = next(a for a in world.shown.alarms if a.code == "A09")
    assert (alarm.value, alarm.limit) == (pytest.approx(30.0, abs=0.1), 30.0)
