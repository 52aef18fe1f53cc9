"""The state machine: one row for every event, one column for every state, nothing between.

A point: the state stays.  Two letters: the state that follows.  ``?`` and a letter: a choice of
``CHOICES``, made from what is known.  A pair that is missing fails a test; met at run time it
moves to a state in which both contacts are off.  Outputs depend on the state alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from kiosk.interlock.events import Event
from kiosk.interlock.states import State

COLUMNS: dict[str, State] = {
    "ST": State.STARTING,
    "PH": State.PART_HELD,
    "SJ": State.SELECT_JOB,
    "SU": State.SET_UP,
    "CH": State.CHECKING,
    "RE": State.READY,
    "PE": State.PERMIT,
    "CU": State.CUTTING,
    "LH": State.LOW_HOLD,
    "PA": State.PAUSED,
    "HL": State.HOLD_LOST,
    "NP": State.NO_PERMIT,
    "RL": State.RELEASE,
}

ROWS = """
                 ST PH SJ SU CH RE PE CU LH PA HL NP RL
first_round      ?f .  .  .  .  .  .  .  .  .  .  .  .
io_lost          .  .  .  .  .  CH CH LH .  CH .  .  .
data_lost        .  .  .  .  ?w CH CH HL HL ?s .  .  .
hold_lost        .  .  .  .  ?w CH CH HL HL ?s .  .  .
hold_low         .  .  .  .  .  .  .  LH .  CH .  .  .
contact_wrong    .  .  .  .  .  CH CH .  .  CH .  .  .
key_on           .  .  .  .  .  CH CH .  .  CH .  .  .
unproved         .  .  .  .  .  CH CH .  .  CH .  .  .
setup_changed    .  .  .  .  SU SU SU .  .  .  .  .  .
zone_undone      .  .  .  .  SU SU SU .  .  .  .  .  .
screen_lost      .  .  .  .  .  CH CH .  .  CH .  .  .
withdrawn        .  .  .  .  .  .  CH .  .  CH .  .  .
expired          .  .  .  .  .  .  RE .  .  CH .  .  .
vented           .  SJ .  .  SU SU SU .  .  SU .  .  .
cycle_stopped    .  .  .  .  .  .  .  ?p ?p .  .  .  .
cycle_started    ?n ?n ?n ?n ?l ?l CU .  .  CU .  .  ?n
cancelled        .  .  SJ SJ SJ SJ .  .  .  .  .  .  .
finished         .  RL .  .  RL RL .  .  .  RL .  .  .
acknowledged     .  .  .  .  .  .  .  .  .  .  .  .  .
reset            .  .  .  .  .  .  .  .  .  .  RL ?a .
next_part        .  .  .  .  .  .  .  .  .  .  .  .  SU
job_done         .  .  .  .  .  .  .  .  .  .  .  .  SJ
plan_refused     .  .  .  .  .  .  .  .  .  .  .  .  .
plan_adopted     .  .  SU .  .  .  .  .  .  .  .  .  .
plan_retaken     .  SU .  .  .  .  .  .  .  .  .  .  .
zone_confirmed   .  .  .  .  .  .  .  .  .  .  .  .  .
part_confirmed   .  .  .  .  .  .  .  .  .  .  .  .  .
requested        .  .  .  .  .  ?r .  .  .  .  .  .  .
io_back          .  .  .  .  .  .  .  .  .  .  .  .  .
data_back        .  .  .  .  .  .  .  .  .  .  .  .  .
screen_back      .  .  .  .  .  .  .  .  .  .  .  .  .
key_off          .  .  .  .  .  .  .  .  .  .  .  .  .
hold_back        .  .  .  .  .  .  .  .  CU .  .  .  .
all_confirmed    .  .  .  CH .  .  .  .  .  .  .  .  .
proved           .  .  .  .  RE .  .  .  .  .  .  .  .
"""

# Without contacts nothing is permitted: READY is where the hold is watched, and it stays.
ADVICE_STAYS = frozenset(
    {
        Event.IO_LOST, Event.DATA_LOST, Event.HOLD_LOST, Event.HOLD_LOW, Event.CONTACT_WRONG,
        Event.KEY_ON, Event.UNPROVED, Event.SCREEN_LOST,
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Known:
    """What a choice may ask.  Everything is born "no" or unknown."""

    unmet: frozenset[str] = field(default_factory=lambda: frozenset({"unknown"}))
    cycle_running: bool | None = None  # None: not known, or not wired
    standstill: bool | None = None
    key_on: bool | None = None
    held: bool | None = None  # vacuum above the vented level
    has_plan: bool = False
    log_latched: bool = True  # an unreset latch in the log, or the log unreadable
    data_valid: bool = False
    ratio: float | None = None
    loss_ratio: float = 1.0
    loss_near: bool = True  # one stands, or its delay runs
    late_start: bool = False  # the permit went just now, by itself or a person
    may_pause: bool = False
    ran_unseen: bool = False  # a cycle was seen before the first round
    pause_left: bool = False  # a pause ended, and since then neither standstill nor proof
    advice_only: bool = False


def _first(known: Known) -> State:
    """The first state after everything was seen once."""
    ran = known.cycle_running is not False or known.ran_unseen
    if known.log_latched or (ran and not known.advice_only):
        return State.HOLD_LOST
    return State.SELECT_JOB if known.held is False else State.PART_HELD


def _spindle(known: Known) -> State:
    """A loss in a pause matters while anything still turns."""
    return State.CHECKING if known.standstill is True else State.HOLD_LOST


def _after_pause(known: Known) -> State | None:
    """The pause's contacts go before a loss has stood for its delay; it is a loss all the same."""
    return _spindle(known) if known.pause_left else None


def _pause(known: Known) -> State:
    return State.PAUSED if known.may_pause else State.CHECKING


def _late(known: Known) -> State | None:
    """A start that crossed with the end of its permit still counts while the hold is there."""
    above = known.ratio is not None and known.ratio >= known.loss_ratio
    held = above and known.data_valid and not known.loss_near
    if known.key_on is not True and known.late_start and held:
        return State.CUTTING
    return _none(known)


def _none(known: Known) -> State | None:
    """A start without permit, except under the maker's own key."""
    return None if known.key_on is True else State.NO_PERMIT


def _after_no_permit(known: Known) -> State:
    if known.held is not False:
        return State.PART_HELD
    return State.SET_UP if known.has_plan else State.SELECT_JOB


def _request(known: Known) -> State:
    return State.CHECKING if known.unmet or known.advice_only else State.PERMIT


# None: the state stays.
CHOICES: dict[str, Callable[[Known], State | None]] = {
    "?f": _first,
    "?s": _spindle,
    "?w": _after_pause,
    "?p": _pause,
    "?l": _late,
    "?n": _none,
    "?a": _after_no_permit,
    "?r": _request,
}


def parse(rows: str) -> dict[tuple[State, Event], str]:
    """The cells by pair.  Raises ValueError when a row does not fit its columns."""
    head, *lines = [line.split() for line in rows.strip().splitlines()]
    states = [COLUMNS[word] for word in head]
    table: dict[tuple[State, Event], str] = {}
    for name, *cells in lines:
        table.update(zip([(state, Event(name)) for state in states], cells, strict=True))
    return table


TABLE: Mapping[tuple[State, Event], str] = parse(ROWS)

# START PERMIT, HOLD HEALTHY.  A state that is not here has both off.
CONTACTS: Mapping[State, tuple[bool, bool]] = {
    State.PERMIT: (True, True),
    State.CUTTING: (True, True),
    State.LOW_HOLD: (False, True),
    State.PAUSED: (True, True),
}


def next_state(
    state: State,
    event: Event,
    known: Known,
    table: Mapping[tuple[State, Event], str] = TABLE,
) -> State:
    """The state after ``event``."""
    cell = table.get((state, event))
    if cell is None:
        running = known.cycle_running is not False and not known.advice_only
        return State.HOLD_LOST if running else State.CHECKING
    if known.advice_only and state is State.READY and event in ADVICE_STAYS:
        return state
    if cell == ".":
        return state
    choice = CHOICES.get(cell)
    if choice is None:
        return COLUMNS[cell]
    return choice(known) or state
