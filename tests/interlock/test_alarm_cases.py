"""Alarms that are wired for, that end with the cut, or that take several parts to come."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from interlock_site import INPUTS, MINIMUM_KPA, TWO_GAUGES, kpa_of, plan_of, site_of
from interlock_world import World, reach
from test_alarm_rows import CALIBRATED, S, free, jump, lost, pulls

from kiosk.interlock.commands import Name
from kiosk.interlock.facts import LogFacts

# -- what exists only where it is wired or written ---------------------------------------------


@pytest.mark.parametrize("name", ["pump_running", "filter_loaded", "on_battery", "valve_open"])
def test_what_is_not_wired_raises_nothing(name: str) -> None:
    world = reach(S.SELECT_JOB, site=site_of(inputs=INPUTS - {name}))
    world.vacuum["table"] = 3.0  # a zero that is off, and never moves
    world.run(90.0)
    assert world.alarms() == ({"A18"} if name != "valve_open" else set())


def test_a_signal_that_is_lost_leaves_the_alarm_as_it_is() -> None:
    world = reach(S.SELECT_JOB, site=site_of(inputs=INPUTS | {"on_battery"}))
    world.inputs["on_battery"] = True
    world.run(1.2)
    world.io = False
    world.run(30.0)
    assert world.alarms() == {"A10", "A11"}
    world.io, world.inputs["on_battery"] = True, False
    world.run(9.9)
    assert "A11" in world.alarms()
    world.run(0.3)
    assert "A11" not in world.alarms()


def test_a_delay_begins_again_when_it_was_broken_off() -> None:
    world = reach(S.SELECT_JOB)
    for _ in range(3):
        free(0.1)(world)
        world.run(59.0)
        free(0.5)(world)
        world.run(0.1)
    assert world.alarms() == set()
    free(0.1)(world)
    world.run(60.2)
    free(0.5)(world)
    world.run(59.0)
    free(0.1)(world)
    world.run(0.1)
    free(0.5)(world)
    world.run(59.0)
    assert world.alarms() == {"A21"}


def test_no_wall_clock_to_ask_is_no_fault_of_the_clock() -> None:
    world = reach(S.SELECT_JOB)
    world.step(25 * 3600.0)
    world.run(70.0)
    assert world.alarms() == set()


def test_the_date_of_the_gauge_that_is_due_first_counts() -> None:
    gauges = (
        replace(TWO_GAUGES[0], calibration_due="2027-06-01"),
        replace(TWO_GAUGES[1], calibration_due="2026-12-20"),
    )
    world = reach(S.SELECT_JOB, site=site_of(gauges=gauges))
    assert world.alarms() == {"A19"}
    shown = world.shown.alarms[0]
    assert shown.value == 25  # from 25 November to 20 December


def test_only_a_better_test_ends_the_alarm_of_a_leak() -> None:
    world = reach(S.SELECT_JOB)
    world.leak_ratio = 2.5
    world.step()
    world.leak_ratio = None  # the file of the tests cannot be read
    world.run(60.0)
    assert (world.alarms(), world.shown.alarms[0].active) == ({"A15"}, True)
    world.leak_ratio = 2.001
    world.step()
    assert world.shown.alarms[0].active
    world.leak_ratio = 2.0
    world.step()
    assert not world.shown.alarms[0].active


def test_another_zone_that_leaks_most_is_a_leak_that_nobody_has_seen() -> None:
    world = reach(S.SELECT_JOB)
    world.leak_ratio, world.leak_zone = 2.5, "B"
    world.step()
    world.see()
    world.leak_ratio = 3.5  # the same zone, tested again
    world.step()
    assert [(a.code, a.acknowledged) for a in world.shown.alarms] == [("A15", True)]
    world.leak_ratio, world.leak_zone = 4.5, "C"
    world.step()
    assert [(a.acknowledged, a.value, a.about) for a in world.shown.alarms] == [(False, 4.5, "C")]
    raised = [row for row in world.of_kind("alarm") if row["change"] == "raised"]
    assert [(row["code"], row["about"]) for row in raised] == [("A15", "B"), ("A15", "C")]
    world.see()
    world.leak_ratio = world.leak_zone = None  # the file of the tests cannot be read
    world.run(5.0)
    assert [(a.code, a.acknowledged) for a in world.shown.alarms] == [("A15", True)]
    world.leak_ratio, world.leak_zone = 1.5, "B"
    world.step()
    assert (world.alarms(), world.of_kind("alarm")[-1]["about"]) == (set(), "C")


def test_an_alarm_that_is_about_the_machine_as_a_whole_names_nothing() -> None:
    world = reach(S.SELECT_JOB, site=site_of(lockout_inspected="2020-01-01"))
    assert "about" not in world.of_kind("alarm")[-1]


@pytest.mark.parametrize("utc", ["1970-01-01T00:00:00Z", "2025-12-31T00:00:00Z", "no date"])
def test_a_clock_that_cannot_be_right_raises_no_alarm_of_a_date(utc: str) -> None:
    """The permissive of the date holds the permit back then."""
    site = site_of(gauges=CALIBRATED, lockout_inspected="2020-01-01")
    world = reach(S.SELECT_JOB, site=site, utc=utc)
    assert world.alarms() == set()


# -- the end of the cut ------------------------------------------------------------------------


def test_a_missing_value_stands_after_the_cut_until_a_value_is_back() -> None:
    world = lost()
    world.cycle(False)
    world.run(10.0)
    assert "A03" in world.alarms()
    world.set_ratio(1.5)
    world.run(1.9)
    assert "A03" in world.alarms()
    world.run(0.3)
    assert "A03" not in world.alarms()


def test_a_missing_value_can_be_reset_after_the_cut_and_is_not_raised_again() -> None:
    world = lost()
    world.cycle(False)
    assert world.send(Name.RESET, cause="gauge_or_wire") is None
    world.run(2.0)
    assert "A03" not in [a.code for a in world.shown.alarms]


def test_a_gauge_that_scatters_in_the_cut_says_by_how_much_and_stops_nothing() -> None:
    """The median of the second differences is 2 x 5 kPa: 2 x 5 / (0.6745 x 6 ** 0.5) is 6.05."""
    world = reach(S.CUTTING)
    for number in range(100):
        world.set_vacuum(kpa_of(1.6) + 5.0 * (-1) ** (number // 2))
        world.step()
    (shown,) = [a for a in world.shown.alarms if a.code == "A27"]
    assert (shown.limit, shown.unit, shown.active) == (3.0, "kPa", True)
    assert shown.value is not None
    assert shown.value > 3.0
    assert (world.state, world.outputs) == (S.CUTTING, (True, True))


def test_a_gauge_that_jumps_is_told_of_in_the_cut_only() -> None:
    """Before a start the permissive withholds."""
    world = reach(S.READY)
    jump(30.1)(world)
    world.run(0.1)
    assert world.alarms() == set()
    assert "gauge_plausible" in world.unmet()


# -- feed hold that is not answered -----------------------------------------------------------


def test_a_machine_that_comes_to_rest_within_a_second_answered_feed_hold() -> None:
    world = lost()
    world.run(0.9)
    world.cycle(False)
    world.run(2.0)
    assert "A26" not in [a.code for a in world.shown.alarms]


def test_an_unanswered_feed_hold_stands_while_the_signals_are_lost_and_needs_a_reset() -> None:
    world = lost()
    world.run(1.1)
    world.io = False
    world.run(2.0)
    assert "A26" in world.alarms()
    world.io = True
    world.cycle(False)
    assert [(a.active, a.latched) for a in world.shown.alarms if a.code == "A26"] == [(False, True)]
    assert world.send(Name.RESET, cause="gauge_or_wire") is None
    assert "A26" not in [a.code for a in world.shown.alarms]


@pytest.mark.parametrize("how", ["key", "no contact", "signals lost"])
def test_nothing_is_said_of_feed_hold_where_it_need_not_act_or_cannot_be_known(how: str) -> None:
    """The maker's key takes the panel out of the machine's program; a contact that is not wired
    asks for nothing; lost signals tell of no motion."""
    outputs = frozenset({"start_permit"}) if how == "no contact" else site_of().outputs
    world = reach(S.CUTTING, site=site_of(outputs=outputs))
    world.set_ratio(0.5)
    world.run(0.1)
    assert world.state is S.HOLD_LOST
    if how == "key":
        world.inputs["key_bypass"] = True
    world.io = how != "signals lost"
    world.run(3.0)
    assert "A26" not in [a.code for a in world.shown.alarms]


# -- pull-downs --------------------------------------------------------------------------------


def pulling(**changes: object) -> World:
    return reach(S.CHECKING, site=site_of(pull_down_s=1.0), **changes)


def test_five_pull_downs_are_remembered_and_no_more() -> None:
    world = pulling()
    pulls(1.6, 1.6, 1.0, 1.0, 1.6, 1.0)(world)
    assert "A16" not in world.alarms()  # the first is forgotten
    pulls(1.6)(world)
    assert "A16" not in world.alarms()
    pulls(1.6)(world)
    assert "A16" in world.alarms()


def test_a_board_that_air_comes_through_is_not_counted() -> None:
    world = pulling(plan=plan_of(leaks=True))
    pulls(3.0, 3.0, 3.0, 3.0)(world)
    assert "A16" not in world.alarms()


def test_a_pull_down_counts_once() -> None:
    world = pulling()
    for _ in range(4):
        pulls(1.6)(world)
        for below, above in pairwise([60.0, 40.0, 60.0]):
            world.set_vacuum(below)
            world.run(2.0)
            world.set_vacuum(above)
            world.run(2.0)
        world.memory = replace(world.memory, supply=replace(world.memory.supply, slow=()))
    assert "A16" not in world.alarms()


# -- flood -------------------------------------------------------------------------------------


def test_in_a_loss_what_can_wait_is_for_the_list_only() -> None:
    world = reach(S.CUTTING, site=site_of(lockout_inspected="2020-01-01"))
    assert [(a.code, a.quiet) for a in world.shown.alarms] == [("A20", False)]
    assert not world.decision.outputs.beacon  # a priority 3 never
    world.ramp(0.9)
    world.run(0.5)
    quiet = {a.code: a.quiet for a in world.shown.alarms}
    assert quiet.pop("A20") is True
    assert set(quiet.values()) == {False}
    world.cycle(False)
    world.send(Name.RESET, cause="other")
    assert {a.code: a.quiet for a in world.shown.alarms}["A20"] is False


def test_a_priority_1_of_no_group_quiets_nothing() -> None:
    world = reach(S.NO_PERMIT, site=site_of(lockout_inspected="2020-01-01"))
    world.stuck["hold_healthy"] = True
    world.run(0.6)
    assert {"A12", "A20"} <= world.alarms()
    assert not any(a.quiet for a in world.shown.alarms)


def test_a_latch_found_in_the_log_is_that_of_its_state() -> None:
    for latch, code in (("HOLD LOST", "A01"), ("NO PERMIT", "A22")):
        world = World(log=LogFacts(True, True, None, True, 0.5, latch, None))
        world.step()
        assert world.state is S.HOLD_LOST
        assert world.alarms() == {code}


def test_ratios_are_of_the_plan() -> None:
    assert kpa_of(1.0) == MINIMUM_KPA + 3.0
