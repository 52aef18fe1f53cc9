"""Every limit from both sides: held just short of it, and acted on just past it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State
from kiosk.limits import Limits


def steps_to(world: World, state: State, at_most_s: float) -> float:
    """Seconds until the state is reached; fails when it is not."""
    began_s = world.now_s
    while world.state is not state:
        world.step()
        assert world.now_s - began_s <= at_most_s, (world.state, world.unmet())
    return world.now_s - began_s


# -- start -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ratio", "ready"), [(1.1499, False), (1.15, True), (1.16, True)])
def test_start_level(ratio: float, ready: bool) -> None:
    world = reach(State.CHECKING)
    world.set_ratio(ratio)
    world.run(6.0)
    assert (world.state is State.READY) is ready


def test_start_level_is_held_for_3_s() -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.10)
    world.run(5.0)
    world.set_ratio(1.16)  # a step so small that settling is not what is waited for
    seconds = steps_to(world, State.READY, 4.0)
    assert 3.0 <= seconds <= 3.11


def test_a_dip_under_the_start_level_starts_the_3_s_again() -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.16)
    world.run(2.9)
    world.set_ratio(1.14)
    world.step()
    world.set_ratio(1.16)
    assert steps_to(world, State.READY, 4.0) >= 3.0


@pytest.mark.parametrize(("kpa_per_s", "settled"), [(0.49, True), (0.51, False), (-0.51, False)])
def test_settled_is_a_slope_under_half_a_kpa_per_s(kpa_per_s: float, settled: bool) -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.4)
    world.run(1.0)
    for _ in range(80):
        value = world.vacuum["table"]
        assert isinstance(value, float)
        world.set_vacuum(value + kpa_per_s * world.step_s)
        world.step()
    assert ("hold_settled" not in world.unmet()) is settled


@pytest.mark.parametrize(("ratio", "state"), [(1.10, State.READY), (1.0999, State.CHECKING)])
def test_unproved_again_before_the_start(ratio: float, state: State) -> None:
    world = reach(State.READY)
    world.ramp(ratio, 0.4)  # slow enough to stay settled
    world.run(0.2)
    assert world.state is state


@pytest.mark.parametrize(("seconds", "state"), [(59.9, State.PERMIT), (60.0, State.READY)])
def test_an_unused_permit_ends(seconds: float, state: State) -> None:
    world = reach(State.PERMIT)
    world.run(seconds)
    assert world.state is state


@pytest.mark.parametrize(("seconds", "state"), [(119.9, State.PAUSED), (120.0, State.CHECKING)])
def test_a_pause_ends(seconds: float, state: State) -> None:
    """From CHECKING the standing proof leads on to READY in the same step; the permit is gone."""
    world = reach(State.PAUSED)
    world.run(seconds)
    if state is State.PAUSED:
        assert world.state is state
    else:
        moves = [(row["event"], row["to"]) for row in world.of_kind("state")]
        assert ("expired", "CHECKING") in moves
        assert world.outputs == (False, False)


@pytest.mark.parametrize(("ratio", "state"), [(1.10, State.PAUSED), (1.0999, State.CHECKING)])
def test_a_stop_is_a_pause_only_at_1_10(ratio: float, state: State) -> None:
    world = reach(State.CUTTING, site=site_of(limits=Limits(time_left_s=10.0)))
    world.ramp(1.2)
    world.run(8.0)
    world.ramp(ratio, 0.2)  # leaves 20 s, which is no warning with this limit
    world.cycle(False)
    assert world.state is state


def test_a_stop_with_a_warning_standing_is_no_pause() -> None:
    world = reach(State.LOW_HOLD)
    world.ramp(1.3)
    assert world.state is State.LOW_HOLD  # the warning clears only after 5 s
    world.cycle(False)
    assert world.state is State.CHECKING


def test_a_stop_without_a_screen_is_no_pause() -> None:
    world = reach(State.CUTTING)
    world.screen_alive = False
    world.run(2.1)
    assert world.state is State.CUTTING
    world.cycle(False)
    assert world.state is State.CHECKING


# -- data --------------------------------------------------------------------------------------


def test_a_value_counts_in_the_cut_until_it_is_1_s_old() -> None:
    world = reach(State.CUTTING)
    world.set_vacuum(None)
    world.run(0.95)
    assert world.state is State.CUTTING
    world.run(0.05)
    assert (world.state, world.outputs) == (State.HOLD_LOST, (False, False))
    assert world.alarms() == {"A03"}
    assert "NO DATA" in world.shown.flags


@pytest.mark.parametrize(("seconds", "fresh"), [(0.45, True), (0.5, False)])
def test_a_value_permits_until_it_is_half_a_second_old(seconds: float, fresh: bool) -> None:
    world = reach(State.PERMIT)
    world.set_vacuum(None)
    world.run(seconds)
    assert (world.state is State.PERMIT) is fresh


# -- vented ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("kpa", "vented"), [(1.99, True), (2.0, False)])
def test_vented_level(kpa: float, vented: bool) -> None:
    world = reach(State.RELEASE)
    world.set_vacuum(kpa)
    world.run(4.0)
    assert (world.shown.release == "vented") is vented


def test_the_site_s_own_vented_level_is_told_and_counts() -> None:
    world = reach(State.RELEASE, site=site_of(limits=Limits(vented_kpa=1.0)))
    assert world.shown.details["vented_kpa"] == 1.0
    world.set_vacuum(1.5)
    world.run(4.0)
    assert world.shown.release == "may_release"
    world.set_vacuum(0.9)
    world.run(4.0)
    assert world.shown.release == "vented"


def test_vented_takes_3_s() -> None:
    world = reach(State.RELEASE)
    world.set_vacuum(0.5)
    world.run(3.0)
    assert world.shown.release == "may_release"
    world.step()
    assert world.shown.release == "vented"


# -- the rest of the table ---------------------------------------------------------------------


@pytest.mark.parametrize(("seconds", "there"), [(1.95, True), (2.0, False)])
def test_a_screen_may_be_silent_for_2_s(seconds: float, there: bool) -> None:
    world = reach(State.PERMIT)
    world.screen_alive = False
    world.run(seconds)
    assert (world.state is State.PERMIT) is there


@pytest.mark.parametrize(("seconds", "committing"), [(5.0, True), (5.05, False)])
def test_the_last_commit_may_be_5_s_old(seconds: float, committing: bool) -> None:
    world = reach(State.PERMIT)
    world.log_alive = False
    world.run(seconds)
    assert (world.state is State.PERMIT) is committing


@pytest.mark.parametrize(("share", "room"), [(0.05, True), (0.0499, False)])
def test_free_space(share: float, room: bool) -> None:
    world = reach(State.READY)
    world.log = replace(world.log, free_share=share)
    world.step()
    assert (world.state is State.READY) is room


@pytest.mark.parametrize(("seconds", "state"), [(2.95, State.CUTTING), (3.0, State.LOW_HOLD)])
def test_machine_signals_may_be_lost_for_3_s_in_the_cut(seconds: float, state: State) -> None:
    world = reach(State.CUTTING)
    world.io = False
    world.run(seconds)
    assert world.state is state


@pytest.mark.parametrize(("seconds", "wrong"), [(0.45, False), (0.55, True)])
def test_a_contact_may_lag_for_half_a_second(seconds: float, wrong: bool) -> None:
    world = reach(State.CUTTING)
    world.stuck["hold_healthy"] = False
    world.run(seconds)
    assert ("A12" in world.alarms()) is wrong


@pytest.mark.parametrize(("seconds", "refused"), [(59.9, False), (60.0, True)])
def test_a_planner_may_be_silent_for_60_s(seconds: float, refused: bool) -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    assert world.send(Name.SELECT_JOB, job="SR-1") is None
    world.run(seconds)
    assert (world.shown.refusal is not None) is refused
    assert (world.dropped_planner == 1) is refused
    assert (world.shown.planning is None) is refused


@pytest.mark.parametrize(("seconds", "raised"), [(29.9, False), (30.05, True)])
def test_no_leak_hint_before_30_s_of_drawing_down(seconds: float, raised: bool) -> None:
    world = reach(State.CHECKING)
    world.set_ratio(0.8)
    world.run(seconds)
    assert ("A07" in world.alarms()) is raised


@pytest.mark.parametrize(("after_s", "state"), [(1.0, State.CUTTING), (1.05, State.NO_PERMIT)])
@pytest.mark.parametrize("how", ["withdrawn", "expired", "screen_lost"])
def test_a_start_counts_for_1_s_after_the_permit_went(
    how: str, after_s: float, state: State
) -> None:
    world = reach(State.PERMIT)
    if how == "withdrawn":
        assert world.send(Name.WITHDRAW) is None
    elif how == "expired":
        world.run(60.0)
    else:
        world.screen_alive = False
        world.run(2.0)
    assert world.outputs == (False, False)
    world.run(after_s - 0.05)
    world.cycle(True)
    assert world.state is state


def test_the_floor_stands_under_every_minimum() -> None:
    """A light load must not permit a start at almost no vacuum: floor 20 kPa."""
    world = World(plan=plan_of(minimum_kpa=5.0))
    world.confirm()
    assert world.shown.hold.minimum_kpa == 20.0
    world.set_vacuum(1.15 * 20.0 + 3.0 - 0.1)
    world.run(5.0)
    assert world.state is State.CHECKING
    world.set_vacuum(1.15 * 20.0 + 3.0)
    world.run(5.0)
    assert world.state is State.READY


def test_limits_of_the_site_file_are_the_ones_used() -> None:
    limits = Limits(start_ratio=1.4, unproved_ratio=1.35, permit_s=10.0)
    world = reach(State.CHECKING, site=site_of(limits=limits))
    world.set_ratio(1.39)
    world.run(5.0)
    assert world.state is State.CHECKING
    world.set_ratio(1.41)
    world.run(5.0)
    assert world.state is State.READY
    assert world.send(Name.REQUEST_PERMIT) is None
    world.run(10.0)
    assert world.state is State.READY
