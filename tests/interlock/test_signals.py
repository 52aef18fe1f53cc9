"""The machine's wires: known whole or not known at all, and what was ever seen of them."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest
from interlock_site import INPUTS
from interlock_world import World

from kiosk.interlock.decision import Outputs
from kiosk.interlock.facts import Facts
from kiosk.interlock.memory import Link
from kiosk.interlock.reading import Fault, Signals, SignalSample, Why
from kiosk.interlock.signals import follow, lines_of

ALL = dict.fromkeys(INPUTS, True)
BOTH = {"start_permit": False, "hold_healthy": False}
OPEN = Outputs(False, False, False, False)
SILENT = Fault(Why.SILENT, "no answer", 5.0)


def facts(now_s: float, inputs: SignalSample | None, contacts: SignalSample | None) -> Facts:
    world = World()
    return replace(world.facts(), now_s=now_s, inputs=inputs, contacts=contacts)


def known(now_s: float, inputs: SignalSample | None, contacts: SignalSample | None) -> bool:
    return lines_of(facts(now_s, inputs, contacts)).known


@pytest.mark.parametrize(("taken_s", "is_known"), [(0.1, True), (0.1001, False)])
def test_a_sample_from_more_than_a_tenth_of_a_second_ahead_is_doubted(
    taken_s: float, is_known: bool
) -> None:
    assert known(0.0, Signals(taken_s, ALL), Signals(0.0, BOTH)) is is_known
    assert known(0.0, Signals(0.0, ALL), Signals(taken_s, BOTH)) is is_known


@pytest.mark.parametrize(("age_s", "is_known"), [(0.49, True), (0.5, False)])
def test_a_sample_is_known_while_it_is_younger_than_half_a_second(
    age_s: float, is_known: bool
) -> None:
    assert known(10.0, Signals(10.0 - age_s, ALL), Signals(10.0, BOTH)) is is_known


@pytest.mark.parametrize("taken_s", [nan, inf, -inf])
def test_a_time_that_is_no_number_is_not_known(taken_s: float) -> None:
    assert not known(10.0, Signals(taken_s, ALL), Signals(10.0, BOTH))


def test_one_value_that_is_missing_or_no_truth_makes_all_unknown() -> None:
    for wrong in (None, 1, "on"):
        values = {**ALL, "standstill": wrong}
        assert not known(1.0, Signals(1.0, values), Signals(1.0, BOTH))  # type: ignore[arg-type]
    less = {name: True for name in ALL if name != "standstill"}
    lines = lines_of(facts(1.0, Signals(1.0, less), Signals(1.0, BOTH)))
    assert lines.said("cycle_running") is None


def followed(link: Link, inputs: SignalSample | None, contacts: SignalSample | None) -> Link:
    """The memory after one look at 5 s."""
    now = facts(5.0, inputs, contacts)
    return follow(link, lines_of(now), now, OPEN)


def test_what_was_seen_once_stays_seen_while_the_other_is_waited_for() -> None:
    """The start-up check says which of them never came."""
    there, back = Signals(5.0, ALL), Signals(5.0, BOTH)
    cases = (
        (there, SILENT, (True, False)),
        (SILENT, back, (False, True)),
        (SILENT, SILENT, (False, False)),
        (there, back, (True, True)),
    )
    for inputs, contacts, seen in cases:
        link = followed(Link(), inputs, contacts)
        assert (link.inputs_seen, link.contacts_seen) == seen
        link = followed(link, SILENT, SILENT)
        assert (link.inputs_seen, link.contacts_seen) == seen


def test_a_loss_is_counted_from_its_first_look() -> None:
    link = followed(Link(), SILENT, SILENT)
    assert link.lost_since_s == 5.0
    again = replace(facts(6.0, SILENT, SILENT), now_s=6.0)
    assert follow(link, lines_of(again), again, OPEN).lost_since_s == 5.0
    assert followed(link, Signals(5.0, ALL), Signals(5.0, BOTH)).lost_since_s is None
