"""The permissives: one row each, all judged every step; only True holds.

A row can only object.  ``own`` names the event that speaks for a row by itself; all other rows
speak through ``unproved``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from kiosk.interlock import cautions, delays
from kiosk.interlock.alarm_rows import calibration_left_d
from kiosk.interlock.days import days_until
from kiosk.interlock.events import Event
from kiosk.interlock.snapshot import PermissiveShown
from kiosk.interlock.states import State
from kiosk.interlock.timer import reached
from kiosk.interlock.turn import HELD_AFTER_PROOF, IN_CUT, Turn
from kiosk.limits import (
    CONTACT_WRONG_S,
    FREE_DISK_SHARE,
    GAUGES_APART_KPA,
    LAST_COMMIT_S,
    SCREEN_SILENT_S,
)

Measured = tuple[float | None, float | None, str]

_NOTHING: Measured = (None, None, "")


def _nothing(_: Turn) -> Measured:
    return _NOTHING


def _always(_: Turn) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Permissive:
    """One condition for the permit, and the number it was judged by."""

    code: str
    holds: Callable[[Turn], bool | None]
    measured: Callable[[Turn], Measured] = _nothing
    own: Event | None = None
    in_pause: bool = True  # also a condition for keeping the permit through a pause
    there: Callable[[Turn], bool] = _always  # whether this machine has what it is judged by
    bypassable: bool = False  # a supervisor may set it aside for one job
    before_s: float = 0.0  # before the hold is proved: how long it must have held without a break


def _self_test(turn: Turn) -> bool:
    return turn.facts.self_test is True and turn.facts.loop_late_s < delays.LOOP_LATE_S


def _log_has_room(turn: Turn) -> bool:
    log = turn.facts.log
    return log.writable is True and log.free_share is not None and log.free_share >= FREE_DISK_SHARE


def _commit_age_s(turn: Turn) -> float | None:
    last_s = turn.facts.log.last_commit_s
    return None if last_s is None else turn.now_s - last_s


def _log_committing(turn: Turn) -> bool:
    age_s = _commit_age_s(turn)
    return age_s is not None and -delays.FUTURE_S <= age_s <= LAST_COMMIT_S + delays.TINY_S


def _contacts(turn: Turn) -> bool:
    return turn.lines.known and not turn.contact_wrong


def _oldest_s(turn: Turn) -> float | None:
    ages = [gauge.age_s for gauge in turn.seen.gauges]
    known = [age_s for age_s in ages if age_s is not None]
    return max(known) if known and len(known) == len(ages) else None


def _is_good(turn: Turn) -> bool:
    return turn.seen.good and not any(doubt.drifted for doubt in turn.memory.doubts.values())


def _is_plausible(turn: Turn) -> bool:
    doubted = any(doubt.implausible for doubt in turn.memory.doubts.values())
    return turn.seen.plausible and not doubted


def _has_due_date(turn: Turn) -> bool:
    return any(gauge.calibration_due is not None for gauge in turn.site.gauges)


def _in_date(turn: Turn) -> bool:
    """Whether every gauge that has a date is known to be within it and what is allowed after."""
    left = [days_until(g.calibration_due, turn.utc) for g in turn.site.gauges if g.calibration_due]
    return all(days is not None and days >= -delays.CALIBRATION_OVER_D for days in left)


def _over_d(turn: Turn) -> Measured:
    left = calibration_left_d(turn)
    return None if left is None else float(max(0, -left)), float(delays.CALIBRATION_OVER_D), "d"


def _alarms_clear(turn: Turn) -> bool:
    alarms = turn.memory.alarms
    return not any(a.latched or (a.priority == 1 and a.active) for a in alarms)


def _hold_enough(turn: Turn) -> bool:
    """At the start level for its time; once proved, above the lower level."""
    seen = turn.seen
    if turn.state not in HELD_AFTER_PROOF:
        return turn.hold.start_held
    return seen.fresh and seen.ratio is not None and seen.ratio >= turn.limits.unproved_ratio


def _enough(turn: Turn) -> Measured:
    limits = turn.limits
    proved = turn.state in HELD_AFTER_PROOF
    return turn.seen.ratio, limits.unproved_ratio if proved else limits.start_ratio, "ratio"


def _settled(turn: Turn) -> Measured:
    return turn.seen.settling_kpa_per_s, turn.limits.settle_kpa_per_s, "kPa/s"


def _asked(turn: Turn) -> bool:
    return turn.state in IN_CUT or turn.state in (State.PERMIT, State.PAUSED)


ROWS = (
    Permissive("self_test", _self_test),
    Permissive("log_has_room", _log_has_room, lambda t: (
        t.facts.log.free_share, FREE_DISK_SHARE, "share")),
    Permissive("log_committing", _log_committing, lambda t: (
        _commit_age_s(t), LAST_COMMIT_S, "s")),
    Permissive("screen_there", lambda t: t.screen_there, lambda t: (
        t.screen_age_s, SCREEN_SILENT_S, "s"), own=Event.SCREEN_LOST),
    Permissive("inputs_known", lambda t: t.lines.known, own=Event.IO_LOST),
    Permissive("key_off", lambda t: t.key_on is False, own=Event.KEY_ON),
    Permissive("stop_chain_closed", lambda t: t.lines.said("stop_healthy") is True,
               there=lambda t: "stop_healthy" in t.site.inputs),
    Permissive("contacts_as_written", _contacts, lambda t: (
        t.wrong_for_s, CONTACT_WRONG_S, "s"), own=Event.CONTACT_WRONG),
    Permissive("gauge_fresh", lambda t: t.seen.fresh, lambda t: (
        _oldest_s(t), t.limits.stale_s, "s")),
    Permissive("gauge_good", _is_good, before_s=delays.SOUND_S),
    Permissive("gauge_plausible", _is_plausible, lambda t: (
        t.seen.vacuum_kpa, t.site.air_kpa, "kPa"), before_s=delays.SOUND_S),
    Permissive("gauges_agree", lambda t: t.hold.agree, lambda t: (
        t.seen.apart_kpa, GAUGES_APART_KPA, "kPa"), before_s=delays.SOUND_S),
    Permissive("gauge_in_date", _in_date, _over_d, in_pause=False, there=_has_due_date,
               bypassable=True),
    Permissive("minimum_known", lambda t: t.seen.minimum_kpa is not None, lambda t: (
        t.seen.minimum_kpa, None, "kPa")),
    Permissive("seats_confirmed", lambda t: t.seats_confirmed, own=Event.SETUP_CHANGED),
    Permissive("part_confirmed", lambda t: t.memory.part_confirmed, own=Event.SETUP_CHANGED),
    Permissive("alarms_clear", _alarms_clear),
    Permissive("no_service", lambda t: not t.memory.service),
    Permissive("signed_on", lambda t: t.facts.people.role is not None, in_pause=False,
               there=lambda t: t.facts.people.set_up, bypassable=True),
    Permissive("cautions_read", cautions.are_read, in_pause=False,
               there=lambda t: t.facts.people.set_up),
    Permissive("hold_enough", _hold_enough, _enough),
    Permissive("hold_settled", lambda t: t.seen.settled, _settled, in_pause=False),
    Permissive("asked", _asked, in_pause=False),
)  # fmt: skip

CODES = tuple(row.code for row in ROWS)


def exists(row: Permissive, turn: Turn) -> bool:
    """Whether a row is a condition at this machine."""
    return row.there(turn)


def is_bypassed(row: Permissive, turn: Turn) -> bool:
    """Whether a supervisor has set it aside for this job."""
    return row.bypassable and any(bypass.check == row.code for bypass in turn.memory.bypasses)


def _holds(row: Permissive, turn: Turn) -> bool:
    return (row.holds(turn) is True and _has_held(row, turn)) or is_bypassed(row, turn)


def _has_held(row: Permissive, turn: Turn) -> bool:
    """Whether it has held for its time; once the hold is proved none is asked."""
    since_s = turn.memory.sound_s.get(row.code, turn.now_s)
    return turn.state in HELD_AFTER_PROOF or reached(turn.now_s - since_s, row.before_s)


def sound_since_s(turn: Turn) -> dict[str, float]:
    """Since when each row that must have held for a time has held."""
    before = turn.memory.sound_s
    held = (row.code for row in ROWS if row.before_s and row.holds(turn) is True)
    return {code: before.get(code, turn.now_s) for code in held}


def unmet(turn: Turn) -> frozenset[str]:
    """Codes of the permissives that are not known to be true, the person's request aside."""
    rows = (row for row in ROWS if exists(row, turn) and row.code != "asked")
    return frozenset(row.code for row in rows if not _holds(row, turn))


def unproved_by(turn: Turn) -> tuple[str, ...]:
    """Codes of the rows without an event of their own that fail in a state that rests on them."""
    paused = turn.state is State.PAUSED
    missing = unmet(turn)
    rows = (row for row in ROWS if row.own is None and (row.in_pause or not paused))
    return tuple(row.code for row in rows if row.code in missing)


def is_unproved(turn: Turn) -> bool:
    """Whether such a row fails."""
    return bool(unproved_by(turn))


def pause_lacks(turn: Turn) -> tuple[str, ...]:
    """Codes of the rows that fail of those that a pause rests on."""
    missing = unmet(turn)
    return tuple(row.code for row in ROWS if row.in_pause and row.code in missing)


def may_pause(turn: Turn) -> bool:
    """Whether the permit may stay while the cycle stands with the part held."""
    return not pause_lacks(turn) and not turn.hold.warns


def shown(turn: Turn) -> tuple[PermissiveShown, ...]:
    """Every row with its number, in the order of judging."""
    return tuple(
        PermissiveShown(
            row.code,
            _holds(row, turn),
            *row.measured(turn),
            bypassed=is_bypassed(row, turn),
            bypassable=row.bypassable,
        )
        for row in ROWS
        if exists(row, turn)
    )
