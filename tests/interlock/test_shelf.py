"""An alarm that a person sets aside for a time.

Roles are the four that people can have; who may do what is our own choice, after the idea of use
control of IEC 62443 (common practice, no source for the numbers).
"""

from __future__ import annotations

from itertools import product

import pytest
from interlock_site import INPUTS, ROLES, site_of
from interlock_world import World, reach, signed

from kiosk.interlock.alarm_rows import ROWS
from kiosk.interlock.commands import COMMENT_CAP, SHELVE_REASONS, Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.snapshot import ShelvedShown
from kiosk.interlock.states import State

S, N = State, Name
INSPECTED = site_of(lockout_inspected="2020-01-01", inputs=INPUTS | {"on_battery"})


def noted(role: str | None = None, **changes: object) -> World:
    """A world in which an alarm of priority 3 stands."""
    world = reach(S.SELECT_JOB, site=INSPECTED, **changes)
    if role is not None:
        world.sign_on(role)
    assert world.alarms() == {"A20"}
    return world


def shelve(world: World, alarm: str, reason: object = "other") -> str | None:
    return world.send(N.SHELVE, alarm=alarm, reason=reason)


def test_a_shelved_alarm_is_off_the_list_with_its_reason_and_time() -> None:
    world = noted()
    assert shelve(world, "A20", "being_worked_on") is None
    assert world.shown.alarms == ()
    assert world.shown.shelved == (ShelvedShown("A20", 3, True, "being_worked_on", 3600.0),)
    world.run(10.0)
    assert world.shown.shelved[0].left_s == pytest.approx(3590.0)
    note = world.of_kind("alarm")[-1]
    assert (note["change"], note["state"]) == ("shelved", "shelved")
    assert (note["shelf_reason"], note["shelf_s"]) == ("being_worked_on", 3600.0)


def test_after_an_hour_it_is_back_and_to_be_seen_again() -> None:
    world = noted()
    world.see()
    shelve(world, "A20")
    world.step(3600.0 - 0.1)
    assert world.shown.shelved
    world.step(0.1)
    assert [(a.code, a.active, a.acknowledged) for a in world.shown.alarms] == [
        ("A20", True, False)
    ]
    assert not world.shown.shelved
    assert world.changes("alarm") == ["raised", "acknowledged", "shelved", "unshelved"]


def test_gone_on_the_shelf_it_comes_back_as_nothing() -> None:
    world = noted()
    shelve(world, "A20")
    world.utc = "2020-06-01T00:00:00Z"  # no date that can be: nothing stands
    world.run(1.0)
    assert (world.shown.shelved[0].active, world.shown.alarms) == (False, ())
    assert world.send(N.UNSHELVE, alarm="A20") is None
    assert (world.shown.shelved, world.shown.alarms) == ((), ())


def test_come_again_on_the_shelf_it_stays_there() -> None:
    world = noted()
    shelve(world, "A20")
    before, world.utc = world.utc, "2020-06-01T00:00:00Z"
    world.run(1.0)
    world.utc = before
    world.run(1.0)
    assert [(s.code, s.active, s.reason) for s in world.shown.shelved] == [("A20", True, "other")]
    assert world.shown.alarms == ()
    world.send(N.UNSHELVE, alarm="A20")
    assert [(a.active, a.acknowledged) for a in world.shown.alarms] == [(True, False)]


@pytest.mark.parametrize("gone_s", [0.0, 1.0])
def test_a_shelf_for_the_leak_of_one_zone_hides_no_other(gone_s: float) -> None:
    world = reach(S.SELECT_JOB)
    world.leak_ratio, world.leak_zone = 2.5, "B"
    world.step()
    shelve(world, "A15", "being_worked_on")
    world.leak_ratio = 3.5
    world.run(1.0)
    assert (world.shown.alarms, world.shown.shelved[0].active) == ((), True)
    world.leak_ratio = 1.0
    world.run(gone_s)
    world.leak_ratio, world.leak_zone = 9.0, "C"
    world.step()
    assert world.shown.shelved == ()
    assert [(a.active, a.acknowledged, a.about) for a in world.shown.alarms] == [(True, False, "C")]
    assert world.changes("alarm")[-2:] == ["unshelved", "raised"]


def shelved_first() -> World:
    """In the cut; the first of the group was shelved and is gone, and nothing else stands."""
    world = reach(S.CUTTING)
    world.people = PeopleFacts(True, "supervisor", "the supervisor")
    world.ramp(1.15, 0.5)
    first = next(a for a in world.shown.alarms if a.first)
    assert first.code == "A06"
    shelve(world, "A06")
    world.ramp(1.5)
    world.run(20.0)
    assert [(s.code, s.active) for s in world.shown.shelved] == [("A06", False)]
    return world


def test_a_first_that_is_gone_on_the_shelf_hides_no_later_first() -> None:
    """Else the loss after it would bear no mark of having come first."""
    world = shelved_first()
    assert world.memory.first_out is None
    world.set_ratio(0.3)
    world.run(0.5)
    assert [a.code for a in world.shown.alarms if a.first] == ["A02"]
    assert world.send(N.UNSHELVE, alarm="A06") is None
    assert [a.code for a in world.memory.alarms if a.first] == ["A02"]


def test_come_first_again_on_the_shelf_it_is_the_first_again() -> None:
    world = shelved_first()
    before_s = world.now_s
    world.ramp(1.02, 0.5)
    alarm = next(a for a in world.memory.alarms if a.code == "A06")
    assert (alarm.active, alarm.shelved, alarm.first) == (True, True, True)
    assert alarm.since_s > before_s
    assert world.memory.first_out == "A06"


def test_a_first_that_still_stands_on_the_shelf_stays_the_first() -> None:
    world = reach(S.CUTTING)
    world.people = PeopleFacts(True, "supervisor", "the supervisor")
    world.ramp(1.15, 0.5)
    shelve(world, "A06")
    world.ramp(0.9, 0.5)
    world.run(0.5)
    assert "A01" in world.alarms()
    assert [a.code for a in world.memory.alarms if a.first] == ["A06"]


def test_anyone_puts_an_alarm_back() -> None:
    world = noted()
    shelve(world, "A20")
    world.sign_on(None)
    assert world.send(N.UNSHELVE, alarm="A20") is None
    assert world.alarms() == {"A20"}
    assert world.send(N.UNSHELVE, alarm="A20") == "not_now"


def test_leaving_the_job_puts_alarms_back() -> None:
    world = reach(S.CHECKING, site=INSPECTED)
    shelve(world, "A20")
    assert world.shown.shelved
    world.send(N.CANCEL_JOB)
    assert not world.shown.shelved
    assert world.alarms() == {"A20"}


@pytest.mark.parametrize("role", ROLES)
def test_priority_3_is_shelved_by_whoever_is_signed_on(role: str | None) -> None:
    world = noted()
    world.sign_on(role)
    assert shelve(world, "A20") == ("not_signed_on" if role is None else None)


@pytest.mark.parametrize("role", ROLES)
def test_priority_2_is_shelved_by_a_supervisor_for_half_an_hour(role: str | None) -> None:
    world = noted()
    world.sign_on(role)
    world.inputs["on_battery"] = True
    world.run(1.2)
    refused = shelve(world, "A11")
    if role != "supervisor":
        assert refused == ("not_signed_on" if role is None else "needs_supervisor")
        return
    assert refused is None
    assert world.shown.shelved[0].left_s == 1800.0
    assert not world.decision.outputs.beacon
    world.step(1799.9)
    assert world.shown.shelved
    world.step(0.1)
    assert not world.shown.shelved
    assert world.decision.outputs.beacon


@pytest.mark.parametrize(("role", "state"), list(product(ROLES, [S.HOLD_LOST, S.NO_PERMIT])))
def test_priority_1_is_never_shelved(role: str | None, state: State) -> None:
    world = signed(state, role)
    codes = [a.code for a in world.shown.alarms if a.priority == 1]
    assert codes
    for code in codes:
        assert shelve(world, code) == "never_shelved"
    assert not world.shown.shelved


def test_only_priority_1_on_the_list_leaves_nothing_to_shelve() -> None:
    world = signed(S.NO_PERMIT, "supervisor")
    assert "shelve" not in world.shown.allowed
    assert shelve(noted("supervisor"), "A20") is None


@pytest.mark.parametrize("alarm", [None, 3, "A01", "made_up", []])
def test_only_an_alarm_on_the_list_is_shelved(alarm: object) -> None:
    world = noted()
    assert world.send(N.SHELVE, alarm=alarm, reason="other") == "bad_arguments"


def test_what_latches_is_of_the_first_priority_and_so_never_shelved() -> None:
    assert {row.priority for row in ROWS if row.latches} == {1}


def test_what_can_never_be_shelved_is_told_before_a_reason_is_asked_for() -> None:
    world = signed(S.HOLD_LOST, "supervisor")
    assert shelve(world, "A01", None) == "never_shelved"


def test_of_two_alarms_the_one_on_the_shelf_is_put_back_and_not_shelved_again() -> None:
    world = noted("supervisor")
    world.inputs["on_battery"] = True
    world.run(61.0)
    (other,) = world.alarms() - {"A20"}
    assert world.send(N.UNSHELVE, alarm="A20") == "not_now"
    assert shelve(world, "A20") is None
    assert world.send(N.UNSHELVE, alarm=other) == "bad_arguments"
    assert shelve(world, "A20") == "bad_arguments"
    assert world.send(N.UNSHELVE, alarm="A20") is None


def test_a_shelved_alarm_is_not_shelved_again() -> None:
    world = noted()
    shelve(world, "A20")
    assert shelve(world, "A20") == "not_now"
    assert world.send(N.UNSHELVE, alarm="A11") == "bad_arguments"


@pytest.mark.parametrize("reason", [None, "because", 3, []])
def test_a_shelf_has_a_reason_of_the_list(reason: object) -> None:
    assert shelve(noted(), "A20", reason) == "reason_missing"


@pytest.mark.parametrize("reason", SHELVE_REASONS)
def test_every_reason_of_the_list_is_one(reason: str) -> None:
    assert shelve(noted(), "A20", reason) is None


def test_shelving_changes_no_output_and_no_check() -> None:
    world = reach(S.PERMIT, site=INSPECTED)
    before = (world.state, world.outputs, world.unmet())
    assert shelve(world, "A20") is None
    assert (world.state, world.outputs, world.unmet()) == before


def test_all_alarms_seen_says_nothing_of_those_on_the_shelf() -> None:
    world = noted()
    shelve(world, "A20")
    assert world.see() == "nothing_to_acknowledge"


def test_a_comment_is_kept_with_the_acknowledgement() -> None:
    world = noted("setter")
    assert world.send(N.ACKNOWLEDGE, alarm="A20", comment="x" * (COMMENT_CAP + 1)) == (
        "bad_arguments"
    )
    assert world.send(N.ACKNOWLEDGE, alarm="A20", comment=7) == "bad_arguments"
    assert world.send(N.ACKNOWLEDGE, alarm="A20", comment="x" * COMMENT_CAP) is None
    note = world.of_kind("alarm")[-1]
    assert (note["comment"], note["user"]) == ("x" * COMMENT_CAP, "the setter")
    assert world.of_kind("alarm")[0]["comment"] is None


def test_who_may_not_shelve_is_told_so_before_the_reason_is_looked_at() -> None:
    world = reach(S.PAUSED, site=INSPECTED)
    world.inputs["standstill"] = True
    world.run(121.0)
    world.sign_on("operator")
    assert world.alarms() == {"A20", "A25"}
    assert world.send(N.SHELVE, alarm="A25", reason="none of the list") == "needs_supervisor"
