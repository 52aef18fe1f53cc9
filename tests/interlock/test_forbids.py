"""What stands against a reset, a release and the other commands, where one thing alone stands."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import site_of
from interlock_world import World, reach

from kiosk.interlock import judge
from kiosk.interlock.commands import Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at

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


def test_without_contacts_a_release_waits_for_the_gauge_though_no_standstill_is_wired() -> None:
    world = reach(State.READY, site=site_of(advice_only=True, outputs=frozenset(), inputs=BY_GAUGE))
    assert world.send(Name.FINISH, standstill=True) is None
    assert world.send(Name.NEXT_PART) == "not_vented"
    world.set_vacuum(None)
    world.run(1.1)
    assert world.send(Name.NEXT_PART) == "vacuum_unknown"


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


def test_with_a_zone_undone_the_part_is_to_be_confirmed_again() -> None:
    world = confirmed_a()
    assert world.send(Name.UNDO_ZONE, zone="A") is None
    for zone in ("A", "B"):
        assert world.send(Name.CONFIRM_ZONE, zone=zone) is None
    world.run(0.5)
    assert (world.state, world.memory.part_confirmed) == (State.SET_UP, False)


def test_the_part_is_logged_with_the_warnings_that_were_listed() -> None:
    world = confirmed_a()
    world.send(Name.CONFIRM_ZONE, zone="B")
    world.send(Name.CONFIRM_PART, warnings=["loose_offcut", "a_second", "loose_offcut"])
    assert world.of_kind("confirm")[-1] == {
        "what": "part", "zone": None, "up": [], "down": [],
        "warnings": ["a_second", "loose_offcut"],
    }  # fmt: skip


# -- why not, by its code ----------------------------------------------------------------------

NOBODY, UNSIGNED = PeopleFacts(), PeopleFacts(True)
OPERATOR = PeopleFacts(True, "operator", "the operator")
SUPERVISOR = PeopleFacts(True, "supervisor", "the supervisor")


@pytest.mark.parametrize(
    ("name", "people", "code"),
    [
        (Name.SIGN_ON, NOBODY, "no_people"),
        (Name.SIGN_ON, UNSIGNED, None),
        (Name.SIGN_OFF, NOBODY, "no_people"),
        (Name.SIGN_OFF, UNSIGNED, "not_signed_on"),
        (Name.SIGN_OFF, OPERATOR, None),
        (Name.UNLOCK_PERSON, NOBODY, "no_people"),
        (Name.UNLOCK_PERSON, UNSIGNED, "needs_supervisor"),
        (Name.UNLOCK_PERSON, OPERATOR, "needs_supervisor"),
        (Name.UNLOCK_PERSON, SUPERVISOR, None),
        (Name.CONFIRM_CAUTIONS, NOBODY, "no_people"),
        (Name.CONFIRM_CAUTIONS, UNSIGNED, "not_signed_on"),
        (Name.CONFIRM_CAUTIONS, OPERATOR, "not_now"),
        (Name.GET_PEOPLE, NOBODY, "no_people"),
        (Name.GET_PEOPLE, OPERATOR, None),
        (Name.RESET, OPERATOR, "not_now"),
        (Name.ACKNOWLEDGE, OPERATOR, "nothing_to_acknowledge"),
        (Name.WITHDRAW, OPERATOR, "not_now"),
    ],
)
def test_a_command_is_refused_for_its_own_reason(
    name: Name, people: PeopleFacts, code: str | None
) -> None:
    world = reach(State.SELECT_JOB, people=people)
    turn = look_at(world.memory, world.facts(), world.utc)
    assert judge.refusal(turn, name) == code


def test_without_contacts_a_permit_is_refused_for_that_reason_in_every_state() -> None:
    advice = site_of(advice_only=True, outputs=frozenset())
    for state in (State.SELECT_JOB, State.SET_UP, State.CHECKING, State.READY):
        world = reach(state, site=advice)
        assert world.send(Name.REQUEST_PERMIT) == "advice_only"
        assert world.send(Name.WITHDRAW) == "not_now"


@pytest.mark.parametrize(
    ("state", "io", "code"),
    [
        (State.CHECKING, True, "hold_not_proved"),
        (State.CHECKING, False, "io_lost"),
        (State.SET_UP, True, "part_not_confirmed"),
        (State.SET_UP, False, "part_not_confirmed"),
        (State.SELECT_JOB, False, "not_now"),
    ],
)
def test_a_permit_asked_too_early_is_told_what_is_missing(
    state: State, io: bool, code: str
) -> None:
    world = reach(state, io=True)
    world.io = io
    assert world.send(Name.REQUEST_PERMIT) == code
    assert world.send(Name.WITHDRAW) == "not_now"
