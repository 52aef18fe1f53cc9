"""Stories of the cycle: it starts, stops, is held, lost and let go."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import TWO_GAUGES, site_of
from interlock_world import World, reach
from test_stories import N, S, moves

from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

# -- the cycle ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "state", [S.PART_HELD, S.SELECT_JOB, S.SET_UP, S.CHECKING, S.READY, S.RELEASE]
)
def test_a_start_without_permit_latches(state: State) -> None:
    world = reach(state)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.NO_PERMIT, (False, False))
    assert "A22" in world.alarms()
    assert world.shown.feed_hold_asked_s == 0.0
    assert world.shown.cycle is not None
    world.cycle(False)
    assert world.state is S.NO_PERMIT


def test_a_pause_goes_on_under_the_same_permit() -> None:
    world = reach(S.PAUSED)
    assert world.shown.pause_left_s == pytest.approx(120.0)
    world.run(60.0)
    assert world.shown.pause_left_s == pytest.approx(60.0)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.CUTTING, (True, True))


def test_a_pause_that_ended_goes_on_only_with_a_new_permit() -> None:
    world = reach(S.PAUSED)
    world.run(122.0)
    assert world.state is S.READY
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def test_a_start_that_crossed_with_a_loss_of_proof_does_not_count() -> None:
    """Only a permit that a person or the time took back may be crossed."""
    world = reach(S.PERMIT)
    world.log = replace(world.log, writable=False)
    world.step()
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def withdrawn_at(ratio: float) -> World:
    """The permit just taken back at this R, which stands as proved."""
    world = reach(S.CHECKING)
    world.set_ratio(ratio)
    world.run(5.0)
    assert world.send(N.REQUEST_PERMIT) is None
    assert world.send(N.WITHDRAW) is None
    return world


def test_a_start_that_crossed_does_not_count_while_the_hold_falls_fast() -> None:
    """R is still over 1.00, but falls as in a loss."""
    world = withdrawn_at(1.31)
    for ratio in (1.27, 1.23, 1.19, 1.15, 1.11, 1.08):
        world.set_ratio(ratio)
        world.step()
    world.set_ratio(1.05)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.NO_PERMIT, (False, False))


@pytest.mark.parametrize(("seconds", "state"), [(0.1, S.NO_PERMIT), (0.0, S.CUTTING)])
def test_a_start_that_crossed_does_not_count_while_gauges_begin_to_be_far_apart(
    seconds: float, state: State
) -> None:
    world = reach(S.PERMIT, site=site_of(gauges=TWO_GAUGES))
    assert world.send(N.WITHDRAW) is None
    if seconds:
        world.vacuum["pump"] = world.vacuum["table"] + 20.0  # type: ignore[operator]
        world.run(seconds)
    world.cycle(True)
    assert world.state is state


def test_a_crossing_is_forgotten_with_the_set_up() -> None:
    world = reach(S.PERMIT)
    world.send(N.WITHDRAW)
    world.send(N.UNDO_ZONE, zone="A")
    world.send(N.CONFIRM_ZONE, zone="A")
    world.send(N.CONFIRM_PART, warnings=["loose_offcut"])
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def test_a_start_in_the_step_in_which_the_permit_ends_counts() -> None:
    world = reach(S.PERMIT)
    world.run(59.95)
    world.cycle(True)
    assert world.state is S.CUTTING
    assert [m[1] for m in moves(world)][-2:] == ["expired", "cycle_started"]


def test_a_stop_and_a_loss_in_one_step_are_a_loss() -> None:
    world = reach(S.CUTTING)
    world.set_ratio(0.6)
    world.step()
    world.inputs.update(cycle_running=False, standstill=False)
    world.step()
    assert world.state is S.HOLD_LOST


@pytest.mark.parametrize(("standstill", "state"), [(True, S.CHECKING), (False, S.HOLD_LOST)])
@pytest.mark.parametrize("how", ["hold", "data"])
def test_a_loss_in_a_pause(standstill: bool, state: State, how: str) -> None:
    world = reach(S.PAUSED)
    world.inputs["standstill"] = standstill
    if how == "hold":
        world.set_ratio(1.12)  # 15 kPa at once: a fast fall that stays above the pause's level
        world.run(0.3)
    else:
        world.set_vacuum(None)
        world.step(1.2)
    assert world.state is state
    codes = {a.code for a in world.shown.alarms if a.latched}
    assert codes == ({"A02" if how == "hold" else "A03"} if state is S.HOLD_LOST else set())


def test_a_loss_too_quick_for_its_delay_while_the_pause_ends_is_a_loss_all_the_same() -> None:
    """R under 1.10 ends the pause at once, before R under 0.70 has stood for its 50 ms."""
    world = reach(S.PAUSED)
    world.set_ratio(0.5)
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert {a.code for a in world.shown.alarms if a.latched} == {"A02"}
    assert moves(world)[-2:] == [
        ("PAUSED", "unproved", "CHECKING"),
        ("CHECKING", "hold_lost", "HOLD LOST"),
    ]


@pytest.mark.parametrize("fault", [None, Why.SILENT, Why.BROKEN])
def test_a_gauge_that_goes_silent_in_a_pause_is_a_loss_while_the_spindle_turns(
    fault: Why | None,
) -> None:
    world = reach(S.PAUSED)
    world.set_vacuum(fault)
    world.run(0.95)
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))
    world.run(0.1)
    assert world.state is S.HOLD_LOST
    assert {a.code for a in world.shown.alarms if a.latched} == {"A03"}


@pytest.mark.parametrize("how", ["hold_low", "unproved", "io_lost", "key_on", "screen_lost"])
def test_however_a_pause_ended_a_loss_counts_while_the_spindle_turns(how: str) -> None:
    world = reach(S.PAUSED)
    if how == "hold_low":
        world.ramp(1.25, 0.6)
    elif how == "unproved":
        world.self_test = False
    elif how == "io_lost":
        world.io = False
    elif how == "key_on":
        world.inputs["key_bypass"] = True
    else:
        world.screen_alive = False
        world.run(1.95)
    world.step()
    assert ("PAUSED", how, "CHECKING") in moves(world)
    assert world.state is S.CHECKING
    world.ramp(0.9)
    world.run(0.3)
    assert world.state is S.HOLD_LOST
    assert "A01" in {a.code for a in world.shown.alarms if a.latched}


def test_after_a_pause_standstill_that_was_known_once_makes_a_loss_no_loss_in_the_cut() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    assert world.state is S.CHECKING
    world.inputs["standstill"] = True
    world.step()
    world.inputs["standstill"] = False  # set up by hand
    world.ramp(0.5)
    world.run(1.5)
    assert world.state is S.CHECKING
    assert world.shown.alarms == ()


def test_a_hold_that_is_proved_again_after_a_pause_starts_anew() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    world.ramp(1.5)
    world.run(4.0)
    assert world.state is S.READY
    world.ramp(0.9)
    world.run(1.0)
    assert world.state is S.CHECKING
    assert world.shown.alarms == ()


def test_a_hold_that_came_back_but_is_not_proved_again_may_still_be_lost() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    world.ramp(1.12)
    world.run(5.0)
    assert world.state is S.CHECKING
    world.ramp(0.9)
    world.run(0.3)
    assert world.state is S.HOLD_LOST


def test_a_part_finished_after_a_pause_may_be_released() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    assert world.send(N.FINISH) is None
    world.set_vacuum(0.5)
    world.run(4.0)
    assert (world.state, world.shown.alarms) == (S.RELEASE, ())


def test_a_fall_of_8_kpa_per_s_leaves_no_time_to_warn() -> None:
    """From R = 1.30 to 1.00 are 12 kPa: 1.5 s, less than the 2 s of the warning."""
    world = reach(S.CUTTING)
    world.ramp(0.9, 8.0)
    assert world.state is S.HOLD_LOST
    assert moves(world)[-1] == ("CUTTING", "hold_lost", "HOLD LOST")


def test_a_falling_hold_ends_a_pause() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.25, 0.6)
    assert world.state is S.CHECKING
    assert ("PAUSED", "hold_low", "CHECKING") in moves(world)
