"""The step itself: pure, the same for the same, and whole in what it publishes."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from itertools import pairwise

import pytest
from interlock_site import UTC, site_of
from interlock_world import World, reach

from kiosk.interlock import snapshot
from kiosk.interlock.commands import Name
from kiosk.interlock.decision import Outputs
from kiosk.interlock.states import Flag, State
from kiosk.interlock.step import look_at, start, step
from kiosk.interlock.watch import QUIET, Warnings


@pytest.mark.parametrize("state", list(State))
def test_a_step_changes_neither_memory_nor_facts_and_repeats_itself(state: State) -> None:
    world = reach(state)
    world.queue(Name.ACKNOWLEDGE, alarm=["A01", "A05", "A22"])
    world.now_s += 0.05
    facts, memory = world.facts(), world.memory
    before = copy.deepcopy((memory, facts))
    first = step(memory, facts, UTC)
    assert (memory, facts) == before
    assert step(memory, facts, UTC) == first


@pytest.mark.parametrize("state", list(State))
def test_a_snapshot_comes_back_from_its_line(state: State) -> None:
    shown = reach(state).shown
    line = shown.to_json()
    assert "\n" not in line
    assert snapshot.from_json(line) == shown
    assert json.loads(line)["snapshot"]["state"] == state.value
    assert len(line) < 64 * 1024


def test_the_first_memory_withholds_everything() -> None:
    memory = start(site_of(), "e7")
    assert (memory.state, memory.outputs, memory.epoch) == (State.STARTING, Outputs(), "e7")


def test_the_sequence_counts_steps_and_the_epoch_stays() -> None:
    world = World()
    for number in range(1, 4):
        world.step()
        assert (world.shown.seq, world.shown.epoch, world.shown.at_s) == (
            number,
            "e1",
            world.now_s,
        )


def test_alive_turns_over_every_quarter_second_of_completed_steps() -> None:
    """2 Hz: two edges a period; the pulse relay outside waits 1.0 s for one."""
    world = World()
    edges = []
    before = False
    for _ in range(100):
        world.step()
        alive = world.decision.outputs.alive
        if alive != before:
            edges.append(world.now_s)
        before = alive
    gaps = [late - early for early, late in pairwise(edges)]
    assert gaps == pytest.approx([0.25] * len(gaps))
    assert len(edges) == 20


def test_a_late_step_makes_one_edge_and_not_many() -> None:
    world = World()
    world.step()
    before = world.decision.outputs.alive
    world.step(5.0)
    assert world.decision.outputs.alive is not before
    world.step(0.05)
    assert world.decision.outputs.alive is not before


def test_flags_stand_beside_any_state() -> None:
    world = World(site=site_of(simulated=True))
    world.vacuum["table"] = None
    world.step()
    assert set(world.shown.flags) == {Flag.SIMULATED, Flag.NO_DATA}
    world.set_vacuum(0.0)
    world.inputs["key_bypass"] = True
    world.step()
    assert set(world.shown.flags) == {Flag.SIMULATED, Flag.KEY_BYPASS}


def test_simulated_changes_nothing_but_a_flag() -> None:
    real, simulated = World(), World(site=site_of(simulated=True))
    for world in (real, simulated):
        world.cut()
        world.ramp(0.9)
        world.run(1.0)
    expected = replace(real.shown, flags=("SIMULATED",))
    assert simulated.shown == expected
    assert simulated.notes == real.notes


def test_unknown_is_null_and_never_a_number() -> None:
    world = World(plan=None)
    world.vacuum["table"] = None
    world.step()
    shown = world.shown
    gauge = shown.gauges[0]
    assert (gauge.vacuum_kpa, gauge.age_s, gauge.ratio, gauge.health) == (None, None, None, "F")
    hold = shown.hold
    assert hold.gauge == "table"
    assert {
        hold.vacuum_kpa, hold.ratio, hold.minimum_kpa, hold.required_kpa, hold.start_kpa,
        hold.predicted_kpa, hold.slope_kpa_per_s, hold.time_left_s, hold.settled,
        hold.drawing_down_s,
    } == {None}  # fmt: skip
    assert (shown.permit_left_s, shown.pause_left_s, shown.release, shown.cycle) == (
        None, None, None, None,
    )  # fmt: skip


def test_the_hold_is_shown_against_the_plan_before_there_is_a_value() -> None:
    world = reach(State.CHECKING)
    world.set_vacuum(None)
    world.run(1.1)
    hold = world.shown.hold
    assert (hold.ratio, hold.vacuum_kpa) == (None, None)
    assert (hold.minimum_kpa, hold.required_kpa) == (40.0, 43.0)
    assert hold.start_kpa == pytest.approx(49.0)


def test_the_snapshot_tells_what_is_written_and_what_is_read_back() -> None:
    world = reach(State.PERMIT)
    world.stuck["hold_healthy"] = False
    world.step()
    assert world.shown.outputs["hold_healthy"] is True
    assert world.shown.contacts == {"start_permit": True, "hold_healthy": False}
    world.io = False
    world.step()
    assert world.shown.contacts == {"start_permit": None, "hold_healthy": None}
    assert set(world.shown.inputs.values()) == {None}


def test_feed_hold_is_counted_from_the_loss() -> None:
    world = reach(State.HOLD_LOST)
    world.run(3.0)
    assert world.shown.feed_hold_asked_s == pytest.approx(world.now_s - world.memory.entered_s)
    assert world.shown.feed_hold_asked_s > 3.0
    assert reach(State.CUTTING).shown.feed_hold_asked_s is None


def test_permit_time_runs_down() -> None:
    world = reach(State.PERMIT)
    assert world.shown.permit_left_s == 60.0
    world.run(10.0)
    assert world.shown.permit_left_s == pytest.approx(50.0)


def test_health_letters_are_those_of_ne_107() -> None:
    """F failure, S out of specification, nothing when good (NAMUR NE 107)."""
    from kiosk.interlock.reading import Why

    world = reach(State.CHECKING)
    assert world.shown.gauges[0].health == ""
    for fault, letter in ((Why.BROKEN, "F"), (Why.OUT_OF_RANGE, "S"), (Why.GARBLED, "")):
        world.set_vacuum(fault)
        world.step()
        assert (world.shown.gauges[0].health, world.shown.gauges[0].fault) == (letter, fault)
    world.run(1.1)
    assert world.shown.gauges[0].health == "F"


def test_log_writing_is_shown() -> None:
    world = reach(State.SELECT_JOB)
    assert world.shown.log_writing
    world.log_alive = False
    world.run(5.1)
    assert not world.shown.log_writing


def test_a_step_is_small() -> None:
    """Its memory does not grow with time: a thousand steps leave windows of fixed size."""
    world = reach(State.CUTTING)
    world.run(60.0)
    window = world.memory.windows["table"]
    assert len(window.long) < 130
    assert len(window.short) < 30
    assert len(world.memory.alarms) <= 13


@pytest.mark.parametrize(
    ("state", "running", "advice_only", "watched"),
    [
        (State.PERMIT, False, False, True),
        (State.CUTTING, True, False, True),
        (State.LOW_HOLD, True, False, True),
        (State.PAUSED, False, False, True),
        (State.READY, False, False, False),
        (State.READY, False, True, True),
        (State.CHECKING, False, True, False),
        (State.NO_PERMIT, True, False, False),
        (State.HOLD_LOST, False, False, False),
        (State.HOLD_LOST, True, False, None),
    ],
)
def test_warnings_count_from_the_permit_on_and_stay_while_a_loss_runs(
    state: State, running: bool, advice_only: bool, watched: bool | None
) -> None:
    """A warning that stands, at R = 1.5: counted it is on its way out, not counted it is gone."""
    world = reach(State.READY)
    world.inputs["cycle_running"] = running
    world.site = replace(world.site, advice_only=advice_only)
    world.now_s += 0.05
    stood = Warnings(is_low=True)
    memory = replace(world.memory, state=state, watch=replace(world.memory.watch, warnings=stood))
    after = look_at(memory, world.facts(), UTC).memory.watch.warnings
    if watched:
        assert after.is_low
        assert after.low_over.since_s == world.now_s
    else:
        assert after == (stood if watched is None else QUIET)


@pytest.mark.parametrize(
    ("state", "rose", "after", "told"),
    [
        (State.PART_HELD, False, State.SELECT_JOB, True),
        (State.RELEASE, False, State.RELEASE, True),
        (State.CHECKING, True, State.SET_UP, True),
        (State.CHECKING, False, State.CHECKING, False),
        (State.SET_UP, False, State.CHECKING, False),
        (State.SET_UP, True, State.CHECKING, True),
    ],
)
def test_a_vented_table_is_news_where_a_part_was_held(
    state: State, rose: bool, after: State, told: bool
) -> None:
    world = reach(State.CHECKING)
    world.run(4.0)
    world.memory = replace(world.memory, state=state, rose=rose, standing=frozenset())
    world.notes.clear()
    world.step()
    assert world.state is after
    assert ("vented" in {row["event"] for row in world.of_kind("state")}) is told


def test_a_change_of_the_contacts_is_told_once_when_it_comes() -> None:
    world = reach(State.READY)
    world.notes.clear()
    world.run(0.5)
    assert world.of_kind("output") == []
    assert world.send(Name.REQUEST_PERMIT) is None
    world.run(0.5)
    both = {"start_permit": True, "hold_healthy": True}
    assert world.of_kind("output") == [both]
    assert world.send(Name.WITHDRAW) is None
    world.run(0.5)
    assert world.of_kind("output") == [both, dict.fromkeys(both, False)]


def test_the_time_of_the_cut_is_counted_with_every_step() -> None:
    world = reach(State.CUTTING)
    before = world.memory.cycle
    world.run(1.0)
    after = world.memory.cycle
    assert before is not None
    assert after is not None
    assert after.cutting_s - before.cutting_s == pytest.approx(1.0)


def test_signals_that_go_take_the_permit_at_once_and_their_coming_back_is_told_once() -> None:
    world = reach(State.READY)
    world.notes.clear()
    world.io = False
    world.run(0.6)
    assert world.state is State.CHECKING
    events = [row["event"] for row in world.of_kind("state")]
    assert (events.count("io_lost"), events.count("io_back")) == (1, 0)
    world.io = True
    world.run(1.0)
    events = [row["event"] for row in world.of_kind("state")]
    assert (events.count("io_lost"), events.count("io_back")) == (1, 1)


def test_a_part_without_its_seats_proves_nothing() -> None:
    world = reach(State.CHECKING)
    world.memory = replace(world.memory, state=State.SET_UP, zones=frozenset(), part_confirmed=True)
    world.step()
    assert world.state is State.SET_UP


def test_without_contacts_none_is_closed_whatever_the_state() -> None:
    world = reach(State.CUTTING)
    assert world.decision.outputs.start_permit
    assert world.decision.outputs.hold_healthy
    world.site = replace(world.site, advice_only=True)
    world.step()
    assert world.state is State.CUTTING
    assert not world.decision.outputs.start_permit
    assert not world.decision.outputs.hold_healthy
