"""An event happens: the table says where to, and the memory follows.

Entering a state is the only place where confirmations are dropped and cycles are closed.
"""

from __future__ import annotations

from kiosk.interlock import cycle, permissives, waivers
from kiosk.interlock.events import LOGGED, Event
from kiosk.interlock.facts import PlanFacts
from kiosk.interlock.memory import Kept
from kiosk.interlock.states import State
from kiosk.interlock.table import Known, next_state
from kiosk.interlock.turn import Move, Turn

_CROSSED_BY_A_START = frozenset({Event.WITHDRAWN, Event.EXPIRED, Event.SCREEN_LOST})
_PERMITTED = frozenset({State.PERMIT, State.PAUSED})
_KEEPS_LATE_START = frozenset({State.CHECKING, State.READY})
_HELD_STOPPED = frozenset({State.PAUSED, State.CHECKING, State.READY})
# Events that move because permissives fail, and which: the log says it.
_LACKS = {Event.UNPROVED: permissives.unproved_by, Event.CYCLE_STOPPED: permissives.pause_lacks}


def known(turn: Turn) -> Known:
    """What the table's choices may ask."""
    log = turn.facts.log
    return Known(
        unmet=permissives.unmet(turn),
        cycle_running=turn.cycle_running,
        standstill=turn.standstill,
        key_on=turn.key_on,
        held=turn.held,
        has_plan=turn.memory.plan is not None,
        log_latched=log.latch is not None or (log.exists and not log.readable),
        data_valid=turn.seen.valid,
        ratio=turn.seen.ratio,
        loss_ratio=turn.limits.loss_ratio,
        loss_near=turn.hold.loses or turn.hold.loss_timed,
        late_start=turn.late_start,
        may_pause=permissives.may_pause(turn),
        ran_unseen=turn.memory.ran_unseen,
        pause_left=turn.memory.pause_left,
        advice_only=turn.site.advice_only,
    )


def happen(turn: Turn, event: Event) -> bool:
    """Let an event happen; True when the state moved."""
    before = turn.state
    after = next_state(before, event, known(turn))
    if after is before:
        _keep(turn, event)
        return False
    lacks = _lacks(turn, event)
    turn.moves.append(Move(before, event, after))
    _leave(turn, before, event, after)
    turn.put(state=after, entered_s=turn.now_s)
    _ENTER.get(after, _nothing)(turn, event)
    turn.note("state", event=event, **{"from": before, "to": after}, **lacks)
    cycle.mark_worst(turn, after)
    return True


def _lacks(turn: Turn, event: Event) -> dict[str, list[str]]:
    """Codes of the permissives whose lack makes the move; nothing when there are none."""
    judge = _LACKS.get(event)
    codes = () if judge is None else judge(turn)
    return {"lacks": list(codes)} if codes else {}


def _keep(turn: Turn, event: Event) -> None:
    """Log an event that moved nothing, when it begins."""
    if event in LOGGED and event not in turn.memory.standing and event not in turn.standing:
        turn.note("state", event=event, **{"from": turn.state, "to": turn.state})


def _leave(turn: Turn, before: State, event: Event, after: State) -> None:
    if before in _PERMITTED and event in _CROSSED_BY_A_START:
        turn.put(gone_s=turn.now_s)
    elif after not in _KEEPS_LATE_START:
        turn.put(gone_s=None)
    if event is Event.CYCLE_STOPPED:
        turn.put(stopped_s=turn.now_s)
    elif after not in _HELD_STOPPED:
        turn.put(stopped_s=None)
    turn.put(pause_left=before is State.PAUSED and after is State.CHECKING)
    if before is State.RELEASE:
        turn.put(word_standstill=False)
    if before is State.SELECT_JOB and turn.memory.planning is not None:
        turn.put(planning=None)
        turn.drop_planner = event is not Event.PLAN_ADOPTED


def drop_plan(turn: Turn) -> None:
    """Forget the plan and everything confirmed for it."""
    plan = turn.memory.plan
    if plan is not None:
        turn.note("plan", change="dropped", digest=plan.digest, job_id=plan.job_id, words=None)
        waivers.leave_job(turn)
    turn.put(plan=None, zones=frozenset(), kept_zones=frozenset(), part_confirmed=False)


def take_plan(turn: Turn, plan: PlanFacts) -> None:
    """Adopt a plan; zones confirmed for the same plan before are offered as one map."""
    kept = turn.memory.kept
    names = frozenset(zone.name for zone in plan.zones)
    again = kept.zones & names if kept and kept.plan.digest == plan.digest else frozenset()
    turn.put(plan=plan, zones=frozenset(), kept_zones=again, kept=None, refusal=None)
    turn.note("plan", change="adopted", digest=plan.digest, job_id=plan.job_id, words=None)


def _nothing(turn: Turn, event: Event) -> None:
    return None


def _enter_select_job(turn: Turn, event: Event) -> None:
    cycle.close_cycle(turn, event)
    drop_plan(turn)
    if event is Event.FIRST_ROUND:
        _keep_logged(turn)
    elif event is not Event.VENTED and event is not Event.RESET:
        turn.put(kept=None)


def _enter_part_held(turn: Turn, event: Event) -> None:
    if event is Event.FIRST_ROUND:
        _keep_logged(turn)
        return
    plan = turn.memory.plan
    if plan is not None:
        turn.put(kept=Kept(plan, turn.memory.zones))
    drop_plan(turn)


def _keep_logged(turn: Turn) -> None:
    log = turn.facts.log
    if log.logged_plan is not None:
        turn.put(kept=Kept(log.logged_plan, log.logged_zones))


def _enter_set_up(turn: Turn, event: Event) -> None:
    turn.put(part_confirmed=False, rose=False)
    if event is Event.PLAN_RETAKEN:
        cycle.open_cycle(turn)
    else:
        cycle.close_cycle(turn, event)


def _enter_permit(turn: Turn, event: Event) -> None:
    turn.put(asked_s=turn.now_s)


def _enter_cutting(turn: Turn, event: Event) -> None:
    if event is Event.CYCLE_STARTED:
        cycle.mark_start(turn)


def _enter_latched(turn: Turn, event: Event) -> None:
    cycle.open_cycle(turn)


_ENTER = {
    State.SELECT_JOB: _enter_select_job,
    State.PART_HELD: _enter_part_held,
    State.SET_UP: _enter_set_up,
    State.PERMIT: _enter_permit,
    State.CUTTING: _enter_cutting,
    State.HOLD_LOST: _enter_latched,
    State.NO_PERMIT: _enter_latched,
}
