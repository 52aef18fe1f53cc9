"""What a person may set aside: a check for one job, an alarm for a time, the machine for service.

Roles are the four that people can have; who may do what is our own choice, after the idea of use
control of IEC 62443 (common practice, no source for the numbers).
"""

from __future__ import annotations

from itertools import product

import pytest
from interlock_world import INPUTS, World, reach, site_of

from kiosk.interlock import permissives
from kiosk.interlock.alarm_rows import ROWS
from kiosk.interlock.commands import BYPASS_REASONS, COMMENT_CAP, SHELVE_REASONS, Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.snapshot import ShelvedShown
from kiosk.interlock.states import State

S, N = State, Name
ROLES = (None, "operator", "setter", "maintenance", "supervisor")
INSPECTED = site_of(lockout_inspected="2020-01-01", inputs=INPUTS | {"on_battery"})


def changes(world: World, kind: str) -> list[str]:
    return [str(row.get("change", row.get("on"))) for row in world.of_kind(kind)]


# -- bypass ------------------------------------------------------------------------------------


def signed(state: State, role: str | None, **changes: object) -> World:
    world = reach(state, **changes)
    world.sign_on(role)
    return world


@pytest.mark.parametrize("role", ROLES)
def test_only_a_supervisor_bypasses(role: str | None) -> None:
    world = signed(S.CHECKING, role)
    refused = world.send(N.BYPASS, check="signed_on", reason="other")
    assert refused == (None if role == "supervisor" else "needs_supervisor")
    assert bool(world.shown.bypasses) is (role == "supervisor")


def test_without_people_nobody_is_a_supervisor() -> None:
    world = reach(S.CHECKING)
    world.people = PeopleFacts(False, "supervisor", "X")
    assert world.send(N.BYPASS, check="signed_on", reason="other") == "no_people"


@pytest.mark.parametrize("code", permissives.CODES)
def test_only_two_checks_can_be_bypassed_and_no_other_ever(code: str) -> None:
    """The gauge's calibration date and the sign-on; the list is typed here again."""
    gauges = (site_of().gauges[0],)
    site = site_of(gauges=(type(gauges[0])("table", "table", 1.0, 20.0, 30.0, "2026-12-31"),))
    world = signed(S.CHECKING, "supervisor", site=site)
    refused = world.send(N.BYPASS, check=code, reason="other")
    assert refused == (None if code in ("gauge_in_date", "signed_on") else "never_bypassed")


def test_a_check_that_is_not_there_cannot_be_bypassed() -> None:
    world = signed(S.CHECKING, "supervisor")
    assert world.send(N.BYPASS, check="gauge_in_date", reason="other") == "never_bypassed"


@pytest.mark.parametrize("check", [None, 7, ["signed_on"], {}, "made_up"])
def test_what_is_no_check_is_a_bad_argument(check: object) -> None:
    world = signed(S.CHECKING, "supervisor")
    assert world.send(N.BYPASS, check=check, reason="other") == "bad_arguments"
    assert world.send(N.END_BYPASS, check=check) == "not_now"
    world.send(N.BYPASS, check="signed_on", reason="other")
    assert world.send(N.END_BYPASS, check=check) == "bad_arguments"


@pytest.mark.parametrize("reason", [None, "because", "", 3, [], {}])
def test_a_bypass_has_a_reason_of_the_list(reason: object) -> None:
    world = signed(S.CHECKING, "supervisor")
    assert world.send(N.BYPASS, check="signed_on", reason=reason) == "reason_missing"
    assert not world.shown.bypasses


@pytest.mark.parametrize("reason", BYPASS_REASONS)
def test_a_bypass_is_shown_logged_and_an_alarm_of_priority_3(reason: str) -> None:
    world = signed(S.CHECKING, "supervisor")
    assert "BYPASSED" not in world.shown.flags
    assert world.send(N.BYPASS, check="signed_on", reason=reason) is None
    assert "BYPASSED" in world.shown.flags
    assert [(b.check, b.reason, b.by) for b in world.shown.bypasses] == [
        ("signed_on", reason, "the supervisor")
    ]
    assert world.alarms() == {"A14"}
    assert world.of_kind("bypass") == [
        {
            "check": "signed_on", "change": "begun", "reason": reason, "user": "the supervisor",
            "by": "the supervisor",
        }
    ]  # fmt: skip
    world.run(2.0)
    assert world.shown.bypasses[0].since_s == pytest.approx(2.0)


def test_a_bypassed_check_permits_and_says_that_it_is_bypassed() -> None:
    world = signed(S.READY, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="nobody_can_sign_on")
    world.sign_on(None)
    row = next(row for row in world.shown.permissives if row.code == "signed_on")
    assert (row.holds, row.bypassed) == (True, True)
    assert [row.code for row in world.shown.permissives if row.bypassed] == ["signed_on"]
    assert world.send(N.REQUEST_PERMIT) is None
    assert world.outputs == (True, True)


def test_the_same_check_is_bypassed_once() -> None:
    world = signed(S.CHECKING, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    assert "bypass" not in world.shown.allowed
    assert world.send(N.BYPASS, check="signed_on", reason="other") == "not_now"


def test_taking_a_bypass_back_takes_the_permit_in_the_same_step() -> None:
    world = signed(S.READY, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    world.sign_on(None)
    world.send(N.REQUEST_PERMIT)
    assert world.send(N.END_BYPASS, check="signed_on") is None
    assert world.outputs == (False, False)
    assert changes(world, "bypass") == ["begun", "ended"]
    assert "BYPASSED" not in world.shown.flags


@pytest.mark.parametrize("role", ["operator", None])
def test_the_log_names_who_ended_a_bypass_and_who_began_it(role: str | None) -> None:
    world = signed(S.CHECKING, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    world.sign_on(role)
    world.send(N.END_BYPASS, check="signed_on")
    row = world.of_kind("bypass")[-1]
    ended_by = None if role is None else f"the {role}"
    assert (row["change"], row["user"], row["by"]) == ("ended", ended_by, "the supervisor")


@pytest.mark.parametrize("leave", [N.CANCEL_JOB, N.SELECT_JOB])
def test_a_bypass_ends_with_the_job(leave: Name) -> None:
    world = signed(S.CHECKING, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    assert world.send(leave, job="SR-1") is None
    assert not world.shown.bypasses
    assert changes(world, "bypass") == ["begun", "ended"]


def test_a_bypass_stays_for_the_next_part_of_the_job() -> None:
    world = signed(S.CHECKING, "supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    world.release()
    world.set_vacuum(0.5)
    world.run(4.0)
    assert world.send(N.NEXT_PART) is None
    assert world.shown.bypasses
    world.set_vacuum(0.5)
    world.send(N.CANCEL_JOB)
    assert not world.shown.bypasses


def test_nothing_is_bypassed_without_a_job() -> None:
    assert signed(S.SELECT_JOB, "supervisor").send(N.BYPASS, check="signed_on", reason="other") == (
        "not_now"
    )


@pytest.mark.parametrize("state", [S.PERMIT, S.CUTTING, S.LOW_HOLD, S.PAUSED, S.HOLD_LOST])
def test_nothing_is_bypassed_once_the_permit_is_there(state: State) -> None:
    world = signed(state, "supervisor")
    assert world.send(N.BYPASS, check="signed_on", reason="other") == "not_now"


# -- shelf -------------------------------------------------------------------------------------


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
    assert changes(world, "alarm") == ["raised", "acknowledged", "shelved", "unshelved"]


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


# -- service -----------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ROLES)
def test_anyone_begins_service_and_who_works_there_ends_it(role: str | None) -> None:
    world = signed(S.READY, role)
    assert world.send(N.BEGIN_SERVICE) is None
    assert "SERVICE" in world.shown.flags
    assert "no_service" in world.unmet()
    assert world.send(N.BEGIN_SERVICE) == "not_now"
    refused = world.send(N.END_SERVICE)
    assert refused == (None if role in ("maintenance", "supervisor") else "needs_maintenance")
    assert ("SERVICE" in world.shown.flags) is (refused is not None)


def test_without_people_anyone_ends_service() -> None:
    world = reach(S.SELECT_JOB)
    assert world.send(N.END_SERVICE) == "not_now"
    world.send(N.BEGIN_SERVICE)
    assert world.send(N.END_SERVICE) is None
    assert changes(world, "service") == ["True", "False"]


def test_service_is_still_there_after_a_restart() -> None:
    from dataclasses import replace

    world = World()
    world.log = replace(world.log, service=True)
    world.step()
    assert "SERVICE" in world.shown.flags
    world.run(1.0)
    world.send(N.END_SERVICE)
    world.run(1.0)
    assert "SERVICE" not in world.shown.flags


# -- sign-on -----------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ROLES)
def test_where_people_are_set_up_a_permit_needs_one_of_them(role: str | None) -> None:
    world = signed(S.READY, role)
    assert ("signed_on" in world.unmet()) is (role is None)
    assert (world.send(N.REQUEST_PERMIT) is None) is (role is not None)


def test_a_session_that_ends_in_the_cut_changes_nothing() -> None:
    for state in (S.CUTTING, S.LOW_HOLD, S.PAUSED):
        world = signed(state, "operator")
        before = world.outputs
        world.sign_on(None)
        world.run(1.0)
        assert (world.state, world.outputs) == (state, before)


@pytest.mark.parametrize("role", ROLES)
def test_a_reset_needs_someone_signed_on(role: str | None) -> None:
    world = signed(S.HOLD_LOST, role)
    world.cycle(False)
    refused = world.send(N.RESET, cause="leak_at_edge")
    assert refused == ("not_signed_on" if role is None else None)


@pytest.mark.parametrize("role", ROLES)
def test_where_no_standstill_is_wired_a_reset_needs_a_supervisor(role: str | None) -> None:
    site = site_of(inputs=frozenset({"cycle_running"}))
    world = signed(S.HOLD_LOST, role, site=site)
    world.cycle(False)
    assert ("needs_supervisor" in world.shown.forbids_reset) is (role != "supervisor")
    refused = world.send(N.RESET, cause="leak_at_edge")
    expected = "not_signed_on" if role is None else "needs_supervisor"
    assert refused == (None if role == "supervisor" else expected)


def test_no_supervisor_resets_while_the_spindle_is_known_to_turn() -> None:
    world = signed(S.HOLD_LOST, "supervisor")
    world.cycle(False, standstill=False)
    assert world.send(N.RESET, cause="leak_at_edge") == "standstill_unknown"


def test_acknowledging_never_needs_anyone_signed_on() -> None:
    world = signed(S.HOLD_LOST, None)
    assert world.see() is None


def test_who_is_signed_on_is_shown_and_in_every_alarm_s_row() -> None:
    world = signed(S.CUTTING, "setter")
    assert (world.shown.person, world.shown.role) == ("the setter", "setter")
    world.ramp(0.9)
    world.run(0.5)
    assert {row["user"] for row in world.of_kind("alarm")} == {"the setter"}


def test_who_may_not_shelve_is_told_so_before_the_reason_is_looked_at() -> None:
    world = reach(S.PAUSED, site=INSPECTED)
    world.inputs["standstill"] = True
    world.run(121.0)
    world.sign_on("operator")
    assert world.alarms() == {"A20", "A25"}
    assert world.send(N.SHELVE, alarm="A25", reason="none of the list") == "needs_supervisor"
