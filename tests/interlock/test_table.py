"""The state machine against its description in words, typed here a second time."""

from __future__ import annotations

from itertools import chain, combinations, product

import pytest

from kiosk.interlock import permissives, table
from kiosk.interlock.events import Event
from kiosk.interlock.states import State
from kiosk.interlock.table import CONTACTS, TABLE, Known, next_state

S, E = State, Event
KNOWN = Known(
    unmet=frozenset(),
    cycle_running=False,
    standstill=True,
    key_on=False,
    held=True,
    has_plan=True,
    log_latched=False,
    data_valid=True,
    ratio=1.5,
    may_pause=True,
    loss_near=False,
)

# Every move there is, for the circumstances of KNOWN; whatever is not here stays.
MOVES = {
    S.STARTING: {E.FIRST_ROUND: S.PART_HELD, E.CYCLE_STARTED: S.NO_PERMIT},
    S.PART_HELD: {
        E.CYCLE_STARTED: S.NO_PERMIT,
        E.VENTED: S.SELECT_JOB,
        E.FINISHED: S.RELEASE,
        E.PLAN_RETAKEN: S.SET_UP,
    },
    S.SELECT_JOB: {E.CYCLE_STARTED: S.NO_PERMIT, E.PLAN_ADOPTED: S.SET_UP},
    S.SET_UP: {
        E.CYCLE_STARTED: S.NO_PERMIT,
        E.CANCELLED: S.SELECT_JOB,
        E.ALL_CONFIRMED: S.CHECKING,
    },
    S.CHECKING: {
        E.CYCLE_STARTED: S.NO_PERMIT,
        E.CANCELLED: S.SELECT_JOB,
        E.FINISHED: S.RELEASE,
        E.PROVED: S.READY,
        E.SETUP_CHANGED: S.SET_UP,
        E.ZONE_UNDONE: S.SET_UP,
        E.VENTED: S.SET_UP,
    },
    S.READY: {
        E.CYCLE_STARTED: S.NO_PERMIT,
        E.CANCELLED: S.SELECT_JOB,
        E.FINISHED: S.RELEASE,
        E.REQUESTED: S.PERMIT,
        E.SETUP_CHANGED: S.SET_UP,
        E.ZONE_UNDONE: S.SET_UP,
        E.VENTED: S.SET_UP,
        E.IO_LOST: S.CHECKING,
        E.DATA_LOST: S.CHECKING,
        E.HOLD_LOST: S.CHECKING,
        E.CONTACT_WRONG: S.CHECKING,
        E.KEY_ON: S.CHECKING,
        E.UNPROVED: S.CHECKING,
        E.SCREEN_LOST: S.CHECKING,
    },
    S.PERMIT: {
        E.CYCLE_STARTED: S.CUTTING,
        E.SETUP_CHANGED: S.SET_UP,
        E.ZONE_UNDONE: S.SET_UP,
        E.VENTED: S.SET_UP,
        E.EXPIRED: S.READY,
        E.WITHDRAWN: S.CHECKING,
        E.IO_LOST: S.CHECKING,
        E.DATA_LOST: S.CHECKING,
        E.HOLD_LOST: S.CHECKING,
        E.CONTACT_WRONG: S.CHECKING,
        E.KEY_ON: S.CHECKING,
        E.UNPROVED: S.CHECKING,
        E.SCREEN_LOST: S.CHECKING,
    },
    S.CUTTING: {
        E.CYCLE_STOPPED: S.PAUSED,
        E.HOLD_LOW: S.LOW_HOLD,
        E.IO_LOST: S.LOW_HOLD,
        E.HOLD_LOST: S.HOLD_LOST,
        E.DATA_LOST: S.HOLD_LOST,
    },
    S.LOW_HOLD: {
        E.CYCLE_STOPPED: S.PAUSED,
        E.HOLD_BACK: S.CUTTING,
        E.HOLD_LOST: S.HOLD_LOST,
        E.DATA_LOST: S.HOLD_LOST,
    },
    S.PAUSED: {
        E.CYCLE_STARTED: S.CUTTING,
        E.VENTED: S.SET_UP,
        E.EXPIRED: S.CHECKING,
        E.WITHDRAWN: S.CHECKING,
        E.FINISHED: S.RELEASE,
        E.HOLD_LOW: S.CHECKING,
        E.IO_LOST: S.CHECKING,
        E.DATA_LOST: S.CHECKING,
        E.HOLD_LOST: S.CHECKING,
        E.CONTACT_WRONG: S.CHECKING,
        E.KEY_ON: S.CHECKING,
        E.UNPROVED: S.CHECKING,
        E.SCREEN_LOST: S.CHECKING,
    },
    S.HOLD_LOST: {E.RESET: S.RELEASE},
    S.NO_PERMIT: {E.RESET: S.PART_HELD},
    S.RELEASE: {
        E.CYCLE_STARTED: S.NO_PERMIT,
        E.NEXT_PART: S.SET_UP,
        E.JOB_DONE: S.SELECT_JOB,
    },
}

PAIRS = list(product(State, Event))


def known(**changes: object) -> Known:
    fields = {name: getattr(KNOWN, name) for name in Known.__slots__}
    return Known(**{**fields, **changes})


def test_the_table_has_a_row_for_every_pair_and_no_other() -> None:
    assert set(TABLE) == set(PAIRS)


@pytest.mark.parametrize("state", list(State))
def test_every_pair_moves_as_the_words_say(state: State) -> None:
    found = {event: next_state(state, event, KNOWN) for event in Event}
    assert found == {event: MOVES[state].get(event, state) for event in Event}


def test_the_columns_stand_for_the_states_they_abbreviate() -> None:
    for letters, state in table.COLUMNS.items():
        initials = "".join(word[0] for word in state.value.split())
        assert letters in (state.value[:2], initials, "RL")
    assert table.COLUMNS["RL"] is S.RELEASE
    assert table.COLUMNS["RE"] is S.READY


@pytest.mark.parametrize("running", [True, False, None])
def test_a_missing_row_turns_both_contacts_off(running: bool | None) -> None:
    for state, event in PAIRS:
        rows = {pair: cell for pair, cell in TABLE.items() if pair != (state, event)}
        after = next_state(state, event, known(cycle_running=running), rows)
        assert CONTACTS.get(after, (False, False)) == (False, False)
        assert after is (S.CHECKING if running is False else S.HOLD_LOST)


def test_a_row_with_a_cell_too_few_is_not_read() -> None:
    with pytest.raises(ValueError, match="shorter"):
        table.parse("ST PH\nproved . \n")


def test_outputs_belong_to_states_and_default_to_off() -> None:
    on = {
        S.PERMIT: (True, True),
        S.CUTTING: (True, True),
        S.PAUSED: (True, True),
        S.LOW_HOLD: (False, True),
    }
    for state in State:
        assert CONTACTS.get(state, (False, False)) == on.get(state, (False, False))


def test_a_row_only_ever_names_a_state_or_a_choice_that_exists() -> None:
    assert set(TABLE.values()) <= {".", *table.COLUMNS, *table.CHOICES}


# -- choices -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "after"),
    [
        ({"held": False}, S.SELECT_JOB),
        ({"held": True}, S.PART_HELD),
        ({"held": None}, S.PART_HELD),
        ({"cycle_running": True}, S.HOLD_LOST),
        ({"cycle_running": None}, S.HOLD_LOST),
        ({"ran_unseen": True}, S.HOLD_LOST),
        ({"ran_unseen": True, "advice_only": True, "held": False}, S.SELECT_JOB),
        ({"log_latched": True}, S.HOLD_LOST),
        ({"log_latched": True, "held": False}, S.HOLD_LOST),
        ({"cycle_running": None, "advice_only": True, "held": False}, S.SELECT_JOB),
        ({"log_latched": True, "advice_only": True}, S.HOLD_LOST),
    ],
)
def test_the_first_round_takes_the_worst_that_may_be(
    changes: dict[str, object], after: State
) -> None:
    assert next_state(S.STARTING, E.FIRST_ROUND, known(**changes)) is after


@pytest.mark.parametrize("event", [E.HOLD_LOST, E.DATA_LOST])
@pytest.mark.parametrize(
    ("standstill", "after"), [(True, S.CHECKING), (False, S.HOLD_LOST), (None, S.HOLD_LOST)]
)
def test_a_loss_in_a_pause_is_a_loss_unless_standstill_is_known(
    event: Event, standstill: bool | None, after: State
) -> None:
    assert next_state(S.PAUSED, event, known(standstill=standstill)) is after


@pytest.mark.parametrize("event", [E.HOLD_LOST, E.DATA_LOST])
@pytest.mark.parametrize(
    ("pause_left", "standstill", "after"),
    [
        (True, False, S.HOLD_LOST),
        (True, None, S.HOLD_LOST),
        (True, True, S.CHECKING),
        (False, False, S.CHECKING),
        (False, None, S.CHECKING),
    ],
)
def test_a_loss_in_checking_counts_after_a_pause_unless_standstill_is_known(
    event: Event, pause_left: bool, standstill: bool | None, after: State
) -> None:
    now = known(pause_left=pause_left, standstill=standstill)
    assert next_state(S.CHECKING, event, now) is after


@pytest.mark.parametrize("state", [S.CUTTING, S.LOW_HOLD])
def test_a_stop_without_what_a_pause_needs_goes_to_checking(state: State) -> None:
    assert next_state(state, E.CYCLE_STOPPED, known(may_pause=False)) is S.CHECKING


@pytest.mark.parametrize("state", [S.CHECKING, S.READY])
@pytest.mark.parametrize(
    ("changes", "after"),
    [
        ({"late_start": True}, S.CUTTING),
        ({"late_start": True, "ratio": 1.0}, S.CUTTING),
        ({"late_start": True, "ratio": 0.999}, S.NO_PERMIT),
        ({"late_start": True, "ratio": None}, S.NO_PERMIT),
        ({"late_start": True, "data_valid": False}, S.NO_PERMIT),
        ({"late_start": True, "loss_near": True}, S.NO_PERMIT),
        ({"late_start": False}, S.NO_PERMIT),
        ({"key_on": None}, S.NO_PERMIT),
        ({"key_on": True}, None),
        ({"key_on": True, "late_start": True}, None),
    ],
)
def test_a_late_start_counts_only_while_the_hold_is_there(
    state: State, changes: dict[str, object], after: State | None
) -> None:
    assert next_state(state, E.CYCLE_STARTED, known(**changes)) is (after or state)


@pytest.mark.parametrize("state", [S.PART_HELD, S.SELECT_JOB, S.SET_UP, S.RELEASE, S.STARTING])
def test_a_late_start_counts_nowhere_else_and_the_key_lets_it_stay(state: State) -> None:
    assert next_state(state, E.CYCLE_STARTED, known(late_start=True)) is S.NO_PERMIT
    assert next_state(state, E.CYCLE_STARTED, known(key_on=True)) is state


@pytest.mark.parametrize(
    ("changes", "after"),
    [
        ({"held": True}, S.PART_HELD),
        ({"held": None}, S.PART_HELD),
        ({"held": False, "has_plan": True}, S.SET_UP),
        ({"held": False, "has_plan": False}, S.SELECT_JOB),
    ],
)
def test_after_a_start_without_permit_a_held_part_comes_first(
    changes: dict[str, object], after: State
) -> None:
    assert next_state(S.NO_PERMIT, E.RESET, known(**changes)) is after


def test_without_contacts_ready_watches_and_nothing_permits() -> None:
    advice = known(advice_only=True, unmet=frozenset())
    stays = {
        E.IO_LOST, E.DATA_LOST, E.HOLD_LOST, E.HOLD_LOW, E.CONTACT_WRONG, E.KEY_ON, E.UNPROVED,
        E.SCREEN_LOST,
    }  # fmt: skip
    for event in stays:
        assert next_state(S.READY, event, advice) is S.READY
    assert next_state(S.READY, E.FINISHED, advice) is S.RELEASE
    assert next_state(S.READY, E.CANCELLED, advice) is S.SELECT_JOB
    assert next_state(S.READY, E.REQUESTED, advice) is S.CHECKING
    assert next_state(S.READY, E.VENTED, advice) is S.SET_UP
    assert next_state(S.PAUSED, E.UNPROVED, advice) is S.CHECKING
    rows = {pair: cell for pair, cell in TABLE.items() if pair != (S.READY, E.PROVED)}
    assert next_state(S.READY, E.PROVED, known(advice_only=True, cycle_running=None), rows) is (
        S.CHECKING
    )


# -- never permits -----------------------------------------------------------------------------

CODES = [code for code in permissives.CODES if code != "asked"]


def test_a_request_permits_for_no_subset_of_permissives_but_the_whole() -> None:
    """All subsets, 2^20 of them, of what may be missing."""
    subsets = chain.from_iterable(combinations(CODES, size) for size in range(len(CODES) + 1))
    one, permitted = Known(), []  # one for all: a million take most of a minute to make
    for missing in subsets:
        object.__setattr__(one, "unmet", frozenset(missing))
        if next_state(S.READY, E.REQUESTED, one) is S.PERMIT:
            permitted.append(missing)
    assert permitted == [()]


def test_no_other_pair_leads_to_permit_whatever_is_known() -> None:
    for state, event in PAIRS:
        if (state, event) == (S.READY, E.REQUESTED) or state is S.PERMIT:
            continue
        for running, still, late, pause, key in product([True, False, None], repeat=5):
            after = next_state(
                state,
                event,
                known(
                    cycle_running=running,
                    standstill=still,
                    late_start=late is True,
                    may_pause=pause is True,
                    key_on=key,
                ),
            )
            assert after is not S.PERMIT


def test_contacts_close_only_from_states_that_had_or_were_given_a_permit() -> None:
    """CUTTING and PAUSED come from each other, from PERMIT, or from a start that crossed."""
    for state, event in PAIRS:
        after = next_state(state, event, KNOWN)
        if after in CONTACTS and state not in CONTACTS:
            assert (state, event) == (S.READY, E.REQUESTED)


def test_nothing_known_permits_nothing() -> None:
    assert next_state(S.READY, E.REQUESTED, Known()) is S.CHECKING
    assert next_state(S.STARTING, E.FIRST_ROUND, Known()) is S.HOLD_LOST
    assert next_state(S.CUTTING, E.CYCLE_STOPPED, Known()) is S.CHECKING
    assert next_state(S.CHECKING, E.CYCLE_STARTED, Known()) is S.NO_PERMIT
