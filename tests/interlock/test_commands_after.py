"""Commands of a reset, of alarms and of people."""

from __future__ import annotations

import pytest
from interlock_site import site_of
from interlock_world import World, reach
from test_commands import N, S, codes_of

from kiosk.interlock.commands import GUARDS_OWN, RESET_CAUSES, Name
from kiosk.interlock.states import State

# -- reset -------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.HOLD_LOST, S.NO_PERMIT])
def test_a_reset_needs_a_stopped_cycle_standstill_and_a_cause(state: State) -> None:
    world = reach(state)
    assert world.shown.forbids_reset == ("cycle_running", "standstill_unknown")
    assert world.send(N.RESET, cause="other") == "cycle_running"
    world.inputs["cycle_running"] = False
    assert world.send(N.RESET, cause="other") == "standstill_unknown"
    assert world.shown.forbids_reset == ("standstill_unknown",)
    world.io = False
    assert world.send(N.RESET, cause="other") == "inputs_lost"
    world.io, world.inputs["standstill"] = True, True
    assert world.send(N.RESET) == "cause_missing"
    assert world.send(N.RESET, cause="because") == "bad_arguments"
    assert (world.shown.forbids_reset, world.state) == ((), state)
    assert world.send(N.RESET, cause="cup_or_seal") is None
    assert codes_of(world) == []


@pytest.mark.parametrize("cause", RESET_CAUSES)
def test_every_cause_of_the_list_resets_and_is_logged(cause: str) -> None:
    world = reach(State.HOLD_LOST)
    world.cycle(False)
    assert world.send(N.RESET, cause=cause) is None
    assert world.state is State.RELEASE
    assert world.of_kind("command")[-1]["arguments"] == {"cause": cause}


def test_a_reset_in_the_step_in_which_the_cycle_stops_lets_every_latch_go() -> None:
    world = reach(State.HOLD_LOST)
    world.inputs.update(cycle_running=False, standstill=True)
    assert world.send(N.RESET, cause="other") is None
    assert (world.state, codes_of(world)) == (State.RELEASE, [])


def test_without_a_standstill_input_a_reset_needs_a_supervisor() -> None:
    """And is refused, since no people are set up."""
    world = reach(State.HOLD_LOST, site=site_of(inputs=frozenset({"cycle_running"})))
    world.cycle(False)
    assert world.send(N.RESET, cause="other") == "needs_supervisor"
    assert world.state is State.HOLD_LOST


@pytest.mark.parametrize(
    ("kpa", "after"), [(60.0, S.PART_HELD), (None, S.PART_HELD), (0.5, S.SET_UP)]
)
def test_after_a_start_without_permit(kpa: float | None, after: State) -> None:
    world = reach(State.NO_PERMIT)
    world.set_vacuum(kpa)
    world.run(1.5)
    world.cycle(False)
    assert world.send(N.RESET, cause="wrong_start") is None
    assert world.state is after
    assert not world.memory.part_confirmed


def test_after_a_start_without_permit_and_without_a_plan() -> None:
    world = reach(State.SELECT_JOB)
    world.cycle(True)
    world.cycle(False)
    assert world.send(N.RESET, cause="wrong_start") is None
    assert world.state is State.SELECT_JOB


# -- alarms and people -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alarm", "refused"),
    [
        (["A01", "A05", "A06"], None),
        ("A01", None),
        (["A01", "A99", 7], None),
        (None, "bad_arguments"),
        ({"A01": True}, "bad_arguments"),
        ([], "nothing_to_acknowledge"),
        ("A12", "nothing_to_acknowledge"),
        (12, "bad_arguments"),
        ("", "nothing_to_acknowledge"),
    ],
)
def test_acknowledging_one_or_all(alarm: object, refused: str | None) -> None:
    world = reach(State.LOW_HOLD)
    world.ramp(0.9)
    world.run(0.5)
    assert world.send(N.ACKNOWLEDGE, alarm=alarm) == refused
    seen = {a.code: a.acknowledged for a in world.shown.alarms}
    assert seen["A01"] is (refused is None)
    listed = alarm if isinstance(alarm, list) else [alarm]
    assert all(seen.values()) is (set(seen) <= {str(code) for code in listed})


@pytest.mark.parametrize(
    ("alarm", "came", "refused"),
    [
        ("A01", "UTC", None),
        (["A05", "A01"], ["long ago", "UTC"], None),
        ("A01", "long ago", "nothing_to_acknowledge"),
        (["A01"], [["UTC"]], "nothing_to_acknowledge"),
        (["A01"], [], "bad_arguments"),
        ("A01", None, "bad_arguments"),
        ("A01", 7, "bad_arguments"),
        ([["A01"], {}], ["UTC", "UTC"], "nothing_to_acknowledge"),
    ],
)
def test_one_that_came_anew_since_it_was_shown_stays_unseen(
    alarm: object, came: object, refused: str | None
) -> None:
    """By the time at which it came, as it was drawn; ``UTC`` stands for that of the loss."""
    world = reach(State.HOLD_LOST)
    utc = next(a.raised_utc for a in world.shown.alarms if a.code == "A01")
    told = [utc if one == "UTC" else one for one in came] if isinstance(came, list) else came
    assert world.send(N.ACKNOWLEDGE, alarm=alarm, came=utc if told == "UTC" else told) == refused
    seen = {a.code: a.acknowledged for a in world.shown.alarms}
    assert seen["A01"] is (refused is None)


def test_a_press_that_crosses_with_the_first_loss_come_again_is_not_for_that_one() -> None:
    """It keeps the time of the loss, and has one of its own for when it came last."""
    world = reach(State.CUTTING)
    world.set_ratio(0.3)
    world.run(0.5)
    shown = next(a for a in world.shown.alarms if a.first)
    world.see()
    world.ramp(1.5)
    world.utc = f"{world.utc} later"
    world.set_ratio(0.3)
    world.run(0.5)
    again = next(a for a in world.shown.alarms if a.first)
    assert (again.code, again.utc, again.acknowledged) == (shown.code, shown.utc, False)
    press = {"alarm": shown.code, "came": shown.raised_utc}
    assert world.send(N.ACKNOWLEDGE, **press) == "nothing_to_acknowledge"
    press = {"alarm": shown.code, "came": again.raised_utc}
    assert world.send(N.ACKNOWLEDGE, **press) is None


def test_a_press_that_crosses_with_the_leak_of_another_zone_is_not_for_that_one() -> None:
    world = reach(State.SELECT_JOB)
    world.leak_ratio, world.leak_zone = 2.5, "B"
    world.step()
    shown = world.shown.alarms[0]
    world.leak_ratio, world.leak_zone, world.utc = 4.5, "C", f"{world.utc} later"
    world.step()
    press = {"alarm": [shown.code], "came": [shown.raised_utc]}
    assert world.send(N.ACKNOWLEDGE, **press) == "nothing_to_acknowledge"
    assert [(a.about, a.acknowledged) for a in world.shown.alarms] == [("C", False)]


def test_an_alarm_that_came_since_the_others_were_shown_stays_unseen() -> None:
    """The loss is raised in the very step in which the warnings before it are acknowledged."""
    world = reach(State.LOW_HOLD)
    world.ramp(0.99)
    while "A01" not in world.alarms():
        before = world.twin()
        world.step()
    assert before.see() is None
    assert "A01" in before.alarms()
    seen = {a.code: a.acknowledged for a in before.shown.alarms}
    assert (seen["A01"], seen["A05"]) == (False, True)
    assert before.decision.outputs.beacon


def test_nobody_signs_on_while_no_people_are_set_up() -> None:
    world = reach(State.READY)
    assert GUARDS_OWN & set(world.shown.allowed) == {N.GET_PLAN}


@pytest.mark.parametrize("role", [None, "operator", "setter", "maintenance", "supervisor"])
def test_signing_on_is_offered_in_every_state_and_unlocking_to_a_supervisor(role: str) -> None:
    """Use control by role: our own choice, after the idea of IEC 62443-4-2, CR 2.1."""
    for state in State:
        world = reach(state)
        world.sign_on(role)
        world.step()
        offered = {N.GET_PLAN, N.GET_PEOPLE, N.SIGN_ON}
        offered |= set() if role is None else {N.SIGN_OFF}
        offered |= {N.UNLOCK_PERSON} if role == "supervisor" else set()
        assert GUARDS_OWN & set(world.shown.allowed) == offered


@pytest.mark.parametrize("name", sorted(GUARDS_OWN))
def test_what_the_guard_answers_itself_leaves_no_reply_and_no_row_of_the_decision(
    name: Name,
) -> None:
    """So a PIN that came with it is in no record."""
    world = reach(State.READY)
    world.sign_on("operator")
    world.queue(name, badge="B-0001", pin="739146")
    decision = world.step()
    assert decision.replies == ()
    assert "739146" not in repr(decision)


def test_a_part_held_may_be_finished_or_its_plan_taken_again() -> None:
    world = reach(State.PART_HELD)
    assert world.shown.details["kept"] == {"digest": "d1", "job_id": "SR-1", "title": "Rail"}
    assert world.send(N.RETAKE_PLAN) is None
    assert (world.state, world.shown.plan, world.shown.map_kept) == (State.SET_UP, "d1", True)
    assert [(zone.confirmed, zone.kept) for zone in world.shown.zones] == [(False, True)] * 2
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) == "not_now"
    assert world.send(N.CONFIRM_MAP) is None
    assert [(zone.confirmed, zone.kept) for zone in world.shown.zones] == [(True, False)] * 2
    note = world.of_kind("confirm")[-1]
    assert (note["what"], note["up"]) == ("map", ["A1", "A2", "B2"])
    assert world.send(N.CONFIRM_MAP) == "not_now"
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) is None


def test_a_part_held_without_a_plan_can_only_be_let_go() -> None:
    world = World()
    world.part_held()
    assert world.send(N.RETAKE_PLAN) == "not_now"
    assert world.send(N.FINISH) is None
    assert world.state is State.RELEASE
    world.set_vacuum(0.5)
    world.run(4.0)
    assert world.send(N.NEXT_PART) == "not_now"
    assert world.send(N.JOB_DONE) is None


def test_a_part_held_that_is_vented_leads_to_select_job() -> None:
    world = reach(State.PART_HELD)
    assert world.shown.release == "may_release"
    world.set_vacuum(0.5)
    world.run(3.1)
    assert world.state is State.SELECT_JOB


def test_a_reset_that_closes_its_cycle_is_a_row_of_that_cycle() -> None:
    world = reach(State.NO_PERMIT)
    cycle = world.shown.cycle
    world.set_vacuum(0.5)
    world.run(3.2)
    world.cycle(False)
    assert world.send(N.RESET, cause="wrong_start") is None
    assert world.shown.cycle is None
    (row,) = [n for n in world.notes if n.kind == "command" and n.data["name"] == "reset"]
    assert (row.cycle, row.data["refused"]) == (cycle, None)


def test_a_command_that_opens_a_cycle_is_a_row_of_it() -> None:
    world = reach(State.CHECKING)
    (row,) = [n for n in world.notes if n.kind == "command" and n.data["name"] == "confirm_part"]
    assert row.cycle == world.shown.cycle is not None
