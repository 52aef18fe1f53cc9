"""What the snapshot tells beside the state: each item there when it means something, else not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import INPUTS, OUTPUTS, TWO_GAUGES, kpa_of, plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.facts import GaugeSetting
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

TWO = site_of(gauges=TWO_GAUGES)
DUE = site_of(lockout_inspected="2020-01-01")  # A20 stands, of priority 3


# -- waiting -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "waiting"),
    [
        ({}, ("gauge", "inputs", "contacts")),
        ({"inputs": frozenset()}, ("gauge", "contacts")),
        ({"outputs": frozenset()}, ("gauge", "inputs")),
        ({"outputs": frozenset({"alive", "beacon"})}, ("gauge", "inputs")),
        ({"outputs": frozenset({"hold_healthy"})}, ("gauge", "inputs", "contacts")),
        ({"gauges": ()}, ("inputs", "contacts")),
    ],
)
def test_only_what_the_site_names_is_waited_for(
    changes: dict[str, object], waiting: tuple[str, ...]
) -> None:
    world = World(site=site_of(**changes), io=False)
    world.vacuum = dict.fromkeys(world.vacuum, None)
    world.step()
    assert (world.state, world.shown.waiting_for) == (State.STARTING, waiting)


def test_nothing_is_waited_for_any_more_after_the_first_round() -> None:
    world = reach(State.SELECT_JOB)
    world.io = False
    world.step()
    assert world.shown.waiting_for == ()


# -- the hold ----------------------------------------------------------------------------------


def test_before_there_is_a_value_the_gauge_that_needs_most_is_shown() -> None:
    """Closed form: the pump must show 40 + 5 + 1 kPa for R = 1, the table 40 + 2 + 1."""
    world = reach(State.CHECKING, site=TWO)
    world.set_vacuum(None)
    world.run(1.1)
    hold = world.shown.hold
    assert (hold.gauge, hold.required_kpa, hold.ratio) == ("pump", 46.0, None)
    assert hold.start_kpa == pytest.approx(46.0 + 0.15 * 40.0)


@pytest.mark.parametrize(("table", "pump", "name"), [(50.0, 80.0, "table"), (70.0, 50.0, "pump")])
def test_the_gauge_with_less_to_spare_is_shown(table: float, pump: float, name: str) -> None:
    """Closed form: R is (table - 3) / 40 and (pump - 6) / 40."""
    world = reach(State.CHECKING, site=TWO)
    world.vacuum.update(table=table, pump=pump)
    world.step()
    hold = world.shown.hold
    assert hold.gauge == name
    assert hold.ratio == pytest.approx(min((table - 3.0) / 40.0, (pump - 6.0) / 40.0))


def test_without_a_plan_the_first_gauge_is_shown() -> None:
    world = World(site=TWO)
    world.set_vacuum(30.0)
    world.step()
    hold = world.shown.hold
    assert (hold.gauge, hold.vacuum_kpa) == ("table", 30.0)
    assert (hold.required_kpa, hold.start_kpa, hold.predicted_kpa) == (None, None, None)


def test_without_a_gauge_nothing_is_shown_of_one() -> None:
    world = World(site=site_of(gauges=()), plan=plan_of())
    world.step()
    hold = world.shown.hold
    assert (hold.gauge, hold.vacuum_kpa, hold.slope_kpa_per_s, hold.start_kpa) == (None,) * 4


def test_settled_is_told_as_soon_as_it_can_be_judged() -> None:
    world = World()
    world.step()
    assert world.shown.hold.settled is None
    world = reach(State.READY)
    assert world.shown.hold.settled is True
    world.ramp(1.4, 1.0)
    assert world.shown.hold.settled is False


def test_the_hold_of_a_plan_says_what_was_predicted_and_how_it_moves() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.2, 0.5)
    hold = world.shown.hold
    assert hold.predicted_kpa == 78.0
    assert hold.slope_kpa_per_s == pytest.approx(-0.5, abs=0.02)
    assert hold.drawing_down_s is None


def test_a_fall_that_just_began_is_told_as_it_is_now() -> None:
    """The slope of ten seconds is still near level: the time left would be far too long."""
    world = reach(State.CUTTING)
    world.run(12.0)
    before = world.shown.hold
    assert before.slope_kpa_per_s == pytest.approx(0.0, abs=0.01)
    assert before.time_left_s is None
    for _ in range(80):
        world.set_vacuum(world.vacuum["table"] - 3.0 * world.step_s)  # type: ignore[operator]
        world.step()
    hold = world.shown.hold
    assert hold.vacuum_kpa is not None
    assert hold.required_kpa is not None
    assert hold.slope_kpa_per_s == pytest.approx(-3.0, abs=0.5)
    assert hold.time_left_s is not None
    assert hold.time_left_s <= 1.2 * (hold.vacuum_kpa - hold.required_kpa) / 3.0
    assert world.state is State.CUTTING


def test_a_gauge_tells_its_value_its_age_and_its_fault() -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.2)
    world.step()
    gauge = world.shown.gauges[0]
    assert (gauge.name, gauge.role, gauge.age_s, gauge.fault) == ("table", "table", 0.0, None)
    assert gauge.vacuum_kpa == pytest.approx(kpa_of(1.2))
    assert gauge.ratio == pytest.approx(1.2)
    world.set_vacuum(Why.BROKEN)
    world.step()
    assert world.shown.gauges[0].fault == "broken"
    assert world.shown.gauges[0].age_s == pytest.approx(0.05)


# -- alarms ------------------------------------------------------------------------------------


def quiet(world: World) -> dict[str, bool]:
    return {alarm.code: alarm.quiet for alarm in world.shown.alarms}


def test_a_warning_of_the_group_quiets_nothing() -> None:
    """Only a loss does: A06 is of the group, and of priority 2."""
    world = reach(State.CUTTING, site=DUE)
    world.ramp(1.22, 0.22)
    assert quiet(world) == {"A06": False, "A20": False}


def test_a_loss_that_is_over_quiets_nothing() -> None:
    world = reach(State.HOLD_LOST, site=DUE)
    assert quiet(world)["A20"]
    world.cycle(False)
    world.set_ratio(1.5)
    world.run(3.0)
    shown = {alarm.code: (alarm.latched, alarm.active) for alarm in world.shown.alarms}
    assert shown["A01"] == (True, False)
    assert not quiet(world)["A20"]


def test_what_the_end_of_the_cut_cleared_is_not_told_as_a_hold_that_came_back() -> None:
    """R stays at 0.9: only the cut is over."""
    world = reach(State.HOLD_LOST)
    world.io = False
    world.run(4.0)
    assert [(a.code, a.cut_over) for a in world.shown.alarms] == [("A01", False), ("A10", False)]
    world.io = True
    world.cycle(False)
    world.run(6.0)
    told = {alarm.code: (alarm.active, alarm.cut_over) for alarm in world.shown.alarms}
    assert told == {"A01": (False, True), "A10": (False, False)}


def test_what_outlasts_the_cut_by_its_delay_is_not_cleared_yet() -> None:
    """Gauges far apart: five seconds to go, and the contact of the cycle comes first."""
    world = reach(State.CUTTING, site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = 99.0
    world.run(2.0)
    world.cycle(False)
    world.run(1.0)
    told = {a.code: (a.active, a.cut_over) for a in world.shown.alarms}
    assert told["A04"] == (True, False)
    world.run(6.0)
    told = {a.code: (a.active, a.cut_over) for a in world.shown.alarms}
    assert told["A04"] == (False, True)


def test_a_warning_that_went_in_the_cut_is_told_as_gone() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.22, 0.22)
    assert world.alarms() == {"A06"}
    world.set_ratio(1.5)
    world.run(20.0)
    assert [(a.code, a.active, a.cut_over) for a in world.shown.alarms] == [("A06", False, False)]


def test_a_loss_quiets_only_what_can_wait() -> None:
    """Lost signals are of priority 2."""
    world = reach(State.HOLD_LOST, site=DUE)
    world.io = False
    world.run(4.0)
    assert quiet(world)["A20"]
    assert not quiet(world)["A10"]


def test_an_alarm_of_the_first_priority_that_is_no_loss_quiets_nothing() -> None:
    world = reach(State.NO_PERMIT, site=DUE)
    assert quiet(world) == {"A22": False, "A20": False}


def test_the_older_of_two_equals_is_shown_first() -> None:
    world = reach(State.SELECT_JOB, site=DUE)
    world.log = replace(world.log, free_share=0.1)
    world.run(60.2)
    assert [alarm.code for alarm in world.shown.alarms] == ["A20", "A21"]
    since_s = [alarm.since_s for alarm in world.shown.alarms]
    assert since_s[0] == pytest.approx(world.now_s - 100.05)
    assert 0.0 <= since_s[1] <= 0.3


# -- what is told only when it means something -------------------------------------------------


def test_a_plan_that_is_kept_is_told_only_over_a_held_part() -> None:
    world = reach(State.PART_HELD)
    assert "kept" in world.shown.details
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.memory.kept is not None
    assert (world.state, "kept" in world.shown.details) == (State.SELECT_JOB, False)


def test_a_cut_that_has_begun_is_told_until_the_part_is_let_go() -> None:
    world = reach(State.READY)
    assert "cut_begun" not in world.shown.details
    world = reach(State.CUTTING)
    world.step()
    assert world.memory.cycle is not None
    assert 0.0 < world.memory.cycle.cutting_s < 0.3
    assert world.shown.details["cut_begun"] is True
    world.cycle(False)
    assert (world.state, world.shown.details["cut_begun"]) == (State.PAUSED, True)
    world.send(Name.FINISH)
    world.set_vacuum(0.5)
    world.run(4.0)
    world.send(Name.NEXT_PART)
    assert (world.state, "cut_begun" in world.shown.details) == (State.SET_UP, False)


def test_the_gauge_whose_calibration_comes_first_is_told_with_its_date() -> None:
    dates = {"pump": "2027-03-01", "table": "2026-12-31", "spare": None}
    gauges = tuple(GaugeSetting(n, "table", 1.0, 20.0, calibration_due=d) for n, d in dates.items())
    world = reach(State.SELECT_JOB, site=site_of(gauges=gauges[:2]))
    assert world.shown.details["calibration"] == {"gauge": "table", "due": "2026-12-31"}
    world = reach(State.SELECT_JOB, site=site_of(gauges=gauges[1:]))
    assert world.shown.details["calibration"] == {"gauge": "table", "due": "2026-12-31"}
    assert "calibration" not in reach(State.SELECT_JOB).shown.details


def test_the_row_that_leaks_most_is_told_with_its_ratio() -> None:
    world = reach(State.SELECT_JOB)
    assert "leak" not in world.shown.details
    world.leak_ratio, world.leak_zone = 1.23456, "C"
    world.step()
    assert world.shown.details["leak"] == {"zone": "C", "ratio": 1.235}


def test_what_forbids_the_release_is_told_in_the_release_alone() -> None:
    world = reach(State.RELEASE)
    world.inputs["standstill"] = False
    world.step()
    assert (world.state, world.shown.forbids_release) == (State.RELEASE, ("standstill_unknown",))
    world = reach(State.CHECKING)
    world.inputs["standstill"] = False
    world.step()
    assert (world.state, world.shown.forbids_release) == (State.CHECKING, ())


def test_lost_signals_and_how_long_are_told_to_the_millisecond() -> None:
    world = reach(State.CUTTING)
    assert "io_lost_s" not in world.shown.details
    world.io = False
    world.step(0.0123456)
    world.step(0.0123456)
    assert world.shown.details["io_lost_s"] == 0.025


def test_how_far_two_gauges_are_apart_is_told_to_the_pascal() -> None:
    assert "apart_kpa" not in reach(State.CHECKING).shown.details
    world = reach(State.CHECKING, site=TWO)
    world.vacuum.update(table=50.0, pump=54.12345)
    world.step()
    assert world.shown.details["apart_kpa"] == 1.123


def test_seats_are_counted_when_their_zone_is_confirmed() -> None:
    world = reach(State.SET_UP)
    assert (world.shown.map_kept, world.shown.part_confirmed) == (False, False)
    world.send(Name.CONFIRM_ZONE, zone="B")
    assert (world.shown.seats_up, world.shown.seats_to_turn_up) == (1, 3)


def test_a_seat_map_that_is_kept_is_told_zone_by_zone() -> None:
    world = reach(State.PART_HELD)
    assert world.send(Name.RETAKE_PLAN) is None
    assert [(zone.name, zone.kept) for zone in world.shown.zones] == [("A", True), ("B", True)]
    assert world.send(Name.CONFIRM_ZONE, zone="B") is None
    assert [(zone.name, zone.kept) for zone in world.shown.zones] == [("A", True), ("B", False)]


def test_inputs_are_those_that_are_wired() -> None:
    world = reach(State.READY)
    assert set(world.shown.inputs) == INPUTS
    assert set(world.shown.outputs) == OUTPUTS
    assert world.shown.outputs == {
        **dict.fromkeys(("start_permit", "hold_healthy", "beacon"), False),
        "alive": world.decision.outputs.alive,
    }


@pytest.mark.parametrize("alive", [True, False])
def test_the_log_is_said_to_be_written_by_its_own_check_alone(alive: bool) -> None:
    world = reach(State.CHECKING)
    world.log_alive = alive
    world.run(20.0)
    others = {row.code for row in world.shown.permissives if row.holds}
    assert world.shown.log_writing is alive
    assert ("log_committing" in others) is alive
    assert len(others) > 3
    assert not all(row.holds for row in world.shown.permissives)


def test_how_an_alarm_went_is_kept_when_the_cut_ends_or_begins_again() -> None:
    """One that went in the cut and one that the end of the cut cleared."""
    world = reach(State.CUTTING)
    world.ramp(1.22, 0.22)
    world.set_ratio(1.5)
    world.run(20.0)
    world.cycle(False)
    world.run(1.0)
    assert [(a.code, a.active, a.cut_over) for a in world.shown.alarms] == [("A06", False, False)]
    other = reach(State.LOW_HOLD)
    other.cycle(False)
    other.run(1.0)
    assert [(a.code, a.active, a.cut_over) for a in other.shown.alarms] == [("A05", False, True)]
    other.set_ratio(1.5)
    other.run(6.0)
    assert other.send(Name.REQUEST_PERMIT) is None
    other.cycle(True)
    assert other.state is State.CUTTING
    assert [(a.code, a.active, a.cut_over) for a in other.shown.alarms] == [("A05", False, True)]
