"""What one step says of machine, screen and cycle, each at its edge and when it is unknown."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_world import World, kpa_of, reach, site_of

from kiosk.interlock.delays import TINY_S
from kiosk.interlock.facts import ScreenFacts
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn
from kiosk.limits import LATE_START_S


def turn_of(world: World, facts: dict[str, Any] | None = None, **memory: Any) -> Turn:
    """The turn that begins now, with some facts and some of the memory as they are given."""
    seen = replace(world.facts(), **(facts or {}))
    return look_at(replace(world.memory, **memory), seen, world.utc)


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
