"""The order within one step: what takes away comes before what gives, and each thing happens once.

Rules: docs/interlock.md, "Events and moves" and "Limits in the cut".
"""

from __future__ import annotations

from collections import Counter

import pytest
from interlock_site import site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State


def events(world: World) -> list[tuple[str, str]]:
    """Events and where they led, since the world was reached."""
    return [(row["event"], row["to"]) for row in world.of_kind("state")]


def since(state: State) -> World:
    world = reach(state)
    world.notes = []
    return world


def test_service_that_begins_in_the_step_of_a_request_comes_first() -> None:
    world = reach(State.READY)
    world.queue(Name.REQUEST_PERMIT)
    world.queue(Name.BEGIN_SERVICE)
    refused = {reply.id: reply.refused for reply in world.step().replies}
    assert list(refused.values()) == [None, "hold_not_proved"]
    assert (world.state, world.outputs) == (State.CHECKING, (False, False))


def test_a_permit_taken_back_in_the_step_of_a_start_goes_first_and_the_start_crossed() -> None:
    world = since(State.PERMIT)
    world.queue(Name.WITHDRAW)
    world.inputs.update(cycle_running=True, standstill=False)
    assert [reply.refused for reply in world.step().replies] == [None]
    assert events(world) == [("withdrawn", "CHECKING"), ("cycle_started", "CUTTING")]


def test_a_cycle_found_running_at_the_first_round_was_not_seen_to_start() -> None:
    world = World()
    world.inputs.update(cycle_running=True, standstill=False)
    world.run(0.5)
    assert events(world) == [("first_round", "HOLD LOST")]


def test_each_start_and_each_stop_is_one_event() -> None:
    world = since(State.HOLD_LOST)
    for running in (False, True, False, True, False):
        world.cycle(running)
        world.run(0.3)
    seen = Counter(event for event, _ in events(world))
    assert (seen["cycle_started"], seen["cycle_stopped"]) == (2, 3)


def test_a_cut_is_started_once_however_long_it_runs() -> None:
    world = since(State.PERMIT)
    world.cycle(True)
    world.run(1.0)
    assert events(world) == [("cycle_started", "CUTTING")]


# -- warnings and the state ---------------------------------------------------------------------


def warned(world: World) -> bool:
    return world.memory.watch.warnings.is_low


def test_a_warning_stands_while_a_loss_is_dealt_with_and_goes_with_the_cycle() -> None:
    world = reach(State.LOW_HOLD)
    world.ramp(0.95)
    world.run(0.3)
    assert (world.state, warned(world)) == (State.HOLD_LOST, True)
    world.set_ratio(1.5)
    world.run(8.0)
    assert warned(world)  # what stood is left as it is
    world.io = False
    world.step()
    assert warned(world)  # not known is not stopped
    world.io = True
    world.cycle(False)
    assert not warned(world)


def timed(world: World) -> bool:
    """Whether the delays of the warnings run: here that of their clearing."""
    world.step()
    return world.memory.watch.warnings.low_over.since_s is not None


WATCHED = {State.PERMIT, State.PAUSED, State.CUTTING, State.LOW_HOLD}


@pytest.mark.parametrize("state", [state for state in State if state is not State.HOLD_LOST])
def test_the_level_is_watched_from_the_permit_to_the_end_of_the_cut(state: State) -> None:
    world = reach(state)
    if state is State.LOW_HOLD:
        world.ramp(1.2)
    assert timed(world) is (state in WATCHED)


def test_without_contacts_it_is_watched_in_ready_and_nowhere_before() -> None:
    advice = site_of(advice_only=True, outputs=frozenset())
    assert timed(reach(State.READY, site=advice))
    assert not timed(reach(State.CHECKING, site=advice))
