"""The alarms: one row each, and their life from raised to gone.

Life cycle as in IEC 62682 (open text of the same states: OPC 10000-9, 4.8): active or returned,
acknowledged or not, latched until a reset after the condition is gone.  Acknowledging changes no
output.  The first of a group that came with a loss stays in the list, marked and with the time at
which it came, until the rest of the group is over: it is what a reset is asked the cause of.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kiosk.interlock import delays
from kiosk.interlock.events import Event
from kiosk.interlock.states import State
from kiosk.interlock.timer import reached
from kiosk.limits import CONTACT_WRONG_S, DRAW_DOWN_S, GAUGES_LOSS_KPA, IO_LOST_S

if TYPE_CHECKING:
    from kiosk.interlock.turn import Turn

Measured = tuple[float | None, float | None, str]


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm in the list.  ``value`` and ``limit`` are those when it came, ``since_s`` and
    ``utc`` too, but those of a first stay when it comes again."""

    code: str
    priority: int
    active: bool
    acknowledged: bool
    latched: bool
    first: bool
    since_s: float
    utc: str
    value: float | None
    limit: float | None
    unit: str

    @property
    def is_over(self) -> bool:
        """Whether nothing is left of it."""
        return self.acknowledged and not self.active and not self.latched


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """What raises an alarm.  ``keeps`` holds it a while longer than ``stands``.

    ``lapses`` takes it off the list once it is gone, seen or not: it means nothing any more.
    """

    code: str
    priority: int
    stands: Callable[[Turn], bool]
    measured: Callable[[Turn], Measured]
    latches: bool = False
    in_group: bool = False
    keeps: Callable[[Turn], bool] | None = None
    lapses: Callable[[Turn], bool] | None = None


def _no_number(_: Turn) -> Measured:
    return None, None, ""


def _moved_to(turn: Turn, state: State) -> bool:
    return any(move.after is state is not move.before for move in turn.moves)


def _found(turn: Turn, latch: str) -> bool:
    """At the first round: whether the log held this latch."""
    return turn.facts.log.latch == latch and any(
        move.event is Event.FIRST_ROUND and move.after is State.HOLD_LOST for move in turn.moves
    )


def _restarted_in_cut(turn: Turn) -> bool:
    log = turn.facts.log
    into = any(
        move.event is Event.FIRST_ROUND and move.after is State.HOLD_LOST for move in turn.moves
    )
    ran = turn.cycle_running is not False or turn.memory.ran_unseen
    runs = ran and not turn.site.advice_only
    return into and (runs or (log.exists and not log.readable))


def _is_oldest(turn: Turn) -> float | None:
    ages = [gauge.age_s for gauge in turn.seen.gauges if gauge.vacuum_kpa is None]
    return max((age_s for age_s in ages if age_s is not None), default=None)


def _draws_too_long(turn: Turn) -> bool:
    drawing_s = turn.drawing_for_s
    return (
        turn.state is State.CHECKING and drawing_s is not None and reached(drawing_s, DRAW_DOWN_S)
    )


def _link_not_back(turn: Turn) -> bool:
    back_s = turn.memory.link.back_since_s
    return back_s is None or not reached(turn.now_s - back_s, delays.LINK_BACK_S)


def _stopped_too_long(turn: Turn) -> bool:
    stopped_s = turn.stopped_for_s
    return stopped_s is not None and reached(stopped_s, turn.limits.pause_s)


def _ratio(limit: Callable[[Turn], float]) -> Callable[[Turn], Measured]:
    return lambda turn: (turn.seen.ratio, limit(turn), "ratio")


ROWS = (
    AlarmRow("A01", 1, lambda t: (t.cutting and t.hold.lost) or _found(t, State.HOLD_LOST),
             _ratio(lambda t: t.limits.loss_ratio), latches=True, in_group=True),
    AlarmRow("A02", 1, lambda t: t.cutting and t.hold.collapsed,
             _ratio(lambda t: t.limits.collapse_ratio), latches=True, in_group=True),
    AlarmRow("A03", 1, lambda t: t.cutting and not t.seen.valid,
             lambda t: (_is_oldest(t), t.limits.invalid_s, "s"), latches=True, in_group=True),
    AlarmRow("A04", 1, lambda t: t.cutting and t.hold.far_apart,
             lambda t: (t.seen.apart_kpa, GAUGES_LOSS_KPA, "kPa"), latches=True, in_group=True),
    AlarmRow("A05", 2, lambda t: t.cutting and t.hold.warns_low,
             _ratio(lambda t: t.limits.warn_ratio)),
    AlarmRow("A06", 2, lambda t: t.cutting and t.hold.warns_falling,
             lambda t: (t.seen.time_left_s, t.limits.time_left_s, "s"), in_group=True),
    AlarmRow("A07", 2, _draws_too_long, _ratio(lambda t: t.limits.start_ratio)),
    AlarmRow("A10", 2, lambda t: t.link_lost, lambda t: (t.lost_for_s, IO_LOST_S, "s"),
             in_group=True, keeps=_link_not_back),
    AlarmRow("A12", 1, lambda t: t.cutting and t.contact_wrong,
             lambda t: (t.wrong_for_s, CONTACT_WRONG_S, "s"), latches=True),
    AlarmRow("A22", 1, lambda t: _moved_to(t, State.NO_PERMIT) or _found(t, State.NO_PERMIT),
             _no_number, latches=True),
    AlarmRow("A23", 2, lambda t: t.memory.refusal is not None, _no_number,
             lapses=lambda t: t.memory.plan is not None),
    AlarmRow("A24", 1, _restarted_in_cut, _no_number, latches=True),
    AlarmRow("A25", 2, _stopped_too_long,
             lambda t: (t.stopped_for_s, t.limits.pause_s, "s")),
)  # fmt: skip

BY_CODE = {row.code: row for row in ROWS}
CODES = tuple(row.code for row in ROWS)
GROUP = frozenset(row.code for row in ROWS if row.in_group)


def run(turn: Turn) -> None:
    """Every alarm one step later."""
    standing = {alarm.code: alarm for alarm in turn.memory.alarms}
    after = [alarm for row in ROWS if (alarm := _one(turn, row, standing.get(row.code)))]
    kept = tuple(after)
    if kept != turn.memory.alarms:
        _put(turn, kept)


def _put(turn: Turn, alarms: tuple[Alarm, ...]) -> None:
    """The list without what is over; the first stays with its group, and goes with it."""
    group_stands = any(alarm.code in GROUP and not alarm.is_over for alarm in alarms)
    kept = tuple(a for a in alarms if not a.is_over or (a.first and group_stands))
    turn.put(alarms=kept, first_out=turn.memory.first_out if group_stands else None)


def _one(turn: Turn, row: AlarmRow, alarm: Alarm | None) -> Alarm | None:
    stands = row.stands(turn)
    if alarm is None:
        return _raised(turn, row) if stands else None
    if stands and not alarm.active:
        return _raised(turn, row, again=alarm)
    if alarm.active and not stands and not (row.keeps is not None and row.keeps(turn)):
        alarm = replace(alarm, active=False)
        note(turn, alarm, "cleared")
    lapsed = not alarm.active and row.lapses is not None and row.lapses(turn)
    return None if lapsed else alarm


def _raised(turn: Turn, row: AlarmRow, again: Alarm | None = None) -> Alarm:
    first = again.first if again is not None else _is_first(turn, row)
    came_s, utc = (again.since_s, again.utc) if again is not None and first else _now(turn)
    value, limit, unit = row.measured(turn)
    alarm = Alarm(
        code=row.code,
        priority=row.priority,
        active=True,
        acknowledged=False,
        latched=row.latches and not turn.site.advice_only,
        first=first,
        since_s=came_s,
        utc=utc,
        value=value,
        limit=limit,
        unit=unit,
    )
    note(turn, alarm, "raised")
    return alarm


def _now(turn: Turn) -> tuple[float, str]:
    return turn.now_s, turn.utc


def _is_first(turn: Turn, row: AlarmRow) -> bool:
    if not row.in_group or turn.memory.first_out is not None:
        return False
    turn.put(first_out=row.code)
    return True


def note(turn: Turn, alarm: Alarm, change: str) -> None:
    """One row for the log; the open cycle remembers that it had this alarm."""
    cycle = turn.memory.cycle
    if cycle is not None and change == "raised" and alarm.code not in cycle.alarms:
        turn.put(cycle=replace(cycle, alarms=(*cycle.alarms, alarm.code)))
    turn.note(
        "alarm", code=alarm.code, change=change, priority=alarm.priority, value=alarm.value,
        limit=alarm.limit, unit=alarm.unit, first=alarm.first,
    )  # fmt: skip


def acknowledge(turn: Turn, code: str | None) -> bool:
    """Mark as seen: one alarm, or all.  False when there was nothing to mark."""
    chosen = [a for a in turn.memory.alarms if not a.acknowledged and code in (None, a.code)]
    seen = {alarm.code: replace(alarm, acknowledged=True) for alarm in chosen}
    for alarm in seen.values():
        note(turn, alarm, "acknowledged")
    after = [seen.get(alarm.code, alarm) for alarm in turn.memory.alarms]
    _put(turn, tuple(after))
    return bool(seen)


def reset(turn: Turn) -> None:
    """Let go every latch whose condition is gone; the person who resets has seen it."""
    after: list[Alarm] = []
    for alarm in turn.memory.alarms:
        if alarm.latched and not BY_CODE[alarm.code].stands(turn):
            note(turn, replace(alarm, latched=False, acknowledged=True), "reset")
        else:
            after.append(alarm)
    _put(turn, tuple(after))
