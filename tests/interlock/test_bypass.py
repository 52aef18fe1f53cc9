"""A check that a supervisor sets aside for one job.

Roles are the four that people can have; who may do what is our own choice, after the idea of use
control of IEC 62443 (common practice, no source for the numbers).
"""

from __future__ import annotations

import pytest
from interlock_site import ROLES, site_of
from interlock_world import reach, signed

from kiosk.interlock import permissives
from kiosk.interlock.commands import BYPASS_REASONS, Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.states import State

S, N = State, Name


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
    assert world.changes("bypass") == ["begun", "ended"]
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
    assert world.changes("bypass") == ["begun", "ended"]


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
