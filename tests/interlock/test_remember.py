"""What one step leaves for the next, each rule by itself: docs/interlock.md."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_site import INPUTS, kpa_of, plan_of, site_of
from interlock_world import World, reach, turn_of

from kiosk.interlock.facts import PlannerAnswer
from kiosk.interlock.memory import Planning
from kiosk.interlock.planning import hear
from kiosk.interlock.remember import remember
from kiosk.interlock.states import State
from kiosk.interlock.supply import Supply
from kiosk.interlock.turn import Turn


def showing(kpa: float | None, state: State = State.CHECKING) -> World:
    """A world in a state whose gauge shows so much from now on."""
    world = reach(state)
    world.set_vacuum(kpa)
    world.step()
    return world


def left(turn: Turn, name: str) -> Any:
    remember(turn)
    return getattr(turn.memory, name)


@pytest.mark.parametrize(
    ("rose", "confirmed", "kpa", "after"),
    [
        (False, True, 60.0, True),
        (False, True, 0.5, False),
        (False, False, 60.0, False),
        (True, False, 0.5, True),
        (True, True, 60.0, True),
        (False, False, 0.5, False),
    ],
)
def test_vacuum_that_rose_under_a_confirmed_part_is_remembered(
    rose: bool, confirmed: bool, kpa: float, after: bool
) -> None:
    turn = turn_of(showing(kpa), rose=rose, part_confirmed=confirmed)
    assert left(turn, "rose") is after


def test_vacuum_that_is_not_known_did_not_rise() -> None:
    world = reach(State.CHECKING)
    world.set_vacuum(None)
    world.run(2.0)
    turn = turn_of(world, rose=False, part_confirmed=True)
    assert turn.held is None
    assert left(turn, "rose") is False


@pytest.mark.parametrize(
    ("before", "standstill", "after"),
    [(True, False, True), (True, True, False), (False, False, False)],
)
def test_a_pause_that_ended_counts_until_the_spindle_stands(
    before: bool, standstill: bool, after: bool
) -> None:
    world = reach(State.CHECKING)
    world.inputs["standstill"] = standstill
    world.step()
    assert left(turn_of(world, pause_left=before), "pause_left") is after


@pytest.mark.parametrize(
    ("synced", "before_s", "after_s"),
    [(False, None, "now"), (False, 5.0, 5.0), (True, 5.0, None), (None, 5.0, None)],
)
def test_the_time_without_a_time_server_counts_while_that_is_known(
    synced: bool | None, before_s: float | None, after_s: float | str | None
) -> None:
    turn = turn_of(World(), {"clock_synced": synced}, unsynced_s=before_s)
    assert left(turn, "unsynced_s") == (turn.now_s if after_s == "now" else after_s)


@pytest.mark.parametrize(
    ("state", "ratio", "valve", "draws"),
    [
        (State.CHECKING, 1.149, False, True),
        (State.CHECKING, 1.151, False, False),
        (State.SET_UP, 0.5, False, True),
        (State.READY, 0.5, True, False),
        (State.CHECKING, 0.0, True, True),
        (State.CHECKING, 0.0, False, False),
        (State.CHECKING, 1.2, True, False),
    ],
)
def test_vacuum_is_being_drawn_below_the_start_level(
    state: State, ratio: float, valve: bool, draws: bool
) -> None:
    """R = 0 stands for a vented table here."""
    world = reach(State.CHECKING)
    world.inputs["valve_open"] = valve
    world.set_vacuum(kpa_of(ratio) if ratio else 0.5)
    world.step()
    for before_s, since_s in ((None, world.now_s), (3.0, 3.0)):
        turn = turn_of(world, state=state, drawing_s=before_s)
        assert left(turn, "drawing_s") == (since_s if draws else None)


def test_exactly_at_the_start_level_nothing_is_drawn_any_more() -> None:
    turn = turn_of(showing(60.0))
    turn.seen = replace(turn.seen, ratio=turn.limits.start_ratio)
    assert left(turn, "drawing_s") is None


def test_without_a_value_an_open_valve_says_that_it_is_drawn() -> None:
    world = reach(State.CHECKING)
    world.inputs["valve_open"] = True
    world.set_vacuum(None)
    world.run(2.0)
    turn = turn_of(world, drawing_s=None)
    assert left(turn, "drawing_s") == turn.now_s


@pytest.mark.parametrize(
    ("plan", "slow"),
    [(plan_of(), (True,)), (replace(plan_of(), leaks=True), ()), (None, ())],
)
def test_pull_downs_count_only_of_parts_that_hold_air(plan: Any, slow: tuple[bool, ...]) -> None:
    """Drawn since 90 s; on this site it takes 10 s."""
    world = reach(State.CHECKING, site=site_of(inputs=INPUTS, pull_down_s=10.0))
    world.set_vacuum(60.0)
    world.step()
    began = Supply(empty_s=world.now_s - 90.0)
    assert left(turn_of(world, supply=began, plan=plan), "supply").slow == slow


# -- the planner -------------------------------------------------------------------------------


def asked(answer: PlannerAnswer | None, ago_s: float = 1.0, **memory: Any) -> Turn:
    """A turn in SELECT JOB with a choice on its way, and what the planner says."""
    world = reach(State.SELECT_JOB)
    planning = Planning("c1", "rail.job.toml", world.now_s - ago_s)
    turn = turn_of(world, {"planner": answer}, **{"planning": planning, **memory})
    hear(turn)
    return turn


@pytest.mark.parametrize(("ago_s", "given_up"), [(59.999, False), (60.0, True)])
def test_a_planner_that_is_silent_is_given_up_after_60_s(ago_s: float, given_up: bool) -> None:
    turn = asked(None, ago_s)
    assert turn.drop_planner is given_up
    assert (turn.memory.planning is None) is given_up
    assert (turn.memory.refusal or "").startswith("No plan within 60 s") is given_up
    assert turn.memory.refused_job == ("rail.job.toml" if given_up else None)


def test_an_answer_with_nothing_in_it_is_a_refusal() -> None:
    turn = asked(PlannerAnswer("c1", None, None))
    assert (turn.memory.plan, turn.memory.refusal) == (None, "No plan was made.")
    assert turn.notes[0].data["job_id"] == "rail.job.toml"


@pytest.mark.parametrize("plan", [None, plan_of()])
def test_the_words_of_a_refusal_are_kept_whatever_comes_with_them(plan: Any) -> None:
    turn = asked(PlannerAnswer("c1", plan, "Line 4: no tool."))
    assert (turn.memory.plan, turn.memory.refusal) == (None, "Line 4: no tool.")
    assert turn.notes[0].data["digest"] == (None if plan is None else "d1")


def test_a_plan_ends_the_planning() -> None:
    turn = asked(PlannerAnswer("c1", plan_of(), None))
    assert (turn.memory.planning, turn.memory.refusal, turn.state) == (None, None, State.SET_UP)
    assert turn.memory.plan == plan_of()


@pytest.mark.parametrize(("command", "planning"), [("c0", True), ("c1", False)])
def test_an_answer_to_another_choice_is_discarded(command: str, planning: bool) -> None:
    memory = {} if planning else {"planning": None}
    turn = asked(PlannerAnswer(command, plan_of(), "words"), **memory)
    assert [note.data["change"] for note in turn.notes] == ["discarded"]
    assert (turn.notes[0].data["digest"], turn.notes[0].data["words"]) == ("d1", "words")
    assert (turn.memory.planning is not None) is planning
