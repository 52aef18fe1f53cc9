"""Who is signed on, and what only some may do: the permit, the reset, the end of a service.

Roles are the four that people can have; who may do what is our own choice, after the idea of use
control of IEC 62443 (common practice, no source for the numbers).
"""

from __future__ import annotations

import pytest
from interlock_site import ROLES, site_of
from interlock_world import World, reach, signed

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State

S, N = State, Name


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
    assert world.changes("service") == ["True", "False"]


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
