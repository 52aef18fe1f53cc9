"""What one step leaves in the memory for the next, beside what its events left there."""

from __future__ import annotations

from kiosk.interlock import permissives, supply
from kiosk.interlock.states import State
from kiosk.interlock.turn import Turn


def remember(turn: Turn) -> None:
    """Everything that the next step asks of this one."""
    memory, held = turn.memory, turn.held
    turn.put(
        last_s=turn.now_s,
        standing=frozenset(turn.standing),
        sound_s=permissives.sound_since_s(turn),
        rose=memory.rose or (memory.part_confirmed and held is True),
        drawing_s=_drawing_s(turn),
        pause_left=memory.pause_left and turn.standstill is not True,
        supply=_pulled(turn),
        unsynced_s=_unsynced_s(turn),
    )


def _pulled(turn: Turn) -> supply.Supply:
    """Pull-downs count only of parts that do not let air through."""
    plan = turn.memory.plan
    full_s = None if plan is None or plan.leaks else turn.site.pull_down_s
    vented_kpa = turn.limits.vented_kpa
    return supply.pull(turn.memory.supply, turn.seen.vacuum_kpa, vented_kpa, full_s, turn.now_s)


def _unsynced_s(turn: Turn) -> float | None:
    if turn.facts.clock_synced is not False:
        return None
    return turn.now_s if turn.memory.unsynced_s is None else turn.memory.unsynced_s


def _drawing_s(turn: Turn) -> float | None:
    """Since when vacuum is being drawn without having come to the start level."""
    ratio = turn.seen.ratio
    below = ratio is None or ratio < turn.limits.start_ratio
    draws = turn.held is True or turn.lines.said("valve_open") is True
    if turn.state not in (State.SET_UP, State.CHECKING) or not (below and draws):
        return None
    return turn.now_s if turn.memory.drawing_s is None else turn.memory.drawing_s
