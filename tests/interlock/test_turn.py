"""What one step says of machine, screen and cycle, each at its edge and when it is unknown."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_site import kpa_of, site_of
from interlock_world import World, reach, turn_of

from kiosk.interlock.delays import TINY_S
from kiosk.interlock.events import Event
from kiosk.interlock.facts import ScreenFacts
from kiosk.interlock.states import State
from kiosk.interlock.turn import Move
from kiosk.limits import LATE_START_S


def test_a_persons_word_of_standstill_counts_only_where_no_contacts_are() -> None:
    world = reach(State.CHECKING)
    world.inputs["standstill"] = False
    world.step()
    assert turn_of(world, word_standstill=True).standstill is False
    advice = reach(State.CHECKING, site=site_of(advice_only=True, inputs=frozenset()))
    assert turn_of(advice, word_standstill=True).standstill is True
    assert turn_of(advice, word_standstill=False).standstill is None


def test_contacts_that_follow_have_been_wrong_for_no_time() -> None:
    world = reach(State.CHECKING)
    assert turn_of(world).wrong_for_s == 0.0
    link = replace(world.memory.link, wrong_since_s=world.now_s - 1.0)
    assert turn_of(world, link=link).wrong_for_s == 0.0  # they follow in this very step


@pytest.mark.parametrize("screen", [ScreenFacts(None, 99.0), ScreenFacts("s1", None)])
def test_a_screen_that_was_never_heard_or_is_none_has_no_age(screen: ScreenFacts) -> None:
    turn = turn_of(World(), {"screen": screen})
    assert turn.screen_age_s is None
    assert not turn.screen_there


@pytest.mark.parametrize(("more_s", "late"), [(0.0, True), (0.001, False)])
def test_a_start_crosses_with_the_end_of_its_permit_up_to_the_limit(
    more_s: float, late: bool
) -> None:
    """To the rounding of a clock that counts in binary fractions."""
    now_s = LATE_START_S + TINY_S + more_s
    assert turn_of(World(), {"now_s": now_s}, gone_s=0.0).late_start is late
    assert not turn_of(World(), {"now_s": now_s}, gone_s=None).late_start


@pytest.mark.parametrize(
    ("ratio", "confirmed", "counts"),
    [(1.5, True, True), (0.0, True, False), (1.5, False, False)],
)
def test_a_stop_is_counted_while_a_confirmed_part_is_held(
    ratio: float, confirmed: bool, counts: bool
) -> None:
    world = reach(State.READY)
    world.set_vacuum(kpa_of(ratio) if ratio else 0.0)
    world.step()
    turn = turn_of(world, stopped_s=world.now_s - 4.0, part_confirmed=confirmed)
    assert turn.stopped_for_s == (pytest.approx(4.0) if counts else None)


def test_what_has_not_begun_has_lasted_for_no_time() -> None:
    turn = turn_of(reach(State.CHECKING))
    assert (turn.lost_for_s, turn.wrong_for_s, turn.unsynced_for_s) == (0.0, 0.0, 0.0)
    assert (turn.stopped_for_s, turn.drawing_for_s) == (None, None)


def test_the_time_without_a_time_server_counts_from_its_beginning() -> None:
    world = World()
    assert turn_of(world, unsynced_s=world.now_s - 7.0).unsynced_for_s == pytest.approx(7.0)


@pytest.mark.parametrize(("ahead_s", "age_s"), [(-2.0, 2.0), (0.05, 0.0), (0.2, None)])
def test_a_screen_dated_a_little_ahead_is_as_young_as_can_be(
    ahead_s: float, age_s: float | None
) -> None:
    world = World()
    turn = turn_of(world, {"screen": ScreenFacts("s1", world.now_s + ahead_s)})
    assert turn.screen_age_s == (None if age_s is None else pytest.approx(age_s))


@pytest.mark.parametrize(
    ("state", "ago_s", "left_s"),
    [(State.PERMIT, 10.0, 50.0), (State.PERMIT, 70.0, 0.0), (State.PERMIT, None, None),
     (State.PAUSED, 10.0, None)],
)  # fmt: skip
def test_an_unused_permit_ends_after_60_s(
    state: State, ago_s: float | None, left_s: float | None
) -> None:
    world = World()
    asked_s = None if ago_s is None else world.now_s - ago_s
    left = turn_of(world, state=state, asked_s=asked_s).permit_left_s
    assert left == (None if left_s is None else pytest.approx(left_s))


@pytest.mark.parametrize(
    ("state", "ago_s", "left_s"),
    [(State.PAUSED, 10.0, 110.0), (State.PAUSED, 130.0, 0.0), (State.PERMIT, 10.0, None)],
)
def test_a_pause_ends_after_120_s(state: State, ago_s: float, left_s: float | None) -> None:
    world = World()
    left = turn_of(world, state=state, entered_s=world.now_s - ago_s).pause_left_s
    assert left == (None if left_s is None else pytest.approx(left_s))


@pytest.mark.parametrize(
    ("began", "state", "running", "advice_only", "cutting"),
    [
        (State.CUTTING, State.CUTTING, True, False, True),
        (State.CUTTING, State.PAUSED, False, False, True),
        (State.PERMIT, State.CUTTING, True, False, True),
        (State.PAUSED, State.PAUSED, True, False, False),
        (State.READY, State.READY, True, False, False),
        (State.READY, State.READY, False, True, True),
        (State.HOLD_LOST, State.HOLD_LOST, True, True, False),
        (State.HOLD_LOST, State.HOLD_LOST, True, False, True),
        (State.HOLD_LOST, State.HOLD_LOST, False, False, False),
        (State.NO_PERMIT, State.NO_PERMIT, True, False, True),
        (State.NO_PERMIT, State.NO_PERMIT, False, False, False),
        (State.CHECKING, State.HOLD_LOST, False, False, True),
        (State.STARTING, State.HOLD_LOST, False, True, True),
    ],
)
def test_the_cutter_may_be_in_the_part(
    began: State, state: State, running: bool, advice_only: bool, cutting: bool
) -> None:
    world = reach(State.CHECKING)
    world.inputs["cycle_running"] = running
    world.site = replace(world.site, advice_only=advice_only)
    turn = turn_of(world, state=began)
    if state is not began:
        turn.moves.append(Move(began, Event.HOLD_LOST, state))
        turn.put(state=state)
    assert turn.cutting is cutting
