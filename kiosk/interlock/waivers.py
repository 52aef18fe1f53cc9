"""What a person may set aside for a while: a check for one job, an alarm from the list, the machine
for service.  Each is said on the screen and logged, and none touches what decides about the hold.
"""

from __future__ import annotations

from collections.abc import Callable

from kiosk.interlock import alarms, cautions
from kiosk.interlock.alarms import Alarm
from kiosk.interlock.commands import BYPASS_REASONS, SHELVE_REASONS, Command
from kiosk.interlock.memory import Bypass
from kiosk.interlock.permissives import CODES, ROWS, exists
from kiosk.interlock.turn import Turn

SHELF_S = {2: 30 * 60.0, 3: 60 * 60.0}  # by priority; one that is not here is never shelved
ENDS_SERVICE = ("maintenance", "supervisor")


# -- a check, for one job ----------------------------------------------------------------------


def _can_be_bypassed(turn: Turn) -> frozenset[str]:
    codes = {row.code for row in ROWS if row.bypassable and exists(row, turn)}
    return frozenset(codes) - {bypass.check for bypass in turn.memory.bypasses}


def forbids_bypass(turn: Turn) -> str | None:
    """Only a supervisor, only for a job that is chosen."""
    if not turn.facts.people.set_up:
        return "no_people"
    if turn.facts.people.role != "supervisor":
        return "needs_supervisor"
    return None if turn.memory.plan is not None and _can_be_bypassed(turn) else "not_now"


def bypass(turn: Turn, command: Command) -> str | None:
    """Set a check aside until the job is left."""
    check, reason = command.arguments.get("check"), command.arguments.get("reason")
    if not isinstance(check, str) or check not in CODES:
        return "bad_arguments"
    if check not in _can_be_bypassed(turn):
        return "never_bypassed"
    if reason not in BYPASS_REASONS:
        return "reason_missing"
    made = Bypass(check, str(reason), turn.facts.people.name, turn.now_s)
    turn.put(bypasses=(*turn.memory.bypasses, made))
    _note_bypass(turn, made, "begun")
    return None


def forbids_end_bypass(turn: Turn) -> str | None:
    """Taking a bypass back only withholds: anyone may."""
    return None if turn.memory.bypasses else "not_now"


def end_bypass(turn: Turn, command: Command) -> str | None:
    """Judge a check again."""
    check = command.arguments.get("check")
    if check not in [bypass.check for bypass in turn.memory.bypasses]:
        return "bad_arguments"
    end_bypasses(turn, lambda bypass: bypass.check == check)
    return None


def end_bypasses(turn: Turn, chosen: Callable[[Bypass], bool]) -> None:
    """End those that are chosen."""
    ended = [made for made in turn.memory.bypasses if chosen(made)]
    for made in ended:
        _note_bypass(turn, made, "ended")
    turn.put(bypasses=tuple(b for b in turn.memory.bypasses if b not in ended))
    if any(made.check == "signed_on" for made in ended):
        cautions.forget_nobody(turn)


def _note_bypass(turn: Turn, made: Bypass, change: str) -> None:
    """``user`` is who is signed on as it begins or ends, ``by`` who began it."""
    turn.note(
        "bypass", check=made.check, change=change, reason=made.reason,
        user=turn.facts.people.name, by=made.by,
    )  # fmt: skip


# -- an alarm, for a time ----------------------------------------------------------------------


def _forbids_shelf(turn: Turn, alarm: Alarm) -> str | None:
    people = turn.facts.people
    if alarm.priority not in SHELF_S:
        return "never_shelved"
    if alarm.priority == 2 and people.role != "supervisor":
        return "needs_supervisor"
    return "not_signed_on" if people.set_up and people.role is None else None


def forbids_shelve(turn: Turn) -> str | None:
    """Why no alarm can be shelved now; of several reasons the nearest to being none."""
    on_list = [alarm for alarm in turn.memory.alarms if not alarm.shelved]
    codes = [_forbids_shelf(turn, alarm) for alarm in on_list]
    if not codes:
        return "not_now"
    order = (None, "not_signed_on", "needs_supervisor", "never_shelved")
    return min(codes, key=order.index)


def shelve(turn: Turn, command: Command) -> str | None:
    """Take one alarm off the list, at most until the job is left."""
    code, reason = command.arguments.get("alarm"), command.arguments.get("reason")
    alarm = next((a for a in turn.memory.alarms if a.code == code and not a.shelved), None)
    if alarm is None:
        return "bad_arguments"
    refused = _forbids_shelf(turn, alarm)
    if refused is None and reason not in SHELVE_REASONS:
        refused = "reason_missing"
    if refused is None:
        alarms.shelve(turn, alarm, str(reason), SHELF_S[alarm.priority])
    return refused


def forbids_unshelve(turn: Turn) -> str | None:
    """Anyone may look at an alarm again."""
    return None if any(alarm.shelved for alarm in turn.memory.alarms) else "not_now"


def unshelve(turn: Turn, command: Command) -> str | None:
    """Put one alarm back on the list."""
    code = command.arguments.get("alarm")
    if not any(alarm.shelved and alarm.code == code for alarm in turn.memory.alarms):
        return "bad_arguments"
    alarms.unshelve(turn, frozenset({str(code)}))
    return None


# -- the machine, for service ------------------------------------------------------------------


def forbids_begin_service(turn: Turn) -> str | None:
    """Beginning only withholds: anyone may."""
    return "not_now" if turn.memory.service else None


def forbids_end_service(turn: Turn) -> str | None:
    """Where people are set up, who works on the machine ends it, or a supervisor."""
    if not turn.memory.service:
        return "not_now"
    people = turn.facts.people
    return "needs_maintenance" if people.set_up and people.role not in ENDS_SERVICE else None


def set_service(on: bool) -> Callable[[Turn, Command], str | None]:
    """Begin or end service."""

    def act(turn: Turn, _: Command) -> str | None:
        turn.put(service=on)
        turn.note("service", on=on, user=turn.facts.people.name)
        return None

    return act


def leave_job(turn: Turn) -> None:
    """What was set aside for one job ends with it."""
    end_bypasses(turn, lambda _: True)
    alarms.unshelve(turn, frozenset(alarm.code for alarm in turn.memory.alarms))
