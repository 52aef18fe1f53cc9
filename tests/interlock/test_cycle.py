"""What a cycle's summary counts, from the start of its cut to its end: docs/log.md.

Each test calls the rule itself on the turn that begins now.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_site import kpa_of
from interlock_world import World, reach

from kiosk.interlock import cycle
from kiosk.interlock.events import Event
from kiosk.interlock.memory import Cycle
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn

OPEN = Cycle(id="e1-1", minimum_kpa=40.0, start_kpa=49.0)


def turn_in(state: State, world: World | None = None, **memory: Any) -> Turn:
    """A turn that begins in a state, 1 s after the last one, at R = 1.5."""
    world = reach(State.CUTTING) if world is None else world
    told = {"cycle": OPEN, "last_s": world.now_s - 1.0, **memory, "state": state}
    return look_at(replace(world.memory, **told), world.facts(), world.utc)


def cut_s(turn: Turn) -> float:
    cycle.follow(turn)
    assert turn.memory.cycle is not None
    return turn.memory.cycle.cutting_s


def test_time_counts_from_the_second_step_of_the_cut_to_its_last() -> None:
    """A step belongs to the state it began in."""
    assert cut_s(turn_in(State.CUTTING)) == pytest.approx(1.0)
    assert cut_s(turn_in(State.LOW_HOLD)) == pytest.approx(1.0)
    assert cut_s(turn_in(State.CUTTING, last_s=None)) == 0.0
    assert cut_s(turn_in(State.HOLD_LOST)) == 0.0
    began = turn_in(State.PERMIT)
    began.put(state=State.CUTTING)
    assert cut_s(began) == 0.0
    ended = turn_in(State.CUTTING)
    ended.put(state=State.PAUSED)
    assert cut_s(ended) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("state", "running", "counts"),
    [
        (State.CUTTING, True, True),
        (State.LOW_HOLD, True, True),
        (State.HOLD_LOST, True, True),
        (State.HOLD_LOST, False, False),
        (State.NO_PERMIT, True, True),
        (State.NO_PERMIT, False, False),
        (State.PAUSED, False, False),
        (State.CHECKING, False, False),
        (State.CHECKING, True, False),  # under the machine maker's own key
    ],
)
def test_the_lowest_hold_is_that_of_the_cut_and_of_a_loss_until_it_stops(
    state: State, running: bool, counts: bool
) -> None:
    world = reach(State.CUTTING)
    world.inputs["cycle_running"] = running
    turn = turn_in(state, world)
    cycle.follow(turn)
    assert turn.memory.cycle is not None
    lowest = turn.memory.cycle.lowest_ratio
    assert lowest == (pytest.approx(1.5) if counts else None)


def test_the_step_that_begins_a_cut_counts_for_the_lowest_hold() -> None:
    turn = turn_in(State.PERMIT)
    turn.put(state=State.CUTTING)
    cycle.follow(turn)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.lowest_vacuum_kpa == pytest.approx(kpa_of(1.5))


def test_without_a_cycle_nothing_is_counted() -> None:
    turn = turn_in(State.CUTTING, cycle=None)
    cycle.follow(turn)
    cycle.mark_start(turn)
    cycle.mark_worst(turn, State.HOLD_LOST)
    assert turn.memory.cycle is None


def test_a_cycle_keeps_its_first_start_and_its_first_latched_state() -> None:
    turn = turn_in(State.CUTTING, cycle=replace(OPEN, start_vacuum_kpa=70.0))
    cycle.mark_start(turn)
    cycle.mark_worst(turn, State.NO_PERMIT)
    cycle.mark_worst(turn, State.HOLD_LOST)
    cycle.mark_worst(turn, State.CUTTING)
    assert turn.memory.cycle is not None
    assert (turn.memory.cycle.start_vacuum_kpa, turn.memory.cycle.worst) == (70.0, "no_permit")


def test_a_start_without_a_value_is_not_told() -> None:
    world = reach(State.CUTTING)
    turn = turn_in(State.CUTTING, world)
    turn.seen = replace(turn.seen, deciding=None)
    cycle.mark_start(turn)
    assert turn.memory.cycle == OPEN


def test_time_is_told_to_the_millisecond() -> None:
    turn = turn_in(State.CUTTING, cycle=replace(OPEN, cutting_s=1.23456, ran=True))
    cycle.close_cycle(turn, Event.NEXT_PART)
    assert (turn.notes[-1].data["cutting_s"], turn.notes[-1].data["result"]) == (1.235, "done")
    assert turn.memory.cycle is None


@pytest.mark.parametrize(
    ("wired", "ran", "event", "result"),
    [
        (True, False, Event.NEXT_PART, "not_run"),
        (True, False, Event.JOB_DONE, "not_run"),
        (True, True, Event.JOB_DONE, "done"),
        (False, False, Event.NEXT_PART, "done"),  # nothing tells whether the machine ran
        (True, False, Event.CANCELLED, "cancelled"),
        (True, False, Event.SETUP_CHANGED, "unconfirmed"),
    ],
)
def test_a_part_is_done_where_the_machine_may_have_run(
    wired: bool, ran: bool, event: Event, result: str
) -> None:
    world = reach(State.CUTTING)
    if not wired:
        world.site = replace(world.site, inputs=world.site.inputs - {"cycle_running"})
    turn = turn_in(State.RELEASE, world, cycle=replace(OPEN, ran=ran))
    cycle.close_cycle(turn, event)
    assert turn.notes[-1].data["result"] == result


@pytest.mark.parametrize(
    ("vacuum_kpa", "ran"), [(0.0, False), (1.9, False), (2.0, True), (60.0, True), (None, True)]
)
def test_a_part_that_is_held_when_its_cycle_opens_may_have_been_cut_before(
    vacuum_kpa: float | None, ran: bool
) -> None:
    turn = turn_in(State.CHECKING, cycle=None)
    turn.seen = replace(turn.seen, vacuum_kpa=vacuum_kpa)
    cycle.open_cycle(turn)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.ran is ran


@pytest.mark.parametrize("running", [True, False, None])
def test_a_program_that_runs_in_it_is_remembered(running: bool | None) -> None:
    """Under the machine maker's own key too, where nothing is a cut."""
    world = reach(State.CUTTING)
    turn = turn_in(State.CHECKING, world)
    turn.lines = replace(
        turn.lines, known=running is not None, inputs={"cycle_running": bool(running)}
    )
    cycle.follow(turn)
    assert turn.memory.cycle is not None
    assert turn.memory.cycle.ran is (running is True)


def test_a_value_that_does_not_come_leaves_the_lowest_as_it_is() -> None:
    known = replace(OPEN, lowest_ratio=1.1, lowest_vacuum_kpa=47.0)
    turn = turn_in(State.CUTTING, cycle=known)
    turn.seen = replace(turn.seen, deciding=None, ratio=None)
    cycle.follow(turn)
    assert turn.memory.cycle is not None
    assert (turn.memory.cycle.lowest_ratio, turn.memory.cycle.lowest_vacuum_kpa) == (1.1, 47.0)


def test_a_cycle_opens_once_and_says_so_with_its_plan() -> None:
    turn = turn_in(State.CHECKING, cycle=None, cycles=6)
    cycle.open_cycle(turn)
    (note,) = turn.notes
    assert (note.kind, note.cycle) == ("cycle", "e1-7")
    assert note.data == {"change": "opened", "result": None, "digest": "d1", "job_id": "SR-1"}
    cycle.open_cycle(turn)
    assert (len(turn.notes), turn.memory.cycles) == (1, 7)
    bare = turn_in(State.NO_PERMIT, cycle=None, plan=None)
    cycle.open_cycle(bare)
    assert (bare.notes[0].data["digest"], bare.notes[0].data["job_id"]) == (None, None)
