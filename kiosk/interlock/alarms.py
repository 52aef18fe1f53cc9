"""The life of an alarm, from raised to gone, shelved or reset.

Life cycle as in IEC 62682 (open text of the same states: OPC 10000-9, 4.8): active or returned,
acknowledged or not, shelved, latched until a reset after the condition is gone.  Acknowledging and
shelving change no output.  The first of a group that came with a loss stays in the list, marked
and with the time at which it came, until the rest of the group is over, or until the group comes
anew while nothing of it stands or is latched: it is what a reset is asked the cause of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kiosk.interlock import health
from kiosk.interlock.alarm_rows import BY_CODE, CODES, GROUP, ROWS, AlarmRow
from kiosk.interlock.delays import TINY_S
from kiosk.interlock.timer import reached

if TYPE_CHECKING:
    from kiosk.interlock.turn import Turn

__all__ = ["BY_CODE", "CODES", "ROWS", "Alarm", "acknowledge", "life", "reset", "run"]


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm that is not over.  ``value`` and ``limit`` are those when it came, ``since_s`` and
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
    shelved_until_s: float | None = None
    shelved_why: str = ""
    cut_over: bool = False  # it was the end of the cut that cleared it, whatever became of the hold
    about: str | None = None  # what of several it is about, when it came
    raised_utc: str = ""  # when it came last

    @property
    def shelved(self) -> bool:
        """Whether it is on the shelf and off the list."""
        return self.shelved_until_s is not None

    @property
    def stands(self) -> bool:
        """Whether its life goes on, seen on the list or not."""
        return self.active or self.latched or not self.acknowledged

    @property
    def is_over(self) -> bool:
        """Whether nothing is left of it."""
        return not (self.stands or self.shelved)


def life(alarm: Alarm) -> str:
    """The state of its life by the word of the standard's figure."""
    if alarm.shelved:
        return "shelved"
    if alarm.latched and not alarm.active:
        return "latched"
    if alarm.active:
        return "acknowledged" if alarm.acknowledged else "unacknowledged"
    return "normal" if alarm.acknowledged else "returned"


def run(turn: Turn) -> None:
    """Every alarm one step later."""
    standing = {alarm.code: _off_the_shelf(turn, alarm) for alarm in turn.memory.alarms}
    turning: dict[str, float] = {}
    active = {row.code: _is_active(turn, row, standing.get(row.code), turning) for row in ROWS}
    if _comes_anew(standing, active):
        standing = {code: replace(alarm, first=False) for code, alarm in standing.items()}
        turn.put(first_out=None)
    after = []
    for row in ROWS:
        alarm = _one(turn, row, standing.get(row.code), active[row.code])
        if alarm is not None:
            after.append(alarm)
    turn.put(turning_s=turning)
    if tuple(after) != turn.memory.alarms:
        _put(turn, tuple(after))


def _comes_anew(standing: dict[str, Alarm], active: dict[str, bool]) -> bool:
    """Whether the group comes while none of it stands: what nobody has seen yet was another one."""
    stood = any(a.active or a.latched for code, a in standing.items() if code in GROUP)
    return not stood and any(stands for code, stands in active.items() if code in GROUP)


def _is_active(turn: Turn, row: AlarmRow, alarm: Alarm | None, turning: dict[str, float]) -> bool:
    """Whether it stands now, with its delays; ``turning`` is told since when that is in doubt."""
    was = alarm is not None and alarm.active
    stands = row.exists(turn) and row.stands_now(turn)
    if was and not stands and row.keeps is not None:
        stands = row.keeps(turn)
    if stands == was:
        return was
    since_s = turn.memory.turning_s.get(row.code, turn.now_s)
    if reached(turn.now_s - since_s, row.on_s if stands else row.off_s):
        return stands
    turning[row.code] = since_s
    return was


def _put(turn: Turn, alarms: tuple[Alarm, ...]) -> None:
    """The list without what is over; the first stays with its group, and goes with it.

    One that is gone on the shelf is no group: it would hide which of the next group came first.
    """
    if any(alarm.code in GROUP and alarm.stands for alarm in alarms):
        turn.put(alarms=tuple(a for a in alarms if a.first or not a.is_over))
        return
    kept = tuple(replace(alarm, first=False) for alarm in alarms if not alarm.is_over)
    turn.put(alarms=kept, first_out=None)


def _one(turn: Turn, row: AlarmRow, alarm: Alarm | None, active: bool) -> Alarm | None:
    if alarm is None:
        return _raised(turn, row) if active else None
    if active and _turned(turn, row, alarm):
        return _raised(turn, row, again=_back(turn, alarm))  # it was put away for the other one
    if active and not alarm.active:
        return _raised(turn, row, again=alarm)
    if alarm.active and not active:
        cut_over = row.ends_with_the_cut and not turn.cutting
        alarm = replace(alarm, active=False, cut_over=cut_over)
        note(turn, alarm, "cleared")
    lapsed = not alarm.active and row.lapses is not None and row.lapses(turn)
    return None if lapsed else alarm


def _turned(turn: Turn, row: AlarmRow, alarm: Alarm) -> bool:
    """Whether it is about something else by now, which nobody has seen."""
    about = row.about(turn)
    return about is not None and about != alarm.about


def _raised(turn: Turn, row: AlarmRow, again: Alarm | None = None) -> Alarm:
    first_again = again is not None and again.first
    came_s, utc = turn.now_s, turn.utc
    if again is not None and again.first:
        came_s, utc = again.since_s, again.utc
    value, limit, unit = row.measured(turn)
    alarm = Alarm(
        code=row.code,
        priority=row.priority,
        active=True,
        acknowledged=again is not None and again.shelved,
        latched=row.latches and not turn.site.advice_only,
        first=first_again or _is_first(turn, row),
        since_s=came_s,
        utc=utc,
        value=value,
        limit=limit,
        unit=unit,
        shelved_until_s=None if again is None else again.shelved_until_s,
        shelved_why="" if again is None else again.shelved_why,
        about=row.about(turn),
        raised_utc=turn.utc,
    )
    note(turn, alarm, "raised")
    return alarm


def _is_first(turn: Turn, row: AlarmRow) -> bool:
    if not row.in_group or turn.memory.first_out is not None:
        return False
    turn.put(first_out=row.code)
    return True


def note(turn: Turn, alarm: Alarm, change: str, comment: str | None = None) -> None:
    """One row for the log; the open cycle remembers that it had this alarm."""
    cycle, plan, people = turn.memory.cycle, turn.memory.plan, turn.facts.people
    if cycle is not None and change == "raised" and alarm.code not in cycle.alarms:
        turn.put(cycle=replace(cycle, alarms=(*cycle.alarms, alarm.code)))
    until_s = alarm.shelved_until_s
    about = {} if alarm.about is None else {"about": alarm.about}
    turn.note(
        "alarm", code=alarm.code, change=change, state=life(alarm), priority=alarm.priority,
        value=alarm.value, limit=alarm.limit, unit=alarm.unit, first=alarm.first,
        quality=health.worst(turn), cutting=turn.cutting, job_id=None if plan is None else
        plan.job_id, user=people.name, station=turn.site.name, config=turn.site.digest,
        comment=comment, cut_over=alarm.cut_over, shelf_reason=alarm.shelved_why or None,
        shelf_s=None if until_s is None else round(until_s - turn.now_s, 3),
        **about,
    )  # fmt: skip


# -- what a person does ------------------------------------------------------------------------


def acknowledge(
    turn: Turn, shown: Sequence[tuple[object, object]], comment: str | None = None
) -> bool:
    """Mark as seen those that a person was shown.  False when there was nothing to mark.

    shown  code, and the UTC at which it last came as it was drawn, or None where that was not told

    One that came since they were drawn, or came anew, is not among them and stays to be seen.
    """

    def is_shown(alarm: Alarm) -> bool:
        return any(code == alarm.code and came in (None, alarm.raised_utc) for code, came in shown)

    chosen = [a for a in turn.memory.alarms if not a.acknowledged and is_shown(a)]
    seen = {alarm.code: replace(alarm, acknowledged=True) for alarm in chosen}
    for alarm in seen.values():
        note(turn, alarm, "acknowledged", comment)
    after = [seen.get(alarm.code, alarm) for alarm in turn.memory.alarms]
    _put(turn, tuple(after))
    return bool(seen)


def reset(turn: Turn) -> None:
    """Let go every latch whose condition is gone; the person who resets has seen it."""
    after: list[Alarm] = []
    for alarm in turn.memory.alarms:
        if alarm.latched and not BY_CODE[alarm.code].stands_now(turn):
            over = replace(alarm, active=False, latched=False, acknowledged=True)
            note(turn, over, "reset")
        else:
            after.append(alarm)
    _put(turn, tuple(after))


def shelve(turn: Turn, alarm: Alarm, reason: str, seconds: float) -> None:
    """Take an alarm off the list for a time; its life goes on unseen."""
    until_s = turn.now_s + seconds
    shelved = replace(alarm, acknowledged=True, shelved_until_s=until_s, shelved_why=reason)
    note(turn, shelved, "shelved")
    _put(turn, tuple(shelved if a is alarm else a for a in turn.memory.alarms))


def unshelve(turn: Turn, codes: frozenset[str]) -> None:
    """Put alarms back on the list, to be seen again where they still stand."""
    _put(turn, tuple(_back(turn, a) if a.code in codes else a for a in turn.memory.alarms))


def _off_the_shelf(turn: Turn, alarm: Alarm) -> Alarm:
    until_s = alarm.shelved_until_s
    return _back(turn, alarm) if until_s is not None and turn.now_s >= until_s - TINY_S else alarm


def _back(turn: Turn, alarm: Alarm) -> Alarm:
    if not alarm.shelved:
        return alarm
    back = replace(alarm, acknowledged=not alarm.active, shelved_until_s=None, shelved_why="")
    note(turn, back, "unshelved")
    return back
