"""Every state x every event or command x subsets of the permissives, walked through the real core.

The rows of the permissives are given truths by hand here, so that any subset can fail while the
world stays as it is; everything else is the program's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product

import pytest
from interlock_site import OFFER
from interlock_world import World, reach
from test_table import KNOWN

from kiosk.interlock import permissives
from kiosk.interlock.codes import CAUTIONS
from kiosk.interlock.commands import GUARDS_OWN, Name
from kiosk.interlock.events import Event
from kiosk.interlock.forbids import request
from kiosk.interlock.permissives import Permissive
from kiosk.interlock.states import State
from kiosk.interlock.table import CONTACTS, next_state
from kiosk.interlock.turn import Turn

ROWS = permissives.ROWS
CODES = tuple(code for code in permissives.CODES if code != "asked")
Missing = frozenset[str]
NONE: Missing = frozenset()
ARGUMENTS: dict[str, object] = {
    "job": OFFER.file, "zone": "A", "warnings": ["loose_offcut"], "cause": "other",
    "check": "signed_on", "reason": "other", "alarm": None, "cautions": CAUTIONS,
}  # fmt: skip


def few_or_nearly_all() -> Iterator[Missing]:
    """None, each, each pair, all but each, all."""
    for size in (0, 1, 2, len(CODES) - 1, len(CODES)):
        yield from map(frozenset, combinations(CODES, size))


def told(row: Permissive, missing: Missing) -> Permissive:
    """The row with a truth by hand."""
    if row.code == "asked":
        return row
    return replace(row, holds=lambda turn: row.code not in missing, there=lambda turn: True)


def fail(monkeypatch: pytest.MonkeyPatch, missing: Missing) -> None:
    monkeypatch.setattr(permissives, "ROWS", tuple(told(row, missing) for row in ROWS))


@pytest.mark.parametrize("state", list(State))
def test_no_event_leads_to_a_permit_while_anything_is_missing(state: State) -> None:
    """The table alone: 13 states x 35 events x 232 subsets."""
    for event, missing in product(Event, few_or_nearly_all()):
        known = replace(KNOWN, unmet=missing)
        after = next_state(state, event, known)
        given = after is State.PERMIT and state is not State.PERMIT
        assert given is ((state, event, missing) == (State.READY, Event.REQUESTED, NONE))
        closes = after in CONTACTS and state not in CONTACTS
        assert not closes or given


def steps_on(state: State, name: Name | None, missing: Missing) -> tuple[World, str | None]:
    """One step of the core from this state with this command; the world, and the refusal."""
    world = reach(state)
    if name is None:
        world.step()
        return world, None
    return world, world.send(name, **ARGUMENTS)


COMMANDS = sorted(set(Name) - GUARDS_OWN)


@pytest.mark.parametrize("state", [s for s in State if s is not State.STARTING])
def test_no_command_closes_a_contact_but_a_request_with_nothing_missing(
    state: State, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each command alone, with nothing, each one, all but each, and everything missing."""
    world = reach(state)
    before = world.outputs
    for size in (0, 1, len(CODES) - 1, len(CODES)):
        for missing in map(frozenset, combinations(CODES, size)):
            fail(monkeypatch, missing)
            for name in (None, *COMMANDS) if size == 0 else (None, Name.REQUEST_PERMIT):
                after, refused = steps_on(state, name, missing)
                gained = [now and not was for now, was in zip(after.outputs, before, strict=True)]
                asked = (state, name, missing) == (State.READY, Name.REQUEST_PERMIT, NONE)
                assert any(gained) is asked, (name, missing)
                assert name is not Name.REQUEST_PERMIT or (refused is None) is asked


OWN = {row.code for row in permissives.ROWS if row.own is not None}
STAYS = {row.code for row in permissives.ROWS if not row.in_pause}


@pytest.mark.parametrize("state", [State.READY, State.PERMIT, State.PAUSED])
@pytest.mark.parametrize("code", [code for code in CODES if code not in OWN])
def test_each_row_by_itself_takes_a_permit_away(
    state: State, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows with an event of their own are taken away by it: ``test_permissive_cases.py``."""
    world = reach(state)
    fail(monkeypatch, frozenset({code}))
    world.step()
    kept = state is State.PAUSED and code in STAYS
    assert world.outputs == ((True, True) if kept else (False, False))
    assert world.state is (State.PAUSED if kept else State.CHECKING)


@pytest.mark.parametrize("state", [State.CUTTING, State.LOW_HOLD])
def test_in_the_cut_no_permissive_takes_the_hold_contact_away(
    state: State, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cut is stopped by a loss, never by what only a start needs."""
    world = reach(state)
    before = world.outputs
    fail(monkeypatch, frozenset(CODES))
    world.run(1.0)
    assert (world.state, world.outputs) == (state, before)


@pytest.mark.long
def test_of_all_subsets_only_the_empty_one_lets_a_request_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """2 ** 20 of them, by the rule that refuses the command."""
    turns: list[Turn] = []
    monkeypatch.setattr(
        "kiosk.interlock.publish.judge.allowed", lambda turn: turns.append(turn) or ()
    )
    reach(State.READY).step()
    missing: set[str] = set()
    monkeypatch.setattr(
        permissives, "ROWS",
        tuple(
            replace(row, holds=lambda turn, code=row.code: code not in missing,
                    there=lambda turn: True)
            for row in ROWS if row.code != "asked"
        ),
    )  # fmt: skip
    through = 0
    for number in range(2 ** len(CODES)):
        changed = (number ^ (number - 1)) if number else 0
        for place, code in enumerate(CODES):
            if changed >> place & 1:
                (missing.add if number >> place & 1 else missing.discard)(code)
        through += request(turns[0]) is None
    assert through == 1
