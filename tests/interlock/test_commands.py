"""Every command in every state, and every reason for which one is refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from interlock_site import OFFER, plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock.codes import REFUSALS
from kiosk.interlock.commands import GUARDS_OWN, Command, Name
from kiosk.interlock.facts import JobOffer, PlannerAnswer
from kiosk.interlock.judge import BY_NAME
from kiosk.interlock.states import State

S, N = State, Name

# Where each command is done, in the worlds of ``reach``: the way a shop comes there.
DONE_IN = {
    N.SELECT_JOB: {S.SELECT_JOB, S.SET_UP, S.CHECKING, S.READY},
    N.CANCEL_JOB: {S.SELECT_JOB, S.SET_UP, S.CHECKING, S.READY},
    N.CONFIRM_ZONE: {S.SET_UP},
    N.UNDO_ZONE: {S.CHECKING, S.READY, S.PERMIT},  # in SET UP when one is confirmed
    N.CONFIRM_PART: set(),  # in SET UP when every zone is confirmed
    N.CONFIRM_MAP: set(),  # in SET UP when zones are kept
    N.RETAKE_PLAN: {S.PART_HELD},
    N.REQUEST_PERMIT: {S.READY},
    N.WITHDRAW: {S.PERMIT, S.PAUSED},
    N.FINISH: {S.PAUSED, S.CHECKING, S.READY, S.PART_HELD},
    N.NEXT_PART: set(),  # in RELEASE when vented
    N.JOB_DONE: set(),
    N.ACKNOWLEDGE: {S.LOW_HOLD, S.HOLD_LOST, S.NO_PERMIT},  # where an alarm stands
    N.RESET: set(),  # in HOLD LOST and NO PERMIT after the cycle stopped
    N.BYPASS: set(),  # no people are set up
    N.END_BYPASS: set(),  # nothing is bypassed
    N.SHELVE: set(),  # no alarm of priority 3 stands, and nobody is a supervisor
    N.UNSHELVE: set(),  # nothing is shelved
    N.BEGIN_SERVICE: set(State) - {S.STARTING, S.CUTTING, S.LOW_HOLD},
    N.END_SERVICE: set(),  # service was not begun
    N.SIGN_ON: set(),  # no people are set up
    N.SIGN_OFF: set(),
    N.UNLOCK_PERSON: set(),
    N.GET_PEOPLE: set(),
    N.GET_PLAN: set(State),  # answered by the guard itself
}
ARGUMENTS: dict[Name, dict[str, object]] = {
    N.SELECT_JOB: {"job": OFFER.file},
    N.CONFIRM_ZONE: {"zone": "A"},
    N.UNDO_ZONE: {"zone": "A"},
    N.CONFIRM_PART: {"warnings": ["loose_offcut"]},
    N.ACKNOWLEDGE: {"alarm": ["A01", "A05", "A22"]},
    N.RESET: {"cause": "other"},
}


def codes_of(world: World) -> list[str]:
    return [alarm.code for alarm in world.shown.alarms]


@pytest.mark.parametrize("state", list(State))
def test_what_is_allowed_is_shown_and_is_what_is_done(state: State) -> None:
    world = reach(state)
    expected = {name for name, states in DONE_IN.items() if state in states}
    assert set(world.shown.allowed) == expected
    memory, seen = world.memory, world.now_s
    for name in set(Name) - GUARDS_OWN:
        world.memory, world.now_s = memory, seen
        refused = world.send(name, **ARGUMENTS.get(name, {}))
        assert (refused is None) is (name in expected), (name, refused)
        assert refused is None or refused in REFUSALS


def test_every_command_has_a_row() -> None:
    assert set(BY_NAME) == set(Name)


@pytest.mark.parametrize(("name", "state"), list(product(Name, [S.CUTTING, S.LOW_HOLD])))
def test_no_command_touches_a_cut(name: Name, state: State) -> None:
    """Only seeing an alarm is possible, and that changes no output."""
    world = reach(state)
    before = world.outputs
    world.queue(name, **ARGUMENTS.get(name, {}))
    world.step()
    assert (world.state, world.outputs) == (state, before)


# -- whom and what it means --------------------------------------------------------------------


def test_a_command_of_an_earlier_guard_is_refused() -> None:
    world = reach(State.READY)
    world.epoch = "e0"
    assert world.send(N.REQUEST_PERMIT) == "wrong_epoch"
    assert world.state is State.READY


def test_only_the_screen_that_holds_the_right_commands() -> None:
    world = reach(State.READY)
    command = Command(N.REQUEST_PERMIT, "x", world.epoch, "d1", "another", {})
    world._commands.append(command)
    reply = world.step().replies[0]
    assert (reply.id, reply.client, reply.refused) == ("x", "another", "not_commanding")
    assert world.state is State.READY


@pytest.mark.parametrize(
    ("name", "state"),
    [
        (N.REQUEST_PERMIT, S.READY),
        (N.CONFIRM_ZONE, S.SET_UP),
        (N.UNDO_ZONE, S.READY),
        (N.CANCEL_JOB, S.READY),
    ],
)
def test_a_command_for_another_plan_is_refused(name: Name, state: State) -> None:
    for plan in ("d0", None):
        world = reach(state)
        assert world.send(name, plan, **ARGUMENTS.get(name, {})) == "wrong_plan"
        assert world.state is state


def test_taking_a_permit_back_needs_no_plan() -> None:
    world = reach(State.PERMIT)
    assert world.send(N.WITHDRAW, None) is None
    moves = [(row["event"], row["to"]) for row in world.of_kind("state")]
    assert ("withdrawn", "CHECKING") in moves
    assert world.outputs == (False, False)


def test_each_command_gets_exactly_one_reply_and_one_note() -> None:
    world = reach(State.SET_UP)
    for zone in ("A", "A", "Z"):
        world.queue(N.CONFIRM_ZONE, zone=zone)
    world.queue(N.GET_PLAN)
    decision = world.step()
    assert [reply.refused for reply in decision.replies] == [None, "zone_already", "unknown_zone"]
    assert len({reply.id for reply in decision.replies}) == 3
    notes = [note.data["refused"] for note in decision.notes if note.kind == "command"]
    assert notes == [None, "zone_already", "unknown_zone"]


def test_a_request_and_its_withdrawal_in_one_step_leave_no_permit() -> None:
    world = reach(State.READY)
    world.queue(N.REQUEST_PERMIT)
    world.queue(N.WITHDRAW)
    decision = world.step()
    assert [reply.refused for reply in decision.replies] == [None, None]
    assert world.outputs == (False, False)


def test_a_zone_undone_in_the_step_of_a_request_comes_first() -> None:
    world = reach(State.READY)
    world.queue(N.REQUEST_PERMIT)
    world.queue(N.UNDO_ZONE, zone="A")
    refusals = {reply.id: reply.refused for reply in world.step().replies}
    assert list(refusals.values()) == [None, "part_not_confirmed"]
    assert world.state is State.SET_UP


# -- jobs and plans ----------------------------------------------------------------------------


@pytest.mark.parametrize("job", [OFFER.file, OFFER.id])
def test_a_job_is_chosen_by_file_or_id(job: str) -> None:
    world = reach(State.SELECT_JOB)
    assert world.send(N.SELECT_JOB, job=job) is None
    assert world.shown.planning == OFFER.file
    assert world.asked_plans == [OFFER.file]


@pytest.mark.parametrize(
    ("job", "refused"),
    [
        ("nothing", "unknown_job"),
        ("", "unknown_job"),
        (7, "bad_arguments"),
        (None, "bad_arguments"),
    ],
)
def test_a_job_that_is_not_there_cannot_be_chosen(job: object, refused: str) -> None:
    world = reach(State.SELECT_JOB)
    assert world.send(N.SELECT_JOB, job=job) == refused
    assert world.asked_plans == []


def test_a_bad_job_file_or_an_id_that_two_files_carry_cannot_be_chosen() -> None:
    bad = JobOffer("bad.job.toml", "B", "", "", error="line 3: no outline")
    twice = replace(OFFER, file="again.job.toml")
    world = reach(State.SELECT_JOB, jobs=(OFFER, bad, twice))
    assert world.send(N.SELECT_JOB, job="bad.job.toml") == "unknown_job"
    assert world.send(N.SELECT_JOB, job=OFFER.id) == "unknown_job"
    assert world.send(N.SELECT_JOB, job=twice.file) is None


@pytest.mark.parametrize("state", [S.SET_UP, S.CHECKING, S.READY])
def test_choosing_a_job_drops_the_old_plan_at_once(state: State) -> None:
    world = reach(state, planner_alive=True)
    world.planner_alive = False
    assert world.send(N.SELECT_JOB, job=OFFER.file) is None
    assert (world.state, world.shown.plan, world.shown.zones) == (State.SELECT_JOB, None, ())
    assert world.of_kind("plan")[-1]["change"] == "dropped"


def test_only_the_newest_choice_gets_its_plan() -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    world.send(N.SELECT_JOB, job=OFFER.file)
    world.send(N.SELECT_JOB, job=OFFER.file)
    assert world.dropped_planner == 1
    world.answer = PlannerAnswer("c1", plan_of(digest="old"), None)
    world.step()
    assert world.state is State.SELECT_JOB
    assert world.of_kind("plan")[-1] == {
        "change": "discarded", "digest": "old", "job_id": "SR-1", "words": None,
    }  # fmt: skip
    world.answer = PlannerAnswer("c2", plan_of(digest="new"), None)
    world.step()
    assert (world.state, world.shown.plan) == (State.SET_UP, "new")


def test_a_plan_that_comes_after_the_job_was_left_is_discarded() -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    world.send(N.SELECT_JOB, job=OFFER.file)
    assert world.send(N.CANCEL_JOB) is None
    assert world.dropped_planner == 1
    world.answer = PlannerAnswer("c1", plan_of(), None)
    world.step()
    assert (world.state, world.shown.plan) == (State.SELECT_JOB, None)


def test_a_plan_that_comes_after_the_machine_started_is_discarded() -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    world.send(N.SELECT_JOB, job=OFFER.file)
    world.cycle(True)
    assert (world.state, world.dropped_planner) == (State.NO_PERMIT, 1)
    world.answer = PlannerAnswer("c1", plan_of(), None)
    world.step()
    assert (world.state, world.shown.plan) == (State.NO_PERMIT, None)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (PlannerAnswer("c1", None, "rail.nc:88: no feed"), "rail.nc:88: no feed"),
        (PlannerAnswer("c1", plan_of(refused="kept_piece_cannot_hold"), None), "kept_piece"),
        (PlannerAnswer("c1", plan_of(), "does not hold"), "does not hold"),
        (PlannerAnswer("c1", plan_of(drops_kpa={}), None), "every gauge"),
        (PlannerAnswer("c1", plan_of(minimum_kpa=float("nan")), None), "every gauge"),
        (PlannerAnswer("c1", plan_of(zones=()), None), "no seats"),
        (PlannerAnswer("c1", None, None), "No plan"),
    ],
)
def test_a_plan_that_cannot_be_worked_by_is_refused(answer: PlannerAnswer, words: str) -> None:
    world = reach(State.SELECT_JOB, planner_alive=False)
    world.send(N.SELECT_JOB, job=OFFER.file)
    world.answer = answer
    world.step()
    assert (world.state, world.shown.plan, world.shown.planning) == (State.SELECT_JOB, None, None)
    assert words in (world.shown.refusal or "")
    assert world.shown.details["refused_job"] == OFFER.file
    assert world.alarms() == {"A23"}
    assert world.of_kind("plan")[-1]["change"] == "refused"
    world.send(N.SELECT_JOB, job=OFFER.file)
    assert (world.shown.refusal, world.alarms()) == (None, set())
    assert "refused_job" not in world.shown.details


# -- set-up ------------------------------------------------------------------------------------


def test_zones_are_confirmed_one_by_one_and_counted() -> None:
    world = reach(State.SET_UP)
    assert (world.shown.seats_up, world.shown.seats_to_turn_up) == (0, 3)
    assert world.send(N.CONFIRM_ZONE, zone="A") is None
    assert (world.shown.seats_up, world.shown.seats_to_turn_up) == (2, 3)
    assert world.of_kind("confirm") == [
        {"what": "zone", "zone": "A", "up": ["A1", "A2"], "down": ["A3"], "warnings": []}
    ]
    assert world.send(N.UNDO_ZONE, zone="A") is None
    assert (world.state, world.shown.seats_up) == (State.SET_UP, 0)


@pytest.mark.parametrize("zone", ["C", "", None, 3, ["A"]])
def test_a_zone_that_is_not_in_the_plan_is_not_confirmed(zone: object) -> None:
    world = reach(State.SET_UP)
    assert world.send(N.CONFIRM_ZONE, zone=zone) == "unknown_zone"
    assert world.send(N.CONFIRM_ZONE, zone="B") is None
    assert world.send(N.UNDO_ZONE, zone=zone) == "unknown_zone"


def test_the_part_is_confirmed_after_every_zone() -> None:
    world = reach(State.SET_UP)
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) == "not_now"
    world.send(N.CONFIRM_ZONE, zone="A")
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) == "not_now"
    world.send(N.CONFIRM_ZONE, zone="B")
    assert world.send(N.REQUEST_PERMIT) == "part_not_confirmed"
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) is None
    assert world.state is State.CHECKING


@pytest.mark.parametrize(
    ("warnings", "refused"),
    [
        ([], "warnings_not_listed"),
        (["outside_blank"], "warnings_not_listed"),
        ("loose_offcut", "bad_arguments"),
        ([["loose_offcut"]], "bad_arguments"),
        (None, "bad_arguments"),
        (["loose_offcut"], None),
        (["loose_offcut", "outside_blank"], None),
    ],
)
def test_the_part_is_confirmed_with_every_warning_named(
    warnings: object, refused: str | None
) -> None:
    world = reach(State.SET_UP)
    for zone in ("A", "B"):
        world.send(N.CONFIRM_ZONE, zone=zone)
    assert world.send(N.CONFIRM_PART, warnings=warnings) == refused
    assert world.memory.part_confirmed is (refused is None)


@pytest.mark.parametrize("state", [S.CHECKING, S.READY, S.PERMIT])
def test_undoing_a_zone_takes_the_part_back_too(state: State) -> None:
    world = reach(state)
    assert world.send(N.UNDO_ZONE, zone="B") is None
    assert (world.state, world.outputs) == (State.SET_UP, (False, False))
    assert not world.memory.part_confirmed
    assert [zone.confirmed for zone in world.shown.zones] == [True, False]


# -- motion ------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.CHECKING, S.READY])
def test_lost_signals_count_as_a_running_cycle(state: State) -> None:
    world = reach(state)
    world.io = False
    world.step()
    assert world.send(N.FINISH) == "inputs_lost"
    assert world.send(N.CANCEL_JOB) == "inputs_lost"
    assert world.send(N.SELECT_JOB, job=OFFER.file) == "inputs_lost"
    assert world.send(N.REQUEST_PERMIT) == "io_lost"


def test_a_program_under_the_key_is_not_finished_from_here() -> None:
    world = reach(State.READY)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    assert world.state is State.CHECKING
    assert world.send(N.FINISH) == "cycle_running"
    assert world.send(N.CANCEL_JOB) == "cycle_running"


def test_release_waits_for_the_cycle_the_spindle_and_the_gauge() -> None:
    world = reach(State.RELEASE)
    assert (world.shown.release, world.shown.forbids_release) == ("may_release", ())
    assert world.send(N.NEXT_PART) == "not_vented"
    world.inputs["standstill"] = False
    world.step()
    assert (world.shown.release, world.shown.forbids_release) == (
        "not_yet",
        ("standstill_unknown",),
    )
    world.inputs["standstill"] = True
    world.set_vacuum(None)
    world.run(1.1)
    assert (world.shown.release, world.shown.forbids_release) == ("not_yet", ("vacuum_unknown",))
    world.set_vacuum(0.5)
    world.run(4.0)
    assert world.shown.release == "vented"
    world.inputs["standstill"] = False
    assert world.send(N.NEXT_PART) == "standstill_unknown"
    world.io = False
    assert world.send(N.NEXT_PART) == "inputs_lost"
    assert (world.shown.release, world.shown.forbids_release[0]) == ("not_yet", "inputs_lost")
    assert world.send(N.JOB_DONE) == "inputs_lost"
    world.io = True
    world.inputs["standstill"] = True
    assert world.send(N.JOB_DONE) is None
    assert world.state is State.SELECT_JOB


def test_a_machine_without_a_standstill_input_is_released_by_the_gauge() -> None:
    site = site_of(inputs=frozenset({"cycle_running"}))
    world = reach(State.RELEASE, site=site)
    assert (world.shown.release, world.shown.forbids_release) == (
        "not_yet",
        ("standstill_unknown",),
    )
    assert world.send(N.NEXT_PART) == "not_vented"
    world.set_vacuum(0.5)
    world.run(4.0)
    assert world.shown.release == "vented"
    assert world.send(N.NEXT_PART) is None
