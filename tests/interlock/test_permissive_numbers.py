"""The numbers that the permissives are judged by, and what is shown of them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import TWO_GAUGES, kpa_of, site_of
from interlock_world import World, reach
from test_permissives import everything

from kiosk.interlock.memory import Bypass
from kiosk.interlock.states import State

# -- numbers that are said ---------------------------------------------------------------------


def said(world: World) -> dict[str, tuple[object, object, str]]:
    return {row.code: (row.value, row.limit, row.unit) for row in world.shown.permissives}


def test_each_says_the_number_that_it_was_judged_by_and_the_limit() -> None:
    world = everything(State.READY)
    plain = {"self_test", "inputs_known", "key_off", "stop_chain_closed", "gauge_good",
             "seats_confirmed", "part_confirmed", "alarms_clear", "no_service", "signed_on",
             "cautions_read", "asked"}  # fmt: skip
    approx = pytest.approx
    assert said(world) == {
        **dict.fromkeys(plain, (None, None, "")),
        "log_has_room": (0.5, 0.05, "share"),
        "log_committing": (0.0, 5.0, "s"),
        "screen_there": (0.0, 2.0, "s"),
        "contacts_as_written": (0.0, 0.5, "s"),
        "gauge_fresh": (0.0, 0.5, "s"),
        "gauge_plausible": (approx(kpa_of(1.5)), 100.0, "kPa"),
        "gauges_agree": (None, 3.0, "kPa"),
        "gauge_in_date": (0.0, 30.0, "d"),
        "minimum_known": (40.0, None, "kPa"),
        "hold_enough": (approx(1.5), 1.10, "ratio"),
        "hold_settled": (approx(0.0, abs=1e-9), 0.5, "kPa/s"),
    }


def test_the_level_that_is_said_is_the_start_level_until_the_hold_is_proved() -> None:
    assert said(reach(State.CHECKING))["hold_enough"][1] == 1.15
    for state in (State.READY, State.PERMIT, State.CUTTING, State.LOW_HOLD, State.PAUSED):
        assert said(reach(state))["hold_enough"][1] == 1.10


def test_the_numbers_that_are_said_grow_with_what_is_late() -> None:
    world = everything(State.READY)
    world.log_alive = world.screen_alive = False
    world.stuck["hold_healthy"] = True
    world.set_vacuum(None)
    world.utc = "2027-01-05T00:00:00.000Z"
    world.run(0.4)
    found = said(world)
    assert found["log_committing"][0] == pytest.approx(0.4)
    assert found["screen_there"][0] == pytest.approx(0.4)
    assert found["gauge_fresh"][0] == pytest.approx(0.4)
    assert found["contacts_as_written"][0] == pytest.approx(0.35)
    assert found["gauge_in_date"][0] == 5.0


def test_an_age_is_not_said_while_one_gauge_was_never_read() -> None:
    world = World(site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = None
    world.step()
    assert said(world)["gauge_fresh"][0] is None


def test_a_log_that_never_committed_is_not_committing() -> None:
    world = World(log_alive=False)
    world.step()
    assert "log_committing" in world.unmet()
    assert said(world)["log_committing"] == (None, 5.0, "s")


@pytest.mark.parametrize(("ahead_s", "holds"), [(0.1, True), (0.11, False)])
def test_a_commit_dated_ahead_of_now_is_doubted(ahead_s: float, holds: bool) -> None:
    world = World(now_s=-0.05, log_alive=False, _commit_s=ahead_s)
    world.step()
    assert world.now_s == 0.0
    assert ("log_committing" not in world.unmet()) is holds


@pytest.mark.parametrize(("ahead_s", "there"), [(0.1, True), (0.11, False)])
def test_a_screen_heard_ahead_of_now_is_not_there(ahead_s: float, there: bool) -> None:
    world = World(now_s=-0.05, screen_alive=False, _seen_s=ahead_s)
    world.step()
    assert ("screen_there" not in world.unmet()) is there


@pytest.mark.parametrize(
    ("active", "latched", "state"),
    [
        (True, False, State.CHECKING),
        (False, True, State.CHECKING),
        (False, False, State.READY),
    ],
)
def test_an_alarm_of_priority_1_objects_while_it_stands_or_is_latched(
    active: bool, latched: bool, state: State
) -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    alarm = next(alarm for alarm in world.memory.alarms if alarm.code == "A12")
    world = reach(State.READY)
    put = replace(alarm, active=active, latched=latched)
    world.memory = replace(world.memory, alarms=(put,))
    world.step()
    assert world.state is state


@pytest.mark.parametrize("state", [state for state in State if state is not State.STARTING])
def test_the_request_holds_from_the_permit_to_the_end_of_the_cut(state: State) -> None:
    asked = {State.PERMIT, State.CUTTING, State.LOW_HOLD, State.PAUSED}
    assert ("asked" not in reach(state).unmet()) is (state in asked)


def test_a_check_that_cannot_be_bypassed_counts_though_the_memory_names_a_bypass_of_it() -> None:
    world = reach(State.READY)
    bypass = Bypass("no_service", "other", None, world.now_s)
    world.memory = replace(world.memory, service=True, bypasses=(bypass,))
    world.step()
    assert "no_service" in world.unmet()
    assert world.state is State.CHECKING


def test_a_hold_that_was_proved_is_enough_at_1_10_and_while_it_is_fresh() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.11)
    world.set_vacuum(47.0)  # (47 - 2 - 1) / 40
    world.step()
    assert world.shown.hold.ratio == 1.10
    assert "hold_enough" not in world.unmet()
    world.set_vacuum(None)
    world.run(0.5)
    assert "hold_enough" in world.unmet()
