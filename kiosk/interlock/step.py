"""One step: look, judge what forbids, then what allows; then alarms, outputs, snapshot.

``step`` is the only way in, and outputs depend on the state alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kiosk.interlock import alarms, cycle, doubt, judge, permissives, planning, supply
from kiosk.interlock.commands import GUARDS_OWN, Name
from kiosk.interlock.decision import Decision, Outputs
from kiosk.interlock.delays import TINY_S
from kiosk.interlock.events import Event
from kiosk.interlock.facts import Facts, SiteFacts
from kiosk.interlock.measure import see
from kiosk.interlock.memory import Memory
from kiosk.interlock.moves import happen
from kiosk.interlock.publish import snapshot, waiting_for
from kiosk.interlock.remember import remember
from kiosk.interlock.signals import Lines, follow, lines_of
from kiosk.interlock.states import State
from kiosk.interlock.table import CONTACTS
from kiosk.interlock.timer import reached
from kiosk.interlock.turn import IN_CUT, Turn
from kiosk.interlock.watch import watch_on
from kiosk.interlock.window import Window, look
from kiosk.limits import ALIVE_HZ

_BEFORE_START = frozenset({State.CHECKING, State.READY, State.PERMIT})
_PROVED = frozenset({State.READY, State.PERMIT, State.PAUSED})
_WATCHED = frozenset({State.PERMIT, State.PAUSED}) | IN_CUT


def start(site: SiteFacts, epoch: str) -> Memory:
    """The memory before the first step: nothing known, everything withheld."""
    return Memory(
        epoch=epoch,
        windows={gauge.name: Window() for gauge in site.gauges},
        doubts={gauge.name: doubt.Doubt() for gauge in site.gauges},
    )


def step(memory: Memory, facts: Facts, utc: str) -> tuple[Memory, Decision]:
    """The memory and the decision after one look at the facts.  Changes neither argument."""
    turn = look_at(memory, facts, utc)
    if turn.state is State.STARTING and _runs_unseen(turn):
        turn.put(ran_unseen=True)
    if turn.state is State.STARTING and not waiting_for(turn):
        happen(turn, Event.FIRST_ROUND)
        turn.put(service=turn.memory.service or facts.log.service)
        link = replace(turn.memory.link, running=turn.cycle_running)
        turn.put(link=link)
    if turn.state is not State.STARTING:
        _forbid(turn)
    _obey(turn)
    planning.hear(turn)
    if turn.state is not State.STARTING:
        _allow(turn)
    cycle.follow(turn)
    remember(turn)
    alarms.run(turn)
    return _decide(turn)


def look_at(memory: Memory, facts: Facts, utc: str) -> Turn:
    """The turn, with windows, hold and wires brought up to now."""
    site, now_s = facts.site, facts.now_s
    windows = {
        gauge.name: look(
            memory.windows[gauge.name],
            facts.gauges.get(gauge.name),
            now_s,
            site.air_kpa,
            site.limits,
        )
        for gauge in site.gauges
    }
    lines = lines_of(facts)
    seen = see(site, windows, memory.plan, now_s)
    watched = _is_watched(memory.state, lines, site)
    watch, hold = watch_on(memory.watch, seen, now_s, site.limits, watched)
    link = follow(memory.link, lines, facts, memory.outputs)
    wires = supply.follow(memory.supply, lines, now_s)
    doubts = {
        gauge.name: doubt.look(
            memory.doubts[gauge.name],
            gauge,
            facts.gauges.get(gauge.name),
            window=windows[gauge.name],
            supply=wires,
            now_s=now_s,
        )
        for gauge in site.gauges
    }
    looked = replace(
        memory, seq=memory.seq + 1, windows=windows, doubts=doubts, link=link, watch=watch,
        supply=wires,
    )  # fmt: skip
    turn = Turn(looked, facts, utc, lines, seen, hold, memory.state)
    turn.pending = [command for command in facts.commands if command.name not in GUARDS_OWN]
    return turn


def _is_watched(state: State, lines: Lines, site: SiteFacts) -> bool | None:
    """Whether warnings count; None leaves them as they stand while a loss is dealt with."""
    if state is State.HOLD_LOST and lines.said("cycle_running") is not False:
        return None
    return state in _WATCHED or (site.advice_only and state is State.READY)


def _runs_unseen(turn: Turn) -> bool:
    """Whether a cycle runs, and not under the maker's key; whatever else is not known yet."""
    said = turn.lines.inputs
    return said.get("cycle_running") is True and said.get("key_bypass") is not True


# -- what forbids, in order --------------------------------------------------------------------


def _io_lost(turn: Turn) -> bool:
    return not turn.lines.known and (turn.state not in IN_CUT or turn.link_lost)


def _unproved(turn: Turn) -> bool:
    return turn.state in _PROVED and permissives.is_unproved(turn)


def _setup_changed(turn: Turn) -> bool:
    confirmed = turn.seats_confirmed and turn.memory.part_confirmed
    return turn.state in _BEFORE_START and not confirmed


def _expired(turn: Turn) -> bool:
    left = (turn.permit_left_s, turn.pause_left_s)
    return any(left_s is not None and left_s <= TINY_S for left_s in left)


def _vented(turn: Turn) -> bool:
    rose = turn.memory.rose or turn.state in (State.PART_HELD, State.RELEASE)
    return turn.hold.vented and rose


def _cycle_stopped(turn: Turn) -> bool:
    return turn.cycle_running is False and turn.memory.link.running is True


def _cycle_started(turn: Turn) -> bool:
    return turn.cycle_running is True and turn.memory.link.running is not True


Condition = tuple[Event, Callable[[Turn], bool]]

_FIRST: tuple[Condition, ...] = (
    (Event.IO_LOST, _io_lost),
    (Event.DATA_LOST, lambda turn: not turn.seen.valid),
    (Event.HOLD_LOST, lambda turn: turn.hold.loses),
    (Event.HOLD_LOW, lambda turn: turn.hold.warns),
    (Event.CONTACT_WRONG, lambda turn: turn.contact_wrong),
    (Event.KEY_ON, lambda turn: turn.key_on is True),
    (Event.UNPROVED, _unproved),
    (Event.SETUP_CHANGED, _setup_changed),
)
_AFTER_UNDO: tuple[Condition, ...] = ((Event.SCREEN_LOST, lambda turn: not turn.screen_there),)
_AFTER_WITHDRAW: tuple[Condition, ...] = ((Event.EXPIRED, _expired), (Event.VENTED, _vented))


def _forbid(turn: Turn) -> None:
    """Everything that forbids, in its order; a start of the cycle comes last."""
    _obey_early(turn, Name.BEGIN_SERVICE)
    _obey_early(turn, Name.END_BYPASS)
    _judge_conditions(turn, _FIRST)
    _obey_early(turn, Name.UNDO_ZONE)
    _judge_conditions(turn, _AFTER_UNDO)
    _obey_early(turn, Name.WITHDRAW)
    _judge_conditions(turn, _AFTER_WITHDRAW)
    if not turn.site.advice_only:
        _follow_cycle(turn)


def _judge_conditions(turn: Turn, conditions: tuple[Condition, ...]) -> None:
    for event, stands in conditions:
        if stands(turn):
            happen(turn, event)
            turn.standing.add(event)


def _obey_early(turn: Turn, name: Name) -> None:
    """Commands that take away are done in their place among what forbids, if they can be."""
    for command in [c for c in turn.pending if c.name is name]:
        if judge.refusal(turn, name) is None:
            turn.pending.remove(command)
            judge.judge(turn, command)


def _follow_cycle(turn: Turn) -> None:
    """Starts and stops of the program; under the maker's key a start waits for the key."""
    if _cycle_stopped(turn):
        happen(turn, Event.CYCLE_STOPPED)
    elif _cycle_started(turn) and not happen(turn, Event.CYCLE_STARTED) and turn.key_on is True:
        turn.standing.add(Event.CYCLE_STARTED)
        return
    if turn.cycle_running not in (None, turn.memory.link.running):
        turn.put(link=replace(turn.memory.link, running=turn.cycle_running))


# -- what allows -------------------------------------------------------------------------------


def _obey(turn: Turn) -> None:
    """All other commands, in the order they came.  The guard itself hands out plans."""
    while turn.pending:
        judge.judge(turn, turn.pending.pop(0))


_BACK = (
    (Event.IO_LOST, Event.IO_BACK),
    (Event.DATA_LOST, Event.DATA_BACK),
    (Event.SCREEN_LOST, Event.SCREEN_BACK),
    (Event.KEY_ON, Event.KEY_OFF),
)


def _allow(turn: Turn) -> None:
    """What came back, and what everything together now permits."""
    for gone, back in _BACK:
        if gone in turn.memory.standing and gone not in turn.standing:
            happen(turn, back)
    if turn.state is State.LOW_HOLD and turn.lines.known and not turn.hold.warns:
        happen(turn, Event.HOLD_BACK)
    if turn.state is State.SET_UP and turn.seats_confirmed and turn.memory.part_confirmed:
        happen(turn, Event.ALL_CONFIRMED)
    if turn.state is State.CHECKING and not permissives.unmet(turn):
        happen(turn, Event.PROVED)


# -- what goes out ------------------------------------------------------------------------------


def _outputs(turn: Turn) -> Outputs:
    """Contacts from the state; ALIVE turns over twice a period, only here, once a step."""
    memory = turn.memory
    permit, healthy = CONTACTS.get(turn.state, (False, False))
    wired = not turn.site.advice_only
    due = memory.alive_s is None or reached(turn.now_s - memory.alive_s, 0.5 / ALIVE_HZ)
    unseen = any(not a.acknowledged and a.priority <= 2 for a in memory.alarms)
    return Outputs(
        start_permit=permit and wired,
        hold_healthy=healthy and wired,
        alive=memory.outputs.alive != due,
        beacon=unseen,
    )


def _decide(turn: Turn) -> tuple[Memory, Decision]:
    before, outputs = turn.memory.outputs, _outputs(turn)
    changed = (outputs.start_permit, outputs.hold_healthy) != (
        before.start_permit,
        before.hold_healthy,
    )
    if changed:
        turn.note("output", start_permit=outputs.start_permit, hold_healthy=outputs.hold_healthy)
    turned_over = outputs.alive != before.alive
    turn.put(outputs=outputs, alive_s=turn.now_s if turned_over else turn.memory.alive_s)
    decision = Decision(
        outputs=outputs,
        snapshot=snapshot(turn, outputs),
        replies=tuple(turn.replies),
        notes=tuple(turn.notes),
        plan_request=turn.plan_request,
        drop_planner=turn.drop_planner,
    )
    return turn.memory, decision
