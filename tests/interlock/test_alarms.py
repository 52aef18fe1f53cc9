"""Alarms: what raises each, and their life as IEC 62682 has it (same states: OPC 10000-9, 4.8)."""

from __future__ import annotations

import pytest
from interlock_site import UTC, plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock import alarms
from kiosk.interlock.commands import Name
from kiosk.interlock.snapshot import AlarmShown
from kiosk.interlock.states import State

# code: priority, latched.  The list fixed for screen and log.
LIST = {
    "A01": (1, True), "A02": (1, True), "A03": (1, True), "A04": (1, True), "A05": (2, False),
    "A06": (2, False), "A07": (2, False), "A08": (2, False), "A09": (2, False), "A10": (2, False),
    "A11": (2, False), "A12": (1, True), "A13": (2, False), "A14": (3, False), "A15": (3, False),
    "A16": (3, False), "A17": (3, False), "A18": (3, False), "A19": (3, False), "A20": (3, False),
    "A21": (3, False), "A22": (1, True), "A23": (2, False), "A24": (1, True), "A25": (2, False),
    "A26": (1, True), "A27": (2, False),
}  # fmt: skip


def alarm(world: World, code: str) -> AlarmShown:
    return next(a for a in world.shown.alarms if a.code == code)


def codes(world: World) -> list[str]:
    return [a.code for a in world.shown.alarms]


def changes(world: World, code: str) -> list[str]:
    return [row["change"] for row in world.of_kind("alarm") if row["code"] == code]


def test_the_list_has_the_fixed_codes_priorities_and_latches() -> None:
    assert {row.code: (row.priority, row.latches) for row in alarms.ROWS} == LIST


@pytest.mark.parametrize(
    "state", [s for s in State if s not in (State.LOW_HOLD, State.HOLD_LOST, State.NO_PERMIT)]
)
def test_a_good_day_raises_nothing(state: State) -> None:
    assert codes(reach(state)) == []


def test_a01_hold_lost_while_cutting_tells_the_number_and_the_limit() -> None:
    world = reach(State.HOLD_LOST)
    shown = alarm(world, "A01")
    assert (shown.priority, shown.latched, shown.active) == (1, True, True)
    assert shown.value is not None
    assert shown.value < 1.0
    assert (shown.limit, shown.unit, shown.utc) == (1.0, "ratio", UTC)
    note = next(n for n in world.notes if n.data.get("to") == State.HOLD_LOST)
    assert note.data["event"] == "hold_lost"
    assert shown.since_s == pytest.approx(world.now_s - world.memory.entered_s)


def test_a22_a_start_without_permit() -> None:
    world = reach(State.NO_PERMIT)
    assert codes(world) == ["A22"]
    assert alarm(world, "A22").latched


def test_a25_a_cycle_stopped_with_the_part_held_too_long() -> None:
    world = reach(State.PAUSED)
    world.run(119.9)
    assert codes(world) == []
    world.step(0.2)
    assert codes(world) == ["A25"]
    assert world.send(Name.REQUEST_PERMIT) is None
    assert world.state is State.PERMIT
    assert not alarm(world, "A25").active


def test_a25_is_gone_when_the_part_is() -> None:
    world = reach(State.PAUSED)
    world.inputs["standstill"] = True
    world.run(121.0)
    assert world.alarms() == {"A25"}
    world.set_vacuum(0.5)
    world.run(4.0)
    assert (world.state, world.alarms()) == (State.SET_UP, set())


def test_a10_link_lost_for_3_s_is_gone_after_5_s() -> None:
    world = reach(State.SELECT_JOB)
    world.io = False
    world.run(3.1)
    assert world.alarms() == {"A10"}
    world.io = True
    world.run(4.9)
    assert world.alarms() == {"A10"}
    world.run(0.3)
    assert world.alarms() == set()


def test_a07_needs_vacuum_being_drawn() -> None:
    world = reach(State.CHECKING)
    world.run(40.0)
    assert codes(world) == []
    world.inputs["valve_open"] = True
    world.run(31.0)
    assert codes(world) == ["A07"]
    assert world.shown.hold.drawing_down_s == pytest.approx(31.0, abs=0.1)


def test_cut_alarms_are_quiet_when_nothing_is_cut() -> None:
    """Suppressed by design while the machine is known to stand."""
    world = reach(State.CHECKING)
    world.set_ratio(0.5)
    world.run(5.0)
    world.set_vacuum(None)
    world.run(5.0)
    assert codes(world) == []


# -- life --------------------------------------------------------------------------------------


def test_seen_then_gone_leaves_the_list() -> None:
    world = reach(State.LOW_HOLD)
    assert alarm(world, "A05").active
    assert world.send(Name.ACKNOWLEDGE, alarm="A05") is None
    assert alarm(world, "A05").acknowledged
    world.ramp(1.5)
    world.run(6.0)
    assert "A05" not in codes(world)
    assert changes(world, "A05") == ["raised", "acknowledged", "cleared"]


def test_gone_then_seen_leaves_the_list() -> None:
    world = reach(State.LOW_HOLD)
    world.ramp(1.5)
    world.run(8.0)
    shown = alarm(world, "A05")
    assert (shown.active, shown.acknowledged) == (False, False)
    assert world.see() is None
    assert codes(world) == []
    assert changes(world, "A05") == ["raised", "cleared", "acknowledged"]


def test_come_back_it_is_to_be_seen_again() -> None:
    world = reach(State.LOW_HOLD)
    world.ramp(1.5)
    world.run(8.0)
    world.ramp(1.05)
    world.run(2.5)
    assert alarm(world, "A05").active
    assert changes(world, "A05") == ["raised", "cleared", "raised"]


def test_a_latched_alarm_stays_though_seen_and_gone() -> None:
    world = reach(State.HOLD_LOST)
    world.see()
    world.cycle(False)
    world.ramp(1.5)
    world.run(10.0)
    shown = alarm(world, "A01")
    assert (shown.active, shown.acknowledged, shown.latched) == (False, True, True)
    assert world.send(Name.RESET, cause="leak_at_edge") is None
    assert codes(world) == []
    assert changes(world, "A01") == ["raised", "acknowledged", "cleared", "reset"]


def test_a_latched_alarm_that_comes_again_is_to_be_seen_again() -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    world.see()
    world.stuck.clear()
    world.step()
    assert not alarm(world, "A12").active
    world.stuck["start_permit"] = False
    world.run(0.7)
    shown = alarm(world, "A12")
    assert (shown.active, shown.acknowledged) == (True, False)


def test_acknowledging_changes_no_output() -> None:
    for state in (State.LOW_HOLD, State.HOLD_LOST, State.NO_PERMIT):
        world = reach(state)
        before = world.outputs
        assert world.see() is None
        assert (world.state, world.outputs) == (state, before)


def test_the_beacon_is_on_while_a_priority_1_or_2_is_not_seen() -> None:
    world = reach(State.CUTTING)
    assert not world.decision.outputs.beacon
    world.ramp(1.05)
    world.run(2.5)
    assert world.decision.outputs.beacon
    world.see()
    assert not world.decision.outputs.beacon
    world.ramp(0.9)
    world.run(0.5)
    assert world.decision.outputs.beacon
    world.send(Name.ACKNOWLEDGE, alarm="A01")
    assert not world.decision.outputs.beacon


# -- first-out ---------------------------------------------------------------------------------


def test_the_first_of_the_group_stays_marked_until_the_group_is_gone() -> None:
    world = reach(State.CUTTING)
    world.ramp(0.9, 0.5)  # the time left warns first, then the level, then the loss
    world.run(0.5)
    first = [a.code for a in world.shown.alarms if a.first]
    assert first == ["A06"]
    assert {"A01", "A06"} <= world.alarms()
    world.cycle(False)
    world.see()
    assert "A01" in codes(world)
    world.send(Name.RESET, cause="other")
    assert codes(world) == []
    assert world.memory.first_out is None


def test_the_first_is_still_named_when_it_is_seen_and_gone_but_the_loss_is_not_reset() -> None:
    world = reach(State.CUTTING)
    world.ramp(0.995, 0.5)
    world.run(0.5)
    world.cycle(False)
    world.see()
    first = alarm(world, "A06")
    assert (first.active, first.acknowledged, first.first) == (False, True, True)
    assert not alarm(world, "A01").first
    assert "A05" not in codes(world)  # of no group: over is gone
    assert set(codes(world)) == {"A01", "A06"}
    assert world.send(Name.RESET, cause="leak_at_edge") is None
    assert codes(world) == []
    assert world.memory.first_out is None


def test_a_first_that_comes_again_keeps_its_time() -> None:
    world = reach(State.CUTTING)
    world.set_ratio(0.3)
    world.run(0.5)
    came_s = world.now_s - alarm(world, "A02").since_s
    other_s = world.now_s - alarm(world, "A01").since_s
    world.ramp(1.5)
    world.set_ratio(0.3)
    world.run(0.5)
    assert changes(world, "A02") == ["raised", "cleared", "raised"]
    assert (alarm(world, "A02").active, alarm(world, "A02").first) == (True, True)
    assert world.now_s - alarm(world, "A02").since_s == pytest.approx(came_s)
    assert world.now_s - alarm(world, "A01").since_s > other_s + 1.0  # the newest time


def test_a_first_without_a_group_left_goes_like_any_other() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.1, 0.5)
    assert alarm(world, "A06").first
    world.see()
    world.ramp(1.5)
    world.run(20.0)
    assert codes(world) == []
    world.set_ratio(0.3)
    world.run(0.5)
    assert [a.code for a in world.shown.alarms if a.first] == ["A02"]


def test_a_loss_at_once_is_its_own_first() -> None:
    world = reach(State.CUTTING)
    world.set_ratio(0.3)
    world.run(0.5)
    assert [a.code for a in world.shown.alarms if a.first] == ["A02"]
    assert {"A01", "A02"} <= world.alarms()
    assert codes(world)[0] == "A02"  # older first among equals


def test_alarms_of_another_kind_are_never_first() -> None:
    world = reach(State.NO_PERMIT)
    assert not alarm(world, "A22").first
    world = reach(State.PAUSED)
    world.run(121.0)
    assert not alarm(world, "A25").first


def test_the_most_urgent_is_shown_first() -> None:
    world = reach(State.LOW_HOLD)
    world.stuck["hold_healthy"] = False
    world.run(0.6)
    assert [a.priority for a in world.shown.alarms] == sorted(
        a.priority for a in world.shown.alarms
    )
    assert codes(world)[0] == "A12"


def test_alarms_are_logged_with_the_cycle_they_fell_in() -> None:
    world = reach(State.HOLD_LOST)
    note = next(n for n in world.notes if n.kind == "alarm" and n.data["code"] == "A01")
    assert note.cycle == "e1-1"
    assert note.data["cutting"] is True
    assert note.data["station"] == "Router 2"
    assert (note.data["state"], note.data["job_id"]) == ("unacknowledged", "SR-1")


def test_a03_counts_while_a_start_without_permit_runs() -> None:
    """What is not known counts as cutting."""
    world = reach(State.NO_PERMIT)
    world.set_vacuum(None)
    world.run(1.1)
    assert "A03" in world.alarms()


def test_a_refused_plan_can_be_seen_and_is_gone_with_the_next_choice() -> None:
    world = reach(State.SELECT_JOB, plan=plan_of(refused="no_cups"))
    world.send(Name.SELECT_JOB, job="SR-1")
    world.step()
    assert world.alarms() == {"A23"}
    world.see()
    assert world.alarms() == {"A23"}
    world.send(Name.CANCEL_JOB)
    assert codes(world) == []


def test_a_refusal_not_seen_is_off_the_list_once_another_plan_is_taken_up() -> None:
    """It says nothing of the plan that is taken up in its place."""
    world = reach(State.SELECT_JOB, plan=plan_of(refused="no_cups"))
    world.send(Name.SELECT_JOB, job="SR-1")
    world.step()
    assert codes(world) == ["A23"]
    world.plan = plan_of()
    world.send(Name.SELECT_JOB, job="SR-1")
    assert [(a.code, a.active, a.acknowledged) for a in world.shown.alarms] == [
        ("A23", False, False)
    ]
    world.step()
    assert world.state is State.SET_UP
    assert codes(world) == []
    changes = [n["change"] for n in world.of_kind("alarm") if n["code"] == "A23"]
    assert changes == ["raised", "cleared"]


def test_without_contacts_alarms_are_shown_and_not_latched() -> None:
    world = reach(State.READY, site=site_of(advice_only=True, outputs=frozenset()))
    world.ramp(0.9, 0.5)
    world.run(0.5)
    assert {"A01", "A06"} <= world.alarms()
    assert not any(a.latched for a in world.shown.alarms)
    assert world.state is State.READY
