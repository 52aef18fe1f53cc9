"""What stands against a reset, a release and the other commands, where one thing alone stands."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_world import World, reach, site_of

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State

BY_GAUGE = frozenset({"cycle_running"})  # no standstill input


# -- reset -------------------------------------------------------------------------------------


def test_nothing_is_told_against_a_reset_where_there_is_nothing_to_reset() -> None:
    world = reach(State.CUTTING)
    assert world.shown.forbids_reset == ()
    assert world.send(Name.RESET, cause="other") == "not_now"


def test_an_alarm_that_latched_without_a_stop_has_its_reset() -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    assert (world.state, world.alarms()) == (State.CUTTING, {"A12"})
    assert world.shown.forbids_reset == ("cycle_running", "standstill_unknown")
    assert world.send(Name.RESET, cause="other") == "cycle_running"


@pytest.mark.parametrize("state", [State.HOLD_LOST, State.NO_PERMIT])
def test_a_stop_has_its_reset_though_no_alarm_is_latched_any_more(state: State) -> None:
    world = reach(state)
    world.set_ratio(1.5)
    world.run(3.0)
    world.memory = replace(world.memory, alarms=())
    world.step()
    assert not any(alarm.latched for alarm in world.shown.alarms)
    assert world.shown.forbids_reset == ("cycle_running", "standstill_unknown")
    assert world.send(Name.RESET, cause="other") == "cycle_running"
    world.cycle(False)
    assert world.send(Name.RESET, cause="other") is None
    assert world.state is not state


# -- release -----------------------------------------------------------------------------------


def test_where_no_standstill_is_wired_lost_signals_hold_the_release_back() -> None:
    world = reach(State.RELEASE, site=site_of(inputs=BY_GAUGE))
    world.set_vacuum(0.5)
    world.run(4.0)
    assert world.shown.release == "vented"
    world.io = False
    world.step()
    assert world.shown.release == "not_yet"
    assert world.send(Name.NEXT_PART) == "inputs_lost"
    assert world.send(Name.JOB_DONE) == "inputs_lost"


@pytest.mark.parametrize("state", [state for state in State if state not in (
    State.RELEASE, State.PART_HELD)])  # fmt: skip
def test_a_release_is_told_only_where_one_is_due(state: State) -> None:
    shown = reach(state).shown
    assert (shown.release, shown.forbids_release) == (None, ())


# -- zones -------------------------------------------------------------------------------------


def confirmed_a() -> World:
    world = reach(State.SET_UP)
    assert world.send(Name.CONFIRM_ZONE, zone="A") is None
    return world


def test_a_zone_that_is_not_confirmed_cannot_be_undone() -> None:
    world = confirmed_a()
    assert world.send(Name.UNDO_ZONE, zone="B") == "unknown_zone"
    assert world.memory.zones == {"A"}


def test_the_part_is_confirmed_once() -> None:
    """In the step of the confirmation, before the state moves on."""
    world = confirmed_a()
    assert world.send(Name.CONFIRM_ZONE, zone="B") is None
    for _ in range(2):
        world.queue(Name.CONFIRM_PART, warnings=["loose_offcut"])
    assert [reply.refused for reply in world.step().replies] == [None, "not_now"]
