"""What stands against a command, whatever its arguments: the first code of why not, or None.

The snapshot tells the same codes, so that a person reads the reason before asking.
"""

from __future__ import annotations

from kiosk.interlock import permissives
from kiosk.interlock.measure import minimum_of
from kiosk.interlock.states import STOPPED_BY, State
from kiosk.interlock.turn import Turn


def motion(turn: Turn) -> tuple[str, ...]:
    """What speaks against the cycle being stopped.  Lost signals count as running."""
    if not turn.lines.known:
        return ("inputs_lost",)
    return ("cycle_running",) if turn.cycle_running is True else ()


def of_reset(turn: Turn) -> tuple[str, ...]:
    """Codes of what forbids a reset now; the cause comes with the command."""
    if turn.state not in STOPPED_BY and not _latched(turn):
        return ()
    codes, people = motion(turn), turn.facts.people
    if people.set_up and people.role is None:
        codes = (*codes, "not_signed_on")
    if turn.standstill is True or turn.site.advice_only:
        return codes
    if "standstill" in turn.site.inputs:
        return (*codes, "standstill_unknown")
    return codes if people.role == "supervisor" else (*codes, "needs_supervisor")


def of_release(turn: Turn) -> tuple[str, ...]:
    """Codes of what forbids letting the part go at the machine."""
    codes = motion(turn)
    if turn.standstill is not True:
        codes = (*codes, "standstill_unknown")
    return codes if turn.held is not None else (*codes, "vacuum_unknown")


def release_of(turn: Turn) -> str | None:
    """Where the release stands: not_yet, may_release or vented; None in other states.

    Without a standstill input the gauge alone can show that the part is free.
    """
    if turn.state not in (State.RELEASE, State.PART_HELD):
        return None
    if not of_release(turn):
        return "vented" if turn.hold.vented else "may_release"
    unwired = "standstill" not in turn.site.inputs
    free = unwired and turn.hold.vented and not motion(turn)
    return "vented" if free else "not_yet"


def _latched(turn: Turn) -> bool:
    return any(alarm.latched for alarm in turn.memory.alarms)


def _first(codes: tuple[str, ...]) -> str | None:
    return codes[0] if codes else None


def never(_: Turn) -> str | None:
    return None


def no_motion(turn: Turn) -> str | None:
    return _first(motion(turn))


def select(turn: Turn) -> str | None:
    """Dropping a plan needs a stopped cycle; choosing the first one drops nothing."""
    return None if turn.state is State.SELECT_JOB else no_motion(turn)


def some_zone(turn: Turn) -> str | None:
    return None if turn.memory.zones else "not_now"


def part(turn: Turn) -> str | None:
    ready = turn.seats_confirmed and not turn.memory.part_confirmed
    return None if ready else "not_now"


def whole_map(turn: Turn) -> str | None:
    return None if turn.memory.kept_zones else "not_now"


def retake(turn: Turn) -> str | None:
    kept = turn.memory.kept
    if kept is None or minimum_of(kept.plan, turn.site) is None:
        return "not_now"
    return None if kept.plan.refused is None else "not_now"


def request(turn: Turn) -> str | None:
    if turn.site.advice_only:
        return "advice_only"
    return "hold_not_proved" if permissives.unmet(turn) else None


def vented(turn: Turn) -> str | None:
    """The next part needs the last one free, by gauge and by everything wired."""
    if release_of(turn) == "vented":
        return None
    wired = "standstill" in turn.site.inputs or turn.site.advice_only
    codes = of_release(turn) if wired else motion(turn)
    return _first(codes) or "not_vented"


def next_part(turn: Turn) -> str | None:
    return "not_now" if turn.memory.plan is None else vented(turn)


def some_alarm(turn: Turn) -> str | None:
    unseen = any(not alarm.acknowledged for alarm in turn.memory.alarms)
    return None if unseen else "nothing_to_acknowledge"


def reset(turn: Turn) -> str | None:
    if turn.state not in STOPPED_BY and not _latched(turn):
        return "not_now"
    return _first(of_reset(turn))


def no_people(turn: Turn) -> str | None:
    return None if turn.facts.people.set_up else "no_people"


def sign_off(turn: Turn) -> str | None:
    people = turn.facts.people
    return "not_signed_on" if people.set_up and people.role is None else no_people(turn)


def unlock_person(turn: Turn) -> str | None:
    people = turn.facts.people
    wrong = people.set_up and people.role != "supervisor"
    return "needs_supervisor" if wrong else no_people(turn)
