"""Permissives that take a story to break, and what the log says of those that took a permit."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest
from interlock_site import INPUTS, TWO_GAUGES, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State


def test_minimum_known_needs_a_number_for_every_gauge() -> None:
    """A plan that lost its numbers after it was adopted still permits nothing."""
    for changes in (
        {"minimum_kpa": nan},
        {"minimum_kpa": inf},
        {"minimum_kpa": 0.0},
        {"minimum_kpa": -1.0},
        {"drops_kpa": {}},
        {"errors_kpa": {"table": nan}},
        {"drops_kpa": {"table": -3.0}},
    ):
        world = reach(State.READY)
        plan = world.memory.plan
        assert plan is not None
        world.memory = replace(world.memory, plan=replace(plan, **changes))  # type: ignore[arg-type]
        assert world.send(Name.REQUEST_PERMIT) is not None
        assert "minimum_known" in world.unmet()
        assert world.outputs == (False, False)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"zones": frozenset({"A"})}, "seats_confirmed"),
        ({"part_confirmed": False}, "part_confirmed"),
    ],
)
@pytest.mark.parametrize("state", [State.CHECKING, State.READY, State.PERMIT])
def test_a_set_up_that_is_not_confirmed_goes_back_to_set_up(
    state: State, changes: dict[str, object], code: str
) -> None:
    world = reach(state)
    world.memory = replace(world.memory, **changes)  # type: ignore[arg-type]
    world.step()
    assert (world.state, world.outputs) == (State.SET_UP, (False, False))
    assert code in world.unmet()


def test_a_plan_without_zones_is_never_confirmed() -> None:
    world = reach(State.READY)
    plan = world.memory.plan
    assert plan is not None
    world.memory = replace(world.memory, plan=replace(plan, zones=()))
    world.step()
    assert world.state is State.SET_UP
    assert "seats_confirmed" in world.unmet()


def test_a_latched_alarm_keeps_the_permit_back_until_it_is_reset() -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    assert world.state is State.CUTTING
    world.stuck.clear()
    world.cycle(False)
    assert world.state is State.CHECKING
    world.run(5.0)
    assert world.unmet() == {"alarms_clear", "asked"}
    assert world.see() is None
    assert "alarms_clear" in world.unmet()
    assert world.send(Name.RESET, cause="gauge_or_wire") is None
    world.step()
    assert world.state is State.READY


def test_a_silent_gauge_without_any_value_is_neither_good_nor_plausible() -> None:
    world = reach(State.STARTING)
    world.run(3.0)
    assert {"gauge_fresh", "gauge_good", "gauge_plausible", "gauges_agree"} - world.unmet() == {
        "gauges_agree"
    }


def test_a_site_without_a_gauge_never_permits() -> None:
    """All of nothing is not a proof."""
    world = World(site=site_of(gauges=()))
    world.step()
    assert {
        "gauge_fresh", "gauge_good", "gauge_plausible", "gauges_agree", "hold_enough",
        "hold_settled",
    } <= world.unmet()  # fmt: skip


def test_a_key_that_is_not_wired_is_off_and_one_that_is_not_known_is_not() -> None:
    inputs = frozenset({"cycle_running", "standstill"})
    world = reach(State.READY, site=site_of(inputs=inputs))
    assert "key_off" not in world.unmet()
    world = reach(State.READY)
    world.io = False
    world.step()
    assert "key_off" in world.unmet()


def lacks(world: World) -> list[tuple[object, object]]:
    """Event and codes of every move into CHECKING since the cut or the permit."""
    rows = [row for row in world.of_kind("state") if row["to"] == State.CHECKING]
    return [(row["event"], row.get("lacks")) for row in rows if row["from"] != State.SET_UP]


def test_the_log_says_what_took_the_permit_away() -> None:
    world = reach(State.PERMIT)
    world.inputs["stop_healthy"] = False
    world.log = replace(world.log, free_share=0.01)
    world.step()
    assert lacks(world) == [("unproved", ["log_has_room", "stop_chain_closed"])]


def test_the_log_says_what_of_a_pause_was_missing_when_the_cut_stopped() -> None:
    """An emergency stop in the cut, by the copy of its chain; a pause needs no steady vacuum."""
    world = reach(State.CUTTING)
    world.inputs["stop_healthy"] = False
    world.cycle(False)
    assert lacks(world) == [("cycle_stopped", ["stop_chain_closed"])]
    world = reach(State.CUTTING)
    world.cycle(False)
    assert world.state is State.PAUSED
    assert "lacks" not in world.of_kind("state")[-1]


def test_an_event_that_speaks_for_itself_is_logged_without_the_permissives() -> None:
    world = reach(State.PERMIT)
    world.send(Name.WITHDRAW)
    assert lacks(world) == [("withdrawn", None)]


def test_a_stop_chain_that_is_not_wired_is_no_condition() -> None:
    """As in table 8.2's "if fitted": nothing is claimed of what no wire tells."""
    world = reach(State.READY, site=site_of(inputs=INPUTS - {"stop_healthy"}))
    assert "stop_chain_closed" not in {row.code for row in world.shown.permissives}


def test_inputs_that_all_went_low_in_the_cut_lead_to_no_ready() -> None:
    """A dead supply of the inputs reads as off everywhere: no program, no standstill, no stop
    chain.  Inputs that mean "true when energised" say so (docs/wiring.md).
    """
    world = reach(State.CUTTING)
    world.stuck["contact_feedback"] = False
    world.inputs = dict.fromkeys(world.inputs, False)
    world.step()
    assert world.outputs == (False, False)
    world.run(5.0)
    assert (world.state, world.outputs) == (State.CHECKING, (False, False))
    assert "stop_chain_closed" in world.unmet()


def test_a_gap_in_the_samples_starts_the_proof_again() -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.5)
    world.run(2.5)
    world.set_vacuum(None)
    world.run(0.6)
    world.set_ratio(1.5)
    world.run(2.5)
    assert {"hold_enough", "hold_settled"} <= world.unmet()
    world.run(1.0)
    assert world.state is State.READY


@pytest.mark.parametrize(("why", "code"), [(Why.BROKEN, "gauge_good"), (102.1, "gauge_plausible")])
def test_a_gauge_that_was_doubted_must_be_sound_for_three_seconds(
    why: float | Why, code: str
) -> None:
    """Rows 2 and 4 of table 8.2: for 3 s.  Its last good value still shows the start level."""
    world = reach(State.READY)
    world.set_vacuum(why)
    world.step()
    world.set_ratio(1.5)
    world.step()
    assert code in world.unmet()
    world.run(2.95)
    assert world.state is State.CHECKING
    world.step()
    assert world.state is State.READY


def test_gauges_that_disagreed_must_agree_for_three_seconds() -> None:
    """Row 5 of table 8.2."""
    world = reach(State.READY, site=site_of(gauges=TWO_GAUGES))
    agreed = dict(world.vacuum)
    world.vacuum["pump"] += 5.0  # type: ignore[operator]
    world.run(3.05)
    assert world.state is State.CHECKING
    world.vacuum.update(agreed)
    world.run(3.0)
    assert world.unmet() == {"asked", "gauges_agree"}
    world.step()
    assert world.state is State.READY


def test_what_was_doubted_before_the_proof_does_not_count_after_it() -> None:
    """Once the hold is proved a row must hold, and need not have held for a time."""
    world = reach(State.PERMIT)
    world.memory = replace(world.memory, sound_s={})
    world.step()
    assert world.state is State.PERMIT


def test_a_garbled_answer_now_and_then_does_not_end_a_proof() -> None:
    world = reach(State.PERMIT)
    for _ in range(10):
        world.set_vacuum(Why.GARBLED)
        world.step()
        world.set_ratio(1.5)
        world.step()
    assert world.state is State.PERMIT


def test_two_gauges_agree_only_when_both_are_known() -> None:
    world = reach(State.READY, site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = None
    world.run(1.1)
    assert "gauges_agree" in world.unmet()
    assert world.state is State.CHECKING
