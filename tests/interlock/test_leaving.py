"""What entering and leaving a state takes with it, each event by itself: docs/interlock.md.

Each test lets one event happen on a turn whose memory it has chosen.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_site import plan_of
from interlock_world import reach

from kiosk.interlock.events import LOGGED, Event
from kiosk.interlock.facts import LogFacts
from kiosk.interlock.memory import Bypass, Cycle, Kept, Planning
from kiosk.interlock.moves import drop_plan, happen, known, take_plan
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn

S, E = State, Event
PLANNING = Planning("c1", "rail.job.toml", 90.0)


def turn_in(state: State, log: LogFacts | None = None, **memory: Any) -> Turn:
    """A turn in a state, with a plan, and with what is given."""
    world = reach(S.READY)
    facts = world.facts() if log is None else replace(world.facts(), log=log)
    return look_at(replace(world.memory, **{"state": state, **memory}), facts, world.utc)


def moved(turn: Turn, event: Event, to: State) -> Turn:
    assert happen(turn, event)
    assert turn.state is to
    return turn


# -- what moves nothing ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "now", "logged"),
    [(False, False, True), (True, False, False), (False, True, False), (True, True, False)],
)
def test_what_moves_nothing_is_logged_once_when_it_begins(
    before: bool, now: bool, logged: bool
) -> None:
    event = E.DATA_LOST
    turn = turn_in(S.SET_UP, standing=frozenset({event} if before else ()))
    turn.standing = {event} if now else set()
    assert not happen(turn, event)
    assert [note.data["event"] for note in turn.notes] == ([event] if logged else [])


def test_events_that_are_not_for_the_log_stay_out_of_it() -> None:
    turn = turn_in(S.SET_UP)
    quiet = [event for event in Event if event not in LOGGED]
    for event in quiet:
        if not happen(turn, event):
            assert not [note for note in turn.notes if note.data.get("event") is event]
    assert quiet


# -- a start that crosses with the end of its permit -------------------------------------------


@pytest.mark.parametrize(
    ("state", "event", "to", "gone"),
    [
        (S.PERMIT, E.WITHDRAWN, S.CHECKING, "now"),
        (S.PERMIT, E.EXPIRED, S.READY, "now"),
        (S.PERMIT, E.UNPROVED, S.CHECKING, 5.0),
        (S.READY, E.UNPROVED, S.CHECKING, 5.0),
        (S.READY, E.SCREEN_LOST, S.CHECKING, 5.0),
        (S.CHECKING, E.CANCELLED, S.SELECT_JOB, None),
    ],
)
def test_when_a_permit_went_is_kept_until_the_hold_is_given_up(
    state: State, event: Event, to: State, gone: object
) -> None:
    turn = turn_in(state, gone_s=5.0)
    happen(turn, event)
    assert turn.state is to
    assert turn.memory.gone_s == (turn.now_s if gone == "now" else gone)


# -- how long the part has been held with the cycle stopped ------------------------------------


def test_a_stop_counts_from_the_end_of_the_cycle_while_the_part_is_held() -> None:
    turn = turn_in(S.CUTTING, stopped_s=None)
    moved(turn, E.CYCLE_STOPPED, S.PAUSED)
    assert turn.memory.stopped_s == turn.now_s


@pytest.mark.parametrize(
    ("state", "event", "to", "stays"),
    [
        (S.READY, E.UNPROVED, S.CHECKING, True),
        (S.CHECKING, E.PROVED, S.READY, True),
        (S.CHECKING, E.CANCELLED, S.SELECT_JOB, False),
        (S.READY, E.REQUESTED, S.PERMIT, False),
    ],
)
def test_it_goes_on_through_the_checks_and_ends_elsewhere(
    state: State, event: Event, to: State, stays: bool
) -> None:
    turn = moved(turn_in(state, stopped_s=7.0), event, to)
    assert turn.memory.stopped_s == (7.0 if stays else None)


@pytest.mark.parametrize(
    ("state", "event", "to", "left"),
    [
        (S.PAUSED, E.UNPROVED, S.CHECKING, True),
        (S.READY, E.UNPROVED, S.CHECKING, False),
        (S.PAUSED, E.FINISHED, S.RELEASE, False),
    ],
)
def test_a_pause_that_ended_in_the_checks_is_remembered(
    state: State, event: Event, to: State, left: bool
) -> None:
    turn = moved(turn_in(state, pause_left=not left), event, to)
    assert turn.memory.pause_left is left


# -- planning, and a person's word of standstill -----------------------------------------------


def test_leaving_the_choice_of_a_job_stops_the_planner() -> None:
    turn = turn_in(S.SELECT_JOB, planning=PLANNING)
    moved(turn, E.CYCLE_STARTED, S.NO_PERMIT)
    assert (turn.memory.planning, turn.drop_planner) == (None, True)


def test_leaving_it_without_a_choice_stops_nothing() -> None:
    turn = moved(turn_in(S.SELECT_JOB, planning=None), E.CYCLE_STARTED, S.NO_PERMIT)
    assert (turn.memory.planning, turn.drop_planner) == (None, False)


def test_leaving_another_state_stops_no_planner() -> None:
    turn = moved(turn_in(S.READY, planning=PLANNING), E.UNPROVED, S.CHECKING)
    assert (turn.memory.planning, turn.drop_planner) == (PLANNING, False)


def test_a_plan_that_is_adopted_ends_the_planning_by_itself() -> None:
    turn = moved(turn_in(S.SELECT_JOB, planning=PLANNING), E.PLAN_ADOPTED, S.SET_UP)
    assert (turn.memory.planning, turn.drop_planner) == (None, False)


@pytest.mark.parametrize(
    ("state", "event", "stays"), [(S.RELEASE, E.NEXT_PART, False), (S.CHECKING, E.CANCELLED, True)]
)
def test_a_persons_word_of_standstill_ends_with_the_release(
    state: State, event: Event, stays: bool
) -> None:
    turn = turn_in(state, word_standstill=True)
    assert happen(turn, event)
    assert turn.memory.word_standstill is stays


# -- the part and the seats --------------------------------------------------------------------


def test_the_set_up_begins_without_a_part() -> None:
    turn = turn_in(S.CHECKING, part_confirmed=True, rose=True)
    moved(turn, E.SETUP_CHANGED, S.SET_UP)
    assert (turn.memory.part_confirmed, turn.memory.rose) == (False, False)


def test_the_permit_begins_now_and_a_cycle_keeps_its_start() -> None:
    turn = moved(turn_in(S.READY, asked_s=None), E.REQUESTED, S.PERMIT)
    assert turn.memory.asked_s == turn.now_s
    turn.put(cycle=Cycle(id="e1-1"))
    moved(turn, E.CYCLE_STARTED, S.CUTTING)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.start_vacuum_kpa == turn.seen.vacuum_kpa


def test_a_cut_that_goes_on_keeps_the_start_it_had() -> None:
    turn = turn_in(S.LOW_HOLD, cycle=Cycle(id="e1-1"))
    moved(turn, E.HOLD_BACK, S.CUTTING)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.start_vacuum_kpa is None


@pytest.mark.parametrize(("digest", "again"), [("d1", {"A"}), ("d2", set())])
def test_seats_confirmed_before_are_offered_for_the_same_plan_only(
    digest: str, again: set[str]
) -> None:
    kept = Kept(plan_of(digest=digest), frozenset({"A", "Z"}))
    turn = turn_in(S.SELECT_JOB, kept=kept, refusal="words", zones=frozenset({"B"}))
    take_plan(turn, plan_of())
    memory = turn.memory
    assert (memory.kept_zones, memory.zones) == (frozenset(again), frozenset())
    assert (memory.kept, memory.refusal, memory.plan) == (None, None, plan_of())


def test_a_plan_that_is_dropped_takes_what_was_set_aside_with_it() -> None:
    bypass = Bypass("signed_on", "other", "x", 50.0)
    turn = turn_in(S.CHECKING, bypasses=(bypass,), part_confirmed=True)
    drop_plan(turn)
    memory = turn.memory
    assert (memory.plan, memory.zones, memory.part_confirmed) == (None, frozenset(), False)
    assert memory.bypasses == ()
    assert (turn.notes[0].kind, turn.notes[0].data["change"]) == ("plan", "dropped")
    turn.notes.clear()
    turn.put(bypasses=(bypass,))
    drop_plan(turn)
    assert (turn.notes, turn.memory.bypasses) == ([], (bypass,))


# -- what a choice is told ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("loses", "timed", "near"),
    [(False, False, False), (True, False, True), (False, True, True), (True, True, True)],
)
def test_a_loss_is_near_while_it_stands_or_its_delay_runs(
    loses: bool, timed: bool, near: bool
) -> None:
    turn = turn_in(S.CHECKING)
    turn.hold = replace(turn.hold, lost=loses, loss_timed=timed)
    assert turn.hold.loses is loses
    assert known(turn).loss_near is near


@pytest.mark.parametrize(
    ("log", "latched"),
    [
        (LogFacts(False, True, None, True, 0.5, None, None), False),
        (LogFacts(True, True, None, True, 0.5, None, None), False),
        (LogFacts(True, False, None, True, 0.5, None, None), True),
        (LogFacts(False, False, None, True, 0.5, None, None), False),
        (LogFacts(True, True, None, True, 0.5, "HOLD LOST", None), True),
    ],
)
def test_a_log_that_cannot_be_read_counts_as_latched(log: LogFacts, latched: bool) -> None:
    assert known(turn_in(S.STARTING, log)).log_latched is latched
