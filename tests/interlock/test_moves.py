"""What entering and leaving a state takes with it: the plan, the seats, the part, the choice.

Rules: docs/interlock.md, "Events and moves".
"""

from __future__ import annotations

import pytest
from interlock_site import OFFER, kpa_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State


def chosen_again(world: World) -> World:
    """The same job once more, from SELECT JOB."""
    assert world.state is State.SELECT_JOB
    world.select()
    return world


# -- seats confirmed before --------------------------------------------------------------------


def test_a_held_part_that_is_vented_keeps_its_seats_for_the_same_job() -> None:
    world = reach(State.PART_HELD)
    world.set_vacuum(0.5)
    world.run(3.2)
    assert chosen_again(world).shown.map_kept


def test_a_job_that_is_done_keeps_no_seats() -> None:
    world = reach(State.PART_HELD)
    assert world.send(Name.FINISH) is None
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.send(Name.JOB_DONE) is None
    assert not chosen_again(world).shown.map_kept


def test_a_start_without_permit_over_a_kept_plan_keeps_its_seats() -> None:
    world = reach(State.PART_HELD)
    world.cycle(True)
    assert world.state is State.NO_PERMIT
    world.set_vacuum(0.5)
    world.run(3.2)
    world.cycle(False)
    assert world.send(Name.RESET, cause="wrong_start") is None
    assert chosen_again(world).shown.map_kept


@pytest.mark.parametrize("state", [State.SET_UP, State.CHECKING, State.READY])
def test_a_job_that_is_left_leaves_nothing_confirmed(state: State) -> None:
    world = reach(state)
    assert world.send(Name.CANCEL_JOB) is None
    shown = world.shown
    assert (world.state, shown.plan, shown.zones) == (State.SELECT_JOB, None, ())
    assert not shown.part_confirmed
    assert [row["change"] for row in world.of_kind("plan")][-1] == "dropped"
    assert not chosen_again(world).shown.map_kept


def test_a_job_chosen_and_left_before_its_plan_came_drops_no_plan() -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    world.send(Name.SELECT_JOB, job=OFFER.file)
    assert world.send(Name.CANCEL_JOB) is None
    assert (world.dropped_planner, world.of_kind("plan")) == (1, [])
    assert world.send(Name.CANCEL_JOB) is None
    assert world.dropped_planner == 1


def test_a_plan_that_is_adopted_stops_no_planner() -> None:
    world = reach(State.SET_UP)
    assert (world.dropped_planner, world.shown.planning) == (0, None)


# -- vacuum before the part is confirmed -------------------------------------------------------


def test_an_open_table_in_the_set_up_is_no_part_that_was_taken_off() -> None:
    world = reach(State.SET_UP)
    world.run(4.0)
    world.set_vacuum(30.0)
    world.run(1.0)
    world.set_vacuum(0.5)
    world.run(4.0)
    assert "vented" not in {row["event"] for row in world.of_kind("state")}


def test_a_part_confirmed_over_a_table_that_was_open_long_is_still_there() -> None:
    world = reach(State.SET_UP)
    world.run(4.0)
    world.confirm()
    world.run(4.0)
    assert world.state is State.CHECKING


# -- alarms of the step in which the cut begins or ends ----------------------------------------


def test_a_warning_that_stands_when_the_cut_begins_is_told_in_that_step() -> None:
    world = reach(State.READY)
    world.ramp(1.31, 0.4)
    assert world.send(Name.REQUEST_PERMIT) is None
    world.ramp(1.22, 0.22)
    assert (world.state, world.alarms()) == (State.PERMIT, set())
    world.cycle(True)
    assert "A06" in world.alarms()


def test_a_loss_in_the_step_in_which_the_cycle_stops_is_told() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.02)
    world.set_vacuum(kpa_of(0.99))
    while world.state is not State.HOLD_LOST:
        before = world.twin()
        world.step()
    before.cycle(False)
    assert before.state is State.HOLD_LOST
    assert "A01" in {alarm.code for alarm in before.shown.alarms if alarm.latched}
