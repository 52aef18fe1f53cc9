"""Why a gauge that answers may not be believed, and the NE 107 letter it gets for it.

Letters and what they mean: NAMUR NE 107 (F failure, C function check, S out of specification,
M maintenance required).  Limits without a source named are our own choice.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random
from statistics import pstdev

import pytest
from doubted import PUMP, doubt, letter
from interlock_site import TWO_GAUGES, kpa_of, site_of
from interlock_world import World, reach

from kiosk.interlock import days
from kiosk.interlock.commands import Name
from kiosk.interlock.doubt import scatter
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

S = State


# -- scatter -----------------------------------------------------------------------------------


@pytest.mark.parametrize("sigma", [0.3, 1.0, 3.0])
def test_scatter_is_the_standard_deviation_of_normal_noise(sigma: float) -> None:
    """Against the standard library's own of the same numbers, 5 % for 20,000 of them."""
    noise = Random(1).gauss
    marks = tuple((0.05 * n, 60.0 + noise(0.0, sigma)) for n in range(20_000))
    assert scatter(marks) == pytest.approx(pstdev(kpa for _, kpa in marks), rel=0.05)


def test_a_slope_and_a_few_steps_are_no_scatter() -> None:
    """A straight line has no second difference, and three steps of a hundred no median."""
    line = tuple((0.05 * n, 80.0 - 2.0 * n) for n in range(100))
    assert scatter(line) == pytest.approx(0.0, abs=1e-9)
    stairs = tuple((0.05 * n, 60.0 + 10.0 * (n // 33)) for n in range(100))
    assert scatter(stairs) == 0.0


def test_of_fewer_than_20_samples_nothing_is_said() -> None:
    marks = tuple((0.05 * n, 60.0 + 20.0 * (-1) ** n) for n in range(20))
    assert scatter(marks[:19]) is None
    assert scatter(marks) is not None


def wobble(world: World, kpa: float, seconds: float = 6.0) -> None:
    """Two up, two down: the second differences are all 2 x the amplitude."""
    for number in range(round(seconds / world.step_s)):
        world.set_vacuum(70.0 + kpa * (-1) ** (number // 2))
        world.step()


@pytest.mark.parametrize(("kpa", "noisy"), [(2.4, False), (2.6, True)])
def test_too_noisy_is_over_3_kpa(kpa: float, noisy: bool) -> None:
    """Median of the second differences is 2 kpa; 2 x 2.478 / (0.6745 x 6 ** 0.5) is 3.0."""
    world = reach(S.CHECKING)
    wobble(world, kpa)
    assert doubt(world).noisy is noisy
    assert ("gauge_plausible" in world.unmet()) is noisy
    assert letter(world) == ("S" if noisy else "")


def test_noise_that_is_over_is_over() -> None:
    world = reach(S.CHECKING)
    wobble(world, 5.0)
    assert doubt(world).noisy
    world.set_vacuum(70.0)
    world.run(6.0)
    assert not doubt(world).noisy


def test_noise_stays_said_while_no_value_comes() -> None:
    world = reach(S.CHECKING)
    wobble(world, 5.0)
    world.set_vacuum(None)
    world.run(0.4)
    assert doubt(world).noisy


# -- a vacuum that cannot be -------------------------------------------------------------------


@pytest.mark.parametrize(("kpa", "stays"), [(10.0, False), (10.1, True)])
def test_pump_off_and_valve_closed_for_30_s_leave_at_most_10_kpa(kpa: float, stays: bool) -> None:
    world = reach(S.CHECKING, site=PUMP)
    world.set_vacuum(kpa)
    world.inputs.update(pump_running=False, valve_open=False)
    world.memory = replace(world.memory, supply=replace(world.memory.supply, idle_s=None))
    world.run(29.9)
    assert not doubt(world).stays
    world.run(0.2)
    assert doubt(world).stays is stays
    assert ("gauge_plausible" in world.unmet()) is stays


@pytest.mark.parametrize("name", ["pump_running", "valve_open"])
def test_with_either_on_it_may_stay(name: str) -> None:
    world = reach(S.CHECKING, site=PUMP)
    world.set_vacuum(70.0)
    world.inputs[name] = True
    for _ in range(8):  # never the same for long, so that nothing is frozen
        world.run(5.0)
        world.set_vacuum(world.vacuum["table"] + 0.01)  # type: ignore[operator]
    assert not doubt(world).stays


# -- zero --------------------------------------------------------------------------------------


def vented(kpa: float, before_s: float = 0.0) -> World:
    world = reach(S.SELECT_JOB)
    world.inputs["valve_open"] = True
    world.set_vacuum(kpa)
    world.run(before_s)
    world.step()
    world.inputs["valve_open"] = False
    return world


@pytest.mark.parametrize(
    ("kpa", "off"), [(2.0, False), (2.1, True), (5.0, True), (5.1, False), (-1.9, False)]
)
def test_a_zero_is_off_between_2_and_5_kpa(kpa: float, off: bool) -> None:
    world = vented(kpa)
    world.run(21.0)
    assert doubt(world).drifted is off
    assert ("gauge_good" in world.unmet()) is off
    assert letter(world) == ("S" if off else "")


def test_it_is_looked_at_10_s_after_the_valve_closed_and_for_10_s() -> None:
    world = vented(3.0, before_s=15.0)
    world.run(19.9)
    assert not doubt(world).drifted
    world.run(0.3)
    assert doubt(world).drifted


def test_a_vacuum_that_still_falls_is_no_zero() -> None:
    """At 0.06 kPa/s from 5 to 2 kPa in 50 s: a part that is let go slowly."""
    world = vented(5.0)
    world.run(10.0)
    for _ in range(round(50.0 / world.step_s)):
        world.set_vacuum(world.vacuum["table"] - 0.06 * world.step_s)  # type: ignore[operator]
        world.step()
    assert not doubt(world).drifted


def test_a_zero_that_was_off_stays_off_until_it_was_seen_right() -> None:
    """A gauge that is 3 kPa off shows 3 kPa too much in the cut as well."""
    world = vented(3.0)
    world.run(21.0)
    world.inputs["valve_open"] = True
    world.set_vacuum(70.0)
    world.run(5.0)
    assert "gauge_good" in world.unmet()
    world.inputs["valve_open"] = False
    world.set_vacuum(1.0)
    world.run(19.9)
    assert doubt(world).drifted
    world.run(0.3)
    assert not doubt(world).drifted
    world.run(3.0)
    assert "gauge_good" not in world.unmet()


def test_the_pump_s_gauge_sees_no_venting() -> None:
    world = reach(S.SELECT_JOB, site=site_of(gauges=TWO_GAUGES))
    world.vacuum.update(table=0.5, pump=3.0)
    world.run(30.0)
    assert not doubt(world, "pump").drifted


def test_a_zero_is_not_judged_by_a_valve_that_is_not_known() -> None:
    world = vented(3.0)
    world.io = False
    world.run(30.0)
    assert not doubt(world).drifted


def test_a_gauge_without_a_value_is_no_zero() -> None:
    world = vented(3.0)
    world.run(15.0)
    world.set_vacuum(None)
    world.run(60.0)
    assert not doubt(world).drifted


# -- letters -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due", "said"), [("2026-12-26", ""), ("2026-12-25", "M"), ("2026-01-01", "M"), (None, "")]
)
def test_m_is_a_calibration_due_within_30_days(due: str | None, said: str) -> None:
    gauge = replace(site_of().gauges[0], calibration_due=due)
    world = reach(S.SELECT_JOB, site=site_of(gauges=(gauge,)))  # on 25 November
    assert letter(world) == said


def test_of_several_the_first_of_f_c_s_m_is_said() -> None:
    gauge = replace(site_of().gauges[0], calibration_due="2026-12-01")
    world = reach(S.CHECKING, site=site_of(gauges=(gauge,)))
    assert letter(world) == "M"
    wobble(world, 5.0)
    assert letter(world) == "S"
    world.send(Name.BEGIN_SERVICE)
    assert letter(world) == "C"
    world.set_vacuum(Why.BROKEN)
    world.step()
    assert letter(world) == "F"


@pytest.mark.parametrize(
    ("fault", "said"), [(Why.BROKEN, "F"), (Why.OUT_OF_RANGE, "S"), (Why.SILENT, ""), (200.0, "S")]
)
def test_letters_of_what_a_gauge_says_of_itself(fault: Why | float, said: str) -> None:
    world = reach(S.CHECKING)
    world.set_vacuum(fault)
    world.step()
    assert letter(world) == said


def test_a_gauge_that_jumps_is_out_of_specification() -> None:
    """Steps of 50 kPa in the time of one sample: no pump and no valve can do that."""
    world = reach(S.CHECKING)
    for value in (20.0, 70.0, 20.0, 70.0):
        world.set_vacuum(value)
        world.step()
    assert not doubt(world).implausible
    assert letter(world) == "S"


def test_gauges_apart_are_both_out_of_specification() -> None:
    world = reach(S.READY, site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = kpa_of(1.5) + 9.0
    world.run(4.0)
    assert (letter(world), letter(world, "pump")) == ("S", "S")


def test_the_worst_letter_stands_in_every_alarm_s_row() -> None:
    gauges = (TWO_GAUGES[0], replace(TWO_GAUGES[1], calibration_due="2026-12-01"))
    world = reach(S.SELECT_JOB, site=site_of(gauges=gauges))
    assert world.of_kind("alarm")[-1]["quality"] == "M"
    world.vacuum["table"] = None
    world.run(1.1)
    world.see()
    assert world.of_kind("alarm")[-1]["quality"] == "F"


# -- dates -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("due", "utc", "left"),
    [
        ("2026-12-31", "2026-12-01T23:59:59Z", 30),
        ("2026-03-01", "2026-02-28T00:00:00Z", 1),
        ("2028-03-01", "2028-02-28T00:00:00Z", 2),  # a leap year
        ("2026-01-01", "2026-01-31T00:00:00Z", -30),
        ("2026-01-01", "2026-01-01T00:00:00Z", 0),
        ("2026-12-31", "2025-12-31T00:00:00Z", None),
        ("2026-12-31", "", None),
        (None, "2026-12-31T00:00:00Z", None),
    ],
)
def test_days_between_dates(due: str | None, utc: str, left: int | None) -> None:
    """Counted on a calendar."""
    assert days.days_until(due, utc) == left
