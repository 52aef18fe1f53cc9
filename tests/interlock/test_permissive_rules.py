"""Conditions of the permit that differ from state to state, by themselves."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_world import reach

from kiosk.interlock import permissives
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn

S = State
ROW = {row.code: row for row in permissives.ROWS}
PERMITTED = {S.PERMIT, S.CUTTING, S.LOW_HOLD, S.PAUSED}


def turn_in(state: State) -> Turn:
    world = reach(S.READY)
    return look_at(replace(world.memory, state=state), world.facts(), world.utc)


@pytest.mark.parametrize("state", list(State))
def test_a_permit_stands_asked_for_from_the_permit_to_the_end_of_the_cut(state: State) -> None:
    assert ROW["asked"].holds(turn_in(state)) is (state in PERMITTED)


@pytest.mark.parametrize("state", list(State))
def test_the_hold_is_judged_by_the_start_level_until_it_is_proved(state: State) -> None:
    _, limit, unit = ROW["hold_enough"].measured(turn_in(state))
    assert (limit, unit) == (1.10 if state in PERMITTED | {S.READY} else 1.15, "ratio")


def test_rows_with_an_event_of_their_own_or_that_a_pause_does_not_need_are_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """When everything fails."""
    monkeypatch.setattr(permissives, "unmet", lambda _: frozenset(ROW))
    plain = {code for code, row in ROW.items() if row.own is None}
    paused = {code for code, row in ROW.items() if row.in_pause}
    assert plain - paused
    assert paused - plain
    assert set(permissives.unproved_by(turn_in(S.READY))) == plain
    assert set(permissives.unproved_by(turn_in(S.PAUSED))) == plain & paused
    assert set(permissives.pause_lacks(turn_in(S.CUTTING))) == paused


def test_nothing_is_lacking_where_nothing_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permissives, "unmet", lambda _: frozenset())
    turn = turn_in(S.PAUSED)
    assert (permissives.unproved_by(turn), permissives.pause_lacks(turn)) == ((), ())
    assert permissives.may_pause(turn)
    turn.hold = replace(turn.hold, warns_low=True)
    assert not permissives.may_pause(turn)
