"""Stories of machine signals that come and go, of venting, and of a machine without contacts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import OUTPUTS, site_of
from interlock_world import World, reach
from test_stories import ADVICE, N, S, log_with, moves

from kiosk.interlock.reading import Signals
from kiosk.interlock.states import State

# -- machine signals ---------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.READY, S.PERMIT, S.PAUSED])
def test_lost_signals_take_the_permit_back_at_once(state: State) -> None:
    world = reach(state)
    world.io = False
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


def test_signals_that_come_back_after_a_moment_in_the_cut_change_nothing() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(2.0)
    world.io = True
    world.run(5.0)
    assert world.state is S.CUTTING
    assert world.alarms() == set()


def test_signals_lost_in_the_cut_warn_and_come_back_to_it() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.1)
    assert (world.state, world.outputs) == (S.LOW_HOLD, (False, True))
    assert world.alarms() == {"A10"}
    assert world.shown.details["io_lost_s"] >= 3.0
    world.io = True
    world.step()
    assert world.state is S.CUTTING


def test_a_cycle_found_stopped_when_the_signals_come_back_has_stopped() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.1)
    world.io = True
    world.cycle(False)
    assert world.state is S.PAUSED
    assert ("LOW HOLD", "cycle_stopped", "PAUSED") in moves(world)


def test_a_cycle_found_running_when_the_signals_come_back_was_started_without_permit() -> None:
    world = reach(S.READY)
    world.io = False
    world.inputs.update(cycle_running=True, standstill=False)
    world.run(2.0)
    assert world.state is S.CHECKING  # what is not known starts nothing
    world.io = True
    world.step()
    assert world.state is S.NO_PERMIT


def test_a_loss_is_seen_while_the_signals_are_lost() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.5)
    world.ramp(0.9)
    world.run(0.5)
    assert world.state is S.HOLD_LOST
    assert {"A01", "A10"} <= world.alarms()


@pytest.mark.parametrize("missing", ["cycle_running", "standstill", "key_bypass"])
def test_an_answer_without_a_wired_signal_is_no_answer(missing: str) -> None:
    world = reach(S.PERMIT)
    del world.inputs[missing]
    world.step()
    assert world.state is S.CHECKING
    assert set(world.shown.inputs.values()) == {None}


def test_signals_older_than_half_a_second_are_not_known() -> None:
    world = reach(S.PERMIT)
    facts = world.facts()
    assert isinstance(facts.inputs, Signals)
    from kiosk.interlock.signals import lines_of

    for age_s, is_known in ((0.45, True), (0.5, False), (-0.1, True), (-0.11, False)):
        old = Signals(world.now_s - age_s, facts.inputs.values)
        assert lines_of(replace(facts, inputs=old)).known is is_known
        back = replace(old, values=dict.fromkeys(OUTPUTS, False))
        assert lines_of(replace(facts, contacts=back)).known is is_known
    for taken_s in (float("nan"), float("inf")):
        assert not lines_of(replace(facts, inputs=Signals(taken_s, facts.inputs.values))).known
    odd = Signals(world.now_s, {**facts.inputs.values, "standstill": 1})  # type: ignore[dict-item]
    assert not lines_of(replace(facts, inputs=odd)).known
    assert not lines_of(replace(facts, contacts=None)).known


@pytest.mark.parametrize("contact", ["start_permit", "hold_healthy"])
def test_a_contact_that_opens_by_itself_in_the_cut_is_an_alarm(contact: str) -> None:
    world = reach(S.CUTTING)
    world.stuck[contact] = False
    world.run(0.6)
    assert (world.state, world.outputs) == (S.CUTTING, (True, True))
    assert world.alarms() == {"A12"}


def test_a_contact_that_stays_closed_after_a_loss_is_an_alarm() -> None:
    world = reach(S.CUTTING)
    world.stuck["hold_healthy"] = True
    world.set_ratio(0.3)
    world.run(0.8)
    assert world.state is S.HOLD_LOST
    assert "A12" in world.alarms()


def test_a_contact_seen_wrong_once_before_the_signals_are_lost_is_no_alarm() -> None:
    world = reach(S.CUTTING)
    world.stuck["hold_healthy"] = False
    world.step()
    world.stuck.clear()
    world.io = False
    world.run(2.0)
    assert world.alarms() == set()


def test_alive_and_beacon_are_not_compared() -> None:
    world = reach(S.PERMIT)
    world.stuck.update(alive=True, beacon=True)
    world.run(2.0)
    assert world.state is S.PERMIT


# -- vented ------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.CHECKING, S.READY, S.PERMIT, S.PAUSED])
def test_a_vented_part_is_not_confirmed_any_more_and_the_seats_are(state: State) -> None:
    world = reach(state)
    world.inputs["standstill"] = True
    if state is S.CHECKING:
        world.set_vacuum(5.0)
        world.run(1.0)
    world.set_vacuum(0.5)
    world.run(3.2)
    assert (world.state, world.outputs) == (S.SET_UP, (False, False))
    assert not world.shown.part_confirmed
    assert all(zone.confirmed for zone in world.shown.zones)
    assert world.of_kind("cycle")[-1]["result"] == "unconfirmed"


def test_a_part_that_was_never_held_is_not_vented() -> None:
    world = reach(S.CHECKING)
    world.run(10.0)
    assert world.state is S.CHECKING


def test_vacuum_before_the_part_was_confirmed_does_not_count() -> None:
    world = reach(S.SET_UP)
    world.set_vacuum(40.0)
    world.run(1.0)
    world.set_vacuum(0.5)
    world.run(1.0)
    world.confirm()
    world.run(5.0)
    assert world.state is S.CHECKING


def test_the_next_part_starts_unvented() -> None:
    world = reach(S.RELEASE)
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.send(N.NEXT_PART) is None
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) is None
    world.run(5.0)
    assert world.state is S.CHECKING


def test_an_unknown_vacuum_is_not_vented() -> None:
    world = reach(S.RELEASE)
    world.set_vacuum(0.5)
    world.run(2.0)
    world.set_vacuum(None)
    world.run(4.0)
    assert world.shown.release == "not_yet"


# -- without contacts --------------------------------------------------------------------------


def test_without_contacts_ready_is_the_last_state() -> None:
    world = reach(S.READY, site=ADVICE)
    assert world.send(N.REQUEST_PERMIT) == "advice_only"
    assert "request_permit" not in world.shown.allowed
    assert "ADVICE ONLY" in world.shown.flags
    world.ramp(0.8)
    world.run(1.0)
    assert (world.state, world.outputs) == (S.READY, (False, False))
    assert "A01" in world.alarms()
    world.set_vacuum(None)
    world.screen_alive = False
    world.run(3.0)
    assert world.state is S.READY
    assert "A03" in world.alarms()


def test_without_contacts_release_needs_a_persons_word() -> None:
    world = reach(S.READY, site=ADVICE)
    assert world.send(N.FINISH) == "standstill_unknown"
    assert world.send(N.FINISH, standstill="yes") == "standstill_unknown"
    assert world.send(N.FINISH, standstill=True) is None
    assert (world.state, world.shown.release) == (S.RELEASE, "may_release")
    assert world.send(N.NEXT_PART) == "not_vented"
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.send(N.NEXT_PART) is None
    assert not world.memory.word_standstill


def test_without_contacts_a_part_held_is_released_on_a_persons_word() -> None:
    world = World(site=ADVICE)
    world.part_held()
    assert world.shown.forbids_release == ("standstill_unknown",)
    assert world.send(N.FINISH, standstill=True) is None
    assert world.shown.release == "may_release"


def test_without_contacts_a_running_cycle_starts_and_latches_nothing() -> None:
    site = site_of(advice_only=True, outputs=frozenset())
    world = reach(S.READY, site=site)
    world.cycle(True)
    assert world.state is S.READY
    assert world.send(N.FINISH, standstill=True) == "cycle_running"


def test_without_contacts_a_latch_of_the_log_is_reset_on_a_persons_word() -> None:
    world = World(site=ADVICE, log=log_with(latch="HOLD LOST"))
    world.step()
    assert world.state is S.HOLD_LOST
    assert world.send(N.RESET, cause="other") == "standstill_unknown"
    assert world.send(N.RESET, cause="other", standstill=True) is None
    assert (world.state, world.shown.release) == (S.RELEASE, "may_release")


def test_without_contacts_no_contact_is_ever_energised() -> None:
    """Even from a state that it cannot come to."""
    world = World(site=ADVICE)
    world.step()
    world.memory = replace(world.memory, state=S.PERMIT, asked_s=world.now_s)
    world.step()
    assert world.outputs == (False, False)
