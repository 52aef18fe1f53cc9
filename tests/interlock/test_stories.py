"""Stories: each event of the table as it comes about in the world, and what is left after it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import OFFER, plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.facts import LogFacts, PlannerAnswer
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

S, N = State, Name
ADVICE = site_of(advice_only=True, inputs=frozenset(), outputs=frozenset())


def moves(world: World) -> list[tuple[str, str, str]]:
    """Every logged move or event: from, event, to."""
    return [(row["from"], row["event"], row["to"]) for row in world.of_kind("state")]


def log_with(**changes: object) -> LogFacts:
    log = LogFacts(True, True, None, True, 0.5, None, None)
    return replace(log, **changes)  # type: ignore[arg-type]


# -- starting ----------------------------------------------------------------------------------


def test_starting_lasts_until_everything_that_is_wired_was_seen_once() -> None:
    world = World(io=False)
    world.vacuum["table"] = Why.CLOSED
    world.run(5.0)
    assert (world.state, world.outputs) == (S.STARTING, (False, False))
    assert world.shown.waiting_for == ("gauge", "inputs", "contacts")
    world.set_vacuum(0.0)
    world.step()
    assert world.shown.waiting_for == ("inputs", "contacts")
    world.set_vacuum(None)
    world.io = True
    world.step()
    assert (world.state, world.shown.waiting_for) == (S.SELECT_JOB, ())
    assert moves(world) == [("STARTING", "first_round", "SELECT JOB")]


def test_nothing_is_commanded_while_starting() -> None:
    world = reach(S.STARTING)
    assert world.send(N.SELECT_JOB, job=OFFER.file) == "not_now"
    assert world.send(N.WITHDRAW) == "not_now"
    assert world.send(N.UNDO_ZONE, zone="A") == "not_now"
    assert world.shown.allowed == ("get_plan",)


def test_vacuum_found_at_the_start_is_a_part_held() -> None:
    world = World()
    world.part_held()
    assert world.shown.release == "may_release"
    assert world.shown.details == {"vented_kpa": 2.0}


@pytest.mark.parametrize(("kpa", "state"), [(2.0, S.PART_HELD), (1.99, S.SELECT_JOB)])
def test_a_part_is_held_from_2_kpa(kpa: float, state: State) -> None:
    world = World()
    world.set_vacuum(kpa)
    world.step()
    assert world.state is state


def test_a_guard_that_comes_back_in_the_cut_withholds_everything() -> None:
    world = World()
    world.set_ratio(1.5)
    world.inputs.update(cycle_running=True, standstill=False)
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert [a.code for a in world.shown.alarms] == ["A24"]
    assert world.shown.cycle == "e1-1"
    world.cycle(False)
    assert world.send(N.RESET, cause="other") is None
    assert world.state is S.RELEASE


@pytest.mark.parametrize("gauge", [None, Why.SILENT])
def test_a_cycle_that_ran_before_everything_was_seen_is_told_of(gauge: Why | None) -> None:
    world = World()
    world.set_vacuum(gauge)
    world.run(1.0)
    world.cycle(True)
    world.run(5.0)
    world.cycle(False)
    world.run(1.0)
    assert (world.state, world.outputs) == (S.STARTING, (False, False))
    world.set_vacuum(0.0)
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert [(a.code, a.latched) for a in world.shown.alarms] == [("A24", True)]
    assert moves(world) == [("STARTING", "first_round", "HOLD LOST")]
    assert world.send(N.RESET, cause="other") is None
    assert world.state is S.RELEASE


def test_a_cycle_seen_while_the_contacts_are_not_read_back_is_told_of() -> None:
    world = World(stuck={"start_permit": None})  # type: ignore[dict-item]
    world.step()
    world.cycle(True)
    world.cycle(False)
    assert (world.state, world.shown.waiting_for) == (S.STARTING, ("contacts",))
    world.stuck.clear()
    world.step()
    assert world.state is S.HOLD_LOST


def test_a_cycle_under_the_key_before_everything_was_seen_is_not() -> None:
    world = World()
    world.set_vacuum(None)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    world.cycle(False)
    world.inputs["key_bypass"] = False
    world.set_vacuum(0.0)
    world.step()
    assert world.state is S.SELECT_JOB


def test_without_contacts_a_cycle_before_everything_was_seen_latches_nothing() -> None:
    world = World(site=site_of(advice_only=True, outputs=frozenset()))
    world.set_vacuum(None)
    world.cycle(True)
    world.cycle(False)
    world.set_vacuum(0.0)
    world.step()
    assert (world.state, world.shown.alarms) == (S.SELECT_JOB, ())


@pytest.mark.parametrize(
    ("log", "code"),
    [
        (log_with(latch="HOLD LOST"), "A01"),
        (log_with(latch="NO PERMIT"), "A22"),
        (log_with(readable=False), "A24"),
    ],
)
def test_a_latch_outlives_the_guard_that_set_it(log: LogFacts, code: str) -> None:
    world = World(log=log)
    world.step()
    assert world.state is S.HOLD_LOST
    assert [a.code for a in world.shown.alarms] == [code]
    assert world.shown.alarms[0].latched
    world.run(1.0)
    assert world.send(N.RESET, cause="other") is None
    assert (world.state, world.shown.alarms) == (S.RELEASE, ())


def test_a_first_log_is_not_an_unreadable_one() -> None:
    world = World(log=log_with(exists=False, readable=False))
    world.step()
    assert world.state is S.SELECT_JOB


def test_seats_confirmed_before_are_asked_for_once_as_a_whole_map() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"A", "B"})))
    world.select()
    assert world.shown.map_kept
    assert [(z.confirmed, z.kept) for z in world.shown.zones] == [(False, True), (False, True)]
    assert world.shown.seats_up == 0
    assert world.send(N.CONFIRM_MAP) is None
    assert [(z.confirmed, z.kept) for z in world.shown.zones] == [(True, False), (True, False)]
    assert not world.shown.map_kept


def test_only_the_zones_that_stood_confirmed_are_kept() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"B", "gone"})))
    world.select()
    assert [(z.name, z.kept) for z in world.shown.zones] == [("A", False), ("B", True)]
    assert world.send(N.CONFIRM_MAP) is None
    assert [z.confirmed for z in world.shown.zones] == [False, True]
    world.confirm()


def test_another_plan_keeps_no_seats() -> None:
    kept = plan_of(digest="other")
    world = World(log=log_with(logged_plan=kept, logged_zones=frozenset({"A", "B"})))
    world.select()
    assert not world.shown.map_kept
    assert world.send(N.CONFIRM_MAP) == "not_now"


def test_a_logged_plan_is_taken_again_over_a_held_part() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"A", "B"})))
    world.part_held()
    assert world.send(N.RETAKE_PLAN) is None
    assert (world.state, world.shown.map_kept, world.shown.cycle) == (S.SET_UP, True, "e1-1")
    assert world.of_kind("plan")[-1]["change"] == "adopted"


def test_a_logged_plan_that_is_not_sound_is_not_taken_again() -> None:
    for plan in (plan_of(drops_kpa={}), plan_of(refused="no_cups")):
        world = World(log=log_with(logged_plan=plan))
        world.part_held()
        assert "retake_plan" not in world.shown.allowed
        assert world.send(N.RETAKE_PLAN) == "not_now"


# -- the maker's key ---------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.SELECT_JOB, S.SET_UP, S.CHECKING, S.RELEASE, S.PART_HELD])
def test_under_the_key_a_start_stays_and_is_logged_once(state: State) -> None:
    world = reach(state)
    world.inputs["key_bypass"] = True
    world.step()
    assert "KEY BYPASS" in world.shown.flags
    world.cycle(True)
    world.run(1.0)
    assert (world.state, world.outputs) == (state, (False, False))
    assert moves(world).count((state.value, "cycle_started", state.value)) == 1
    assert moves(world).count((state.value, "key_on", state.value)) == 1
    world.cycle(False)
    assert world.state is state
    world.inputs["key_bypass"] = False
    world.step()
    assert (state.value, "key_off", state.value) in moves(world)


@pytest.mark.parametrize("state", [S.READY, S.PERMIT, S.PAUSED])
def test_the_key_takes_the_permit_back(state: State) -> None:
    world = reach(state)
    world.inputs["key_bypass"] = True
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


def test_a_start_in_the_step_in_which_the_key_comes_on_is_under_the_key() -> None:
    world = reach(S.PERMIT)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


@pytest.mark.parametrize("state", [S.CUTTING, S.LOW_HOLD])
def test_the_key_changes_nothing_in_the_cut(state: State) -> None:
    world = reach(state)
    before = world.outputs
    world.inputs["key_bypass"] = True
    world.run(1.0)
    assert (world.state, world.outputs) == (state, before)


def test_a_program_that_goes_on_after_the_key_was_turned_back_has_no_permit() -> None:
    world = reach(S.CHECKING)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    assert world.state is S.CHECKING
    world.inputs["key_bypass"] = False
    world.step()
    assert world.state is S.NO_PERMIT


# -- the log -----------------------------------------------------------------------------------


def test_a_cycle_is_summed_up_when_it_closes() -> None:
    world = reach(S.CUTTING)
    assert world.shown.cycle == "e1-1"
    opened = world.of_kind("cycle")[0]
    assert opened == {"change": "opened", "result": None, "digest": "d1", "job_id": "SR-1"}
    world.run(2.0)
    world.ramp(1.05)
    world.run(3.0)
    world.ramp(1.3)
    world.run(6.0)
    world.cycle(False)
    world.send(N.FINISH)
    world.set_vacuum(0.5)
    world.run(3.2)
    world.send(N.JOB_DONE)
    closed = world.of_kind("cycle")[-1]
    assert closed["result"] == "done"
    assert closed["minimum_kpa"] == 40.0
    assert closed["start_kpa"] == pytest.approx(49.0)
    assert closed["start_vacuum_kpa"] == pytest.approx(63.0)
    assert closed["lowest_ratio"] == pytest.approx(1.05)
    assert closed["lowest_vacuum_kpa"] == pytest.approx(45.0)
    assert set(closed["alarms"]) == {"A05"}
    assert closed["cutting_s"] == pytest.approx(2.0 + 2.25 + 3.0 + 1.25 + 6.0, abs=0.2)
    assert world.shown.cycle is None


@pytest.mark.parametrize(
    ("state", "command", "result"),
    [(S.READY, N.CANCEL_JOB, "cancelled"), (S.READY, N.UNDO_ZONE, "unconfirmed")],
)
def test_a_cycle_that_never_cut_says_how_it_ended(state: State, command: Name, result: str) -> None:
    world = reach(state)
    assert world.send(command, zone="A") is None
    closed = world.of_kind("cycle")[-1]
    assert (closed["change"], closed["result"]) == ("closed", result)
    assert (closed["start_vacuum_kpa"], closed["lowest_ratio"], closed["cutting_s"]) == (
        None,
        None,
        0.0,
    )


@pytest.mark.parametrize(("ran", "result"), [(False, "not_run"), (True, "done")])
def test_a_part_that_is_given_up_before_the_cut_is_not_done(ran: bool, result: str) -> None:
    world = reach(S.PAUSED if ran else S.CHECKING)
    assert world.send(N.FINISH) is None
    world.inputs["standstill"] = True
    world.set_vacuum(0.0)
    world.run(6.0)
    assert world.send(N.NEXT_PART) is None
    closed = world.of_kind("cycle")[-1]
    assert (closed["result"], closed["cutting_s"] > 0.0) == (result, ran)


def test_a_part_that_was_cut_and_confirmed_again_is_done() -> None:
    """The cycle in which it was cut is closed as unconfirmed; the next is about the same part."""
    world = reach(S.PAUSED)
    world.run(world.site.limits.pause_s + 1.0)
    assert world.send(N.UNDO_ZONE, zone="A") is None
    world.confirm()
    assert world.send(N.FINISH) is None
    world.inputs["standstill"] = True
    world.set_vacuum(0.0)
    world.run(6.0)
    assert world.send(N.NEXT_PART) is None
    closed = [c["result"] for c in world.of_kind("cycle") if c["change"] == "closed"]
    assert closed == ["unconfirmed", "done"]


def test_a_start_without_permit_is_a_cycle_of_its_own() -> None:
    world = reach(S.SELECT_JOB)
    world.cycle(True)
    assert world.shown.cycle == "e1-1"
    world.cycle(False)
    world.send(N.RESET, cause="wrong_start")
    closed = world.of_kind("cycle")[-1]
    assert (closed["result"], closed["alarms"]) == ("no_permit", ("A22",))


def test_each_cycle_has_an_id_of_its_own() -> None:
    world = reach(S.READY)
    world.send(N.UNDO_ZONE, zone="A")
    world.confirm()
    assert world.shown.cycle == "e1-2"


def test_moves_outputs_and_commands_are_noted_with_their_cycle() -> None:
    world = reach(S.PERMIT)
    note = next(n for n in world.notes if n.kind == "output")
    assert (note.cycle, dict(note.data)) == ("e1-1", {"start_permit": True, "hold_healthy": True})
    assert len(world.of_kind("output")) == 1
    assert ("READY", "requested", "PERMIT") in moves(world)
    command = world.of_kind("command")[-1]
    assert command == {
        "name": "request_permit", "client": "s1", "arguments": {}, "refused": None, "user": None,
    }  # fmt: skip


def test_what_goes_and_comes_back_is_logged_once_each() -> None:
    world = reach(S.SELECT_JOB)
    for _ in range(2):
        world.io, world.screen_alive = False, False
        world.set_vacuum(None)
        world.run(3.0)
        world.io, world.screen_alive = True, True
        world.set_vacuum(0.0)
        world.run(1.0)
    events = [event for _, event, _ in moves(world)]
    for event in ("io_lost", "io_back", "data_lost", "data_back", "screen_lost", "screen_back"):
        assert events.count(event) == 2, event


def test_planner_answers_that_nobody_asked_for_are_discarded() -> None:
    world = reach(S.SET_UP)
    world.answer = PlannerAnswer("c9", plan_of(digest="late"), None)
    world.step()
    assert world.shown.plan == "d1"
    assert world.of_kind("plan")[-1]["change"] == "discarded"
