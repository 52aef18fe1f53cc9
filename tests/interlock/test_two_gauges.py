"""Two gauges: R for each with its own drop and error, and the lower counts."""

from __future__ import annotations

import pytest
from interlock_site import ERROR_KPA, MINIMUM_KPA, PUMP_DROP_KPA, TWO_GAUGES, kpa_of, site_of
from interlock_world import World, reach

from kiosk.interlock.commands import Name
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

SITE = site_of(gauges=TWO_GAUGES)


def cut() -> World:
    return reach(State.CUTTING, site=SITE)


def test_each_gauge_has_its_own_r() -> None:
    """Closed form: (70 - 5 - 1) / 40 at the pump, (55 - 2 - 1) / 40 at the table."""
    world = reach(State.CHECKING, site=SITE)
    world.vacuum.update(table=55.0, pump=70.0)
    world.step()
    ratios = {gauge.name: gauge.ratio for gauge in world.shown.gauges}
    assert ratios["pump"] == pytest.approx((70.0 - PUMP_DROP_KPA - ERROR_KPA) / MINIMUM_KPA)
    assert ratios["table"] == pytest.approx((55.0 - 2.0 - 1.0) / 40.0)
    hold = world.shown.hold
    assert (hold.gauge, hold.ratio) == ("table", ratios["table"])
    assert hold.required_kpa == pytest.approx(43.0)
    assert hold.start_kpa == pytest.approx(49.0)


def test_the_lower_one_decides_whichever_it_is() -> None:
    world = reach(State.CHECKING, site=SITE)
    world.vacuum.update(table=70.0, pump=60.0)
    world.step()
    assert world.shown.hold.gauge == "pump"
    assert world.shown.hold.required_kpa == pytest.approx(46.0)


@pytest.mark.parametrize("low", ["table", "pump"])
def test_one_gauge_below_is_a_loss(low: str) -> None:
    world = cut()
    world.ramp(1.08)
    world.run(1.0)
    world.vacuum[low] = world.vacuum[low] - 3.6  # type: ignore[operator]
    world.run(0.3)
    assert world.state is State.HOLD_LOST


@pytest.mark.parametrize("silent", ["table", "pump"])
@pytest.mark.parametrize("fault", [None, Why.SILENT, Why.BROKEN])
def test_one_gauge_without_a_value_is_no_valid_value(silent: str, fault: Why | None) -> None:
    """The other alone cannot show what this one was put there to see."""
    world = cut()
    world.vacuum[silent] = fault
    world.run(0.95)
    assert world.state is State.CUTTING
    world.run(0.1)
    assert world.state is State.HOLD_LOST
    assert world.alarms() == {"A03"}
    other = "pump" if silent == "table" else "table"
    assert {gauge.name: gauge.health for gauge in world.shown.gauges} == {silent: "F", other: ""}


@pytest.mark.parametrize(("apart", "agree"), [(3.0, True), (3.1, False)])
@pytest.mark.parametrize("sign", [1, -1])
def test_gauges_may_be_3_kpa_apart_beyond_the_expected_drop(
    apart: float, agree: bool, sign: int
) -> None:
    world = reach(State.READY, site=SITE)
    world.vacuum["pump"] = world.vacuum["table"] + 3.0 + sign * apart  # type: ignore[operator]
    world.run(2.9)
    assert "gauges_agree" not in world.unmet()
    world.run(0.2)
    assert ("gauges_agree" not in world.unmet()) is agree
    assert {gauge.health for gauge in world.shown.gauges} == {"" if agree else "S"}


@pytest.mark.parametrize(("apart", "agree"), [(3.35, True), (3.45, False)])
def test_or_4_per_cent_of_the_larger_reading(apart: float, agree: bool) -> None:
    """Pump at 85 kPa: 4 % are 3.4 kPa."""
    world = reach(State.READY, site=SITE)
    world.vacuum.update(pump=85.0, table=85.0 - 3.0 - apart)
    world.run(8.0)
    assert ("gauges_agree" not in world.unmet()) is agree


def test_a_difference_that_goes_within_3_s_is_none() -> None:
    world = reach(State.READY, site=SITE)
    pump = world.vacuum["pump"]
    for _ in range(3):
        world.vacuum["pump"] = pump + 5.0  # type: ignore[operator]
        world.run(2.9)
        world.vacuum["pump"] = pump
        world.run(0.1)
    assert "gauges_agree" not in world.unmet()


@pytest.mark.parametrize(("apart", "lost"), [(9.9, False), (10.1, True)])
def test_more_than_10_kpa_apart_for_1_s_in_the_cut_is_a_loss(apart: float, lost: bool) -> None:
    world = cut()
    world.set_ratio(1.5)
    world.vacuum["pump"] = world.vacuum["table"] + 3.0 + apart  # type: ignore[operator]
    world.run(1.0)
    assert world.state is State.CUTTING
    world.run(0.1)
    assert (world.state is State.HOLD_LOST) is lost
    assert world.alarms() == ({"A04"} if lost else set())


def test_before_the_start_disagreement_only_withholds() -> None:
    world = reach(State.PERMIT, site=SITE)
    world.vacuum["pump"] = world.vacuum["table"] + 20.0  # type: ignore[operator]
    world.run(3.1)
    assert world.state is State.CHECKING
    assert world.alarms() == {"A08"}
    healths = {gauge.name: gauge.health for gauge in world.shown.gauges}
    assert healths == {"table": "S", "pump": "S"}


def test_the_part_is_free_by_the_table_gauge_though_the_pump_runs_on() -> None:
    world = reach(State.RELEASE, site=SITE)
    world.vacuum.update(table=0.5, pump=80.0)
    world.run(3.2)
    assert world.shown.release == "vented"
    assert world.send(Name.NEXT_PART) is None


def test_the_time_left_is_the_shortest_of_all_gauges() -> None:
    world = cut()
    world.run(6.0)
    for _ in range(240):
        world.vacuum["pump"] = world.vacuum["pump"] - 0.4 * world.step_s  # type: ignore[operator]
        world.step()
    pump = world.vacuum["pump"]
    assert isinstance(pump, float)
    assert world.shown.hold.time_left_s == pytest.approx((pump - 46.0) / 0.4, rel=0.02)


def test_a_gauge_at_the_start_level_alone_proves_nothing() -> None:
    world = reach(State.CHECKING, site=SITE)
    world.vacuum.update(table=kpa_of(1.3), pump=kpa_of(1.3) - 8.0)
    world.run(6.0)
    assert world.state is State.CHECKING


def test_starting_waits_for_both() -> None:
    world = World(site=SITE)
    world.vacuum["pump"] = None
    world.run(1.0)
    assert world.state is State.STARTING
    assert world.shown.waiting_for == ("gauge",)
    world.vacuum["pump"] = 0.0
    world.step()
    assert world.state is State.SELECT_JOB


# -- samples that never come in the same step --------------------------------------------------


def staggered(state: State) -> World:
    """Two gauges at 20 Hz, each on a line of its own: their samples come in turns."""
    return reach(state, site=SITE, staggered=True, step_s=0.025)


def test_gauges_that_come_in_turns_prove_a_hold() -> None:
    world = staggered(State.CHECKING)
    world.set_ratio(1.5)
    world.run(2.9)
    assert world.state is State.CHECKING
    world.run(0.6)
    assert world.state is State.READY


def test_10_samples_of_each_gauge_prove_a_hold_and_not_of_both_together() -> None:
    """One sample of each in 0.4 s: in 3 s only 8 of each."""
    world = reach(State.CHECKING, site=SITE, staggered=True, step_s=0.025)
    world.gauge_every_s = 0.4
    world.set_ratio(1.5)
    world.run(3.6)
    assert "hold_enough" in world.unmet()
    world.run(0.8)
    assert "hold_enough" not in world.unmet()


def test_a_hold_is_not_proved_by_the_one_gauge_that_still_answers_often() -> None:
    world = staggered(State.CHECKING)
    world.set_ratio(1.5)
    world.run(2.7)
    world.vacuum["pump"] = None  # its newest value stays young for half a second
    world.run(0.45)
    assert "hold_enough" in world.unmet()


@pytest.mark.parametrize(("apart", "lost"), [(9.9, False), (10.1, True)])
def test_gauges_that_come_in_turns_far_apart_in_the_cut_are_a_loss(
    apart: float, lost: bool
) -> None:
    world = staggered(State.CUTTING)
    world.vacuum["pump"] = world.vacuum["table"] + 3.0 + apart  # type: ignore[operator]
    world.run(1.0)
    assert world.state is State.CUTTING
    world.run(0.15)
    assert (world.state is State.HOLD_LOST) is lost
    assert world.alarms() == ({"A04"} if lost else set())


def test_gauges_that_come_in_turns_may_disagree_for_3_s() -> None:
    world = staggered(State.READY)
    world.vacuum["pump"] = world.vacuum["table"] + 3.0 + 4.0  # type: ignore[operator]
    world.run(2.9)
    assert "gauges_agree" not in world.unmet()
    world.run(0.3)
    assert "gauges_agree" in world.unmet()


def test_gauges_that_come_in_turns_show_a_part_vented() -> None:
    world = staggered(State.RELEASE)
    world.set_vacuum(0.5)
    world.run(2.9)
    assert world.shown.release == "may_release"
    world.run(0.3)
    assert world.shown.release == "vented"


def test_a_part_is_free_by_the_table_gauge_though_the_pump_s_is_silent() -> None:
    world = reach(State.RELEASE, site=SITE)
    world.vacuum.update(table=0.5, pump=None)
    world.run(3.2)
    assert world.shown.release == "vented"


@pytest.mark.parametrize("low", ["table", "pump"])
def test_gauges_that_come_in_turns_show_a_loss(low: str) -> None:
    world = staggered(State.CUTTING)
    world.ramp(1.08)
    world.run(1.0)
    world.vacuum[low] = world.vacuum[low] - 3.6  # type: ignore[operator]
    world.run(0.3)
    assert world.state is State.HOLD_LOST


def test_a_warning_is_over_only_by_samples_of_both() -> None:
    world = staggered(State.LOW_HOLD)
    world.ramp(1.3)
    world.run(1.0)
    assert world.state is State.LOW_HOLD
    world.run(12.0)
    assert world.state is State.CUTTING


def test_a_gauge_whose_twin_is_silent_is_not_doubted_for_it() -> None:
    world = reach(State.CHECKING, site=site_of(gauges=TWO_GAUGES))
    world.set_vacuum(60.0)
    world.vacuum["pump"] = None
    world.run(2.0)
    assert {g.name: g.health for g in world.shown.gauges} == {"table": "", "pump": "F"}
