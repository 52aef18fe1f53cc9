"""The cycle: the log's unit, from the confirmed part to the next part, with its summary."""

from __future__ import annotations

from dataclasses import replace

from kiosk.interlock.events import Event
from kiosk.interlock.measure import minimum_of
from kiosk.interlock.memory import Cycle
from kiosk.interlock.states import State
from kiosk.interlock.turn import IN_CUT, Turn

_WORST = {State.HOLD_LOST: "hold_lost", State.NO_PERMIT: "no_permit"}
_RESULTS = {Event.NEXT_PART: "done", Event.JOB_DONE: "done", Event.CANCELLED: "cancelled"}


def open_cycle(turn: Turn) -> None:
    """Open a cycle unless one is open."""
    if turn.memory.cycle is not None:
        return
    number, plan = turn.memory.cycles + 1, turn.memory.plan
    cycle = Cycle(
        id=f"{turn.memory.epoch}-{number}",
        minimum_kpa=minimum_of(plan, turn.site),
        start_kpa=None if plan is None else plan.start_kpa,
        ran=turn.held is not False,  # a part that is held already may have been cut before
    )
    turn.put(cycle=cycle, cycles=number)
    turn.note(
        "cycle", change="opened", result=None,
        digest=None if plan is None else plan.digest,
        job_id=None if plan is None else plan.job_id,
    )  # fmt: skip


def close_cycle(turn: Turn, event: Event) -> None:
    """Close the open cycle; a loss or a start without permit in it outweighs how it ended."""
    cycle = turn.memory.cycle
    if cycle is None:
        return
    turn.note(
        "cycle",
        change="closed",
        result=cycle.worst or _result(turn, cycle, event),
        minimum_kpa=cycle.minimum_kpa,
        start_kpa=cycle.start_kpa,
        start_vacuum_kpa=cycle.start_vacuum_kpa,
        lowest_ratio=cycle.lowest_ratio,
        lowest_vacuum_kpa=cycle.lowest_vacuum_kpa,
        cutting_s=round(cycle.cutting_s, 3),
        alarms=cycle.alarms,
    )
    turn.put(cycle=None)


def _result(turn: Turn, cycle: Cycle, event: Event) -> str:
    """How it ended.  A part that lay there loose is not done before a program was seen to run."""
    result = _RESULTS.get(event, "unconfirmed")
    unseen = "cycle_running" in turn.site.inputs and not cycle.ran
    return "not_run" if result == "done" and unseen else result


def mark_worst(turn: Turn, state: State) -> None:
    """Remember that the cycle came into a latched state."""
    cycle = turn.memory.cycle
    if cycle is not None and state in _WORST and cycle.worst is None:
        turn.put(cycle=replace(cycle, worst=_WORST[state]))


def mark_start(turn: Turn) -> None:
    """Remember what held when the cut began; a cycle that goes on keeps its first start."""
    cycle, deciding = turn.memory.cycle, turn.seen.deciding
    if cycle is None or deciding is None or cycle.start_vacuum_kpa is not None:
        return
    minimum_kpa = turn.seen.minimum_kpa
    turn.put(cycle=replace(cycle, start_vacuum_kpa=deciding.vacuum_kpa, minimum_kpa=minimum_kpa))


def follow(turn: Turn) -> None:
    """The cut's time and its lowest hold, one step later; what runs on is cut, permitted or not."""
    cycle = turn.memory.cycle
    if cycle is not None and turn.cycle_running is True:
        cycle = replace(cycle, ran=True)
        turn.put(cycle=cycle)
    runs_on = turn.state in _WORST and turn.cycle_running is not False
    if cycle is None or not (turn.began in IN_CUT or turn.state in IN_CUT or runs_on):
        return
    last_s = turn.memory.last_s
    passed_s = turn.now_s - last_s if last_s is not None and turn.began in IN_CUT else 0.0
    deciding = turn.seen.deciding
    turn.put(
        cycle=replace(
            cycle,
            cutting_s=cycle.cutting_s + max(0.0, passed_s),
            lowest_ratio=_lower(cycle.lowest_ratio, turn.seen.ratio),
            lowest_vacuum_kpa=_lower(
                cycle.lowest_vacuum_kpa, None if deciding is None else deciding.vacuum_kpa
            ),
        )
    )


def _lower(before: float | None, now: float | None) -> float | None:
    if before is None or now is None:
        return now if before is None else before
    return min(before, now)
