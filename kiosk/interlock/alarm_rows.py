"""The alarms, one row each: what raises it, after what delay, and the number it was judged by.

A row that needs an input which a site may lack exists only where that is wired or written.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kiosk.interlock import delays
from kiosk.interlock.days import days_until
from kiosk.interlock.doubt import scatter
from kiosk.interlock.events import Event
from kiosk.interlock.states import STOPPED_BY, State
from kiosk.interlock.supply import is_slow
from kiosk.interlock.timer import reached
from kiosk.interlock.window import is_noisy
from kiosk.limits import (
    CONTACT_WRONG_S,
    DRAW_DOWN_S,
    GAUGES_APART_KPA,
    GAUGES_LOSS_KPA,
    IO_LOST_S,
)

if TYPE_CHECKING:
    from kiosk.interlock.doubt import Doubt
    from kiosk.interlock.turn import Turn

Measured = tuple[float | None, float | None, str]
Judged = Callable[["Turn"], bool]


def _no_number(_: Turn) -> Measured:
    return None, None, ""


def _no_one(_: Turn) -> str | None:
    return None


def _always(_: Turn) -> bool:
    return True


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One alarm.  ``stands`` for ``on_s`` raises it, gone for ``off_s`` clears it.

    in_cut  stands only while the machine may be cutting: suppressed by design while it is not
    keeps   holds it a while longer than ``stands``
    lapses  takes it off the list once it is gone, seen or not: it means nothing any more
    exists  whether this machine has what it is judged by
    about   which of several it is about; when that changes it is raised anew
    """

    code: str
    priority: int
    stands: Judged
    measured: Callable[[Turn], Measured] = _no_number
    on_s: float = 0.0
    off_s: float = 0.0
    latches: bool = False
    in_group: bool = False
    in_cut: bool = False
    keeps: Judged | None = None
    lapses: Judged | None = None
    exists: Judged = _always
    about: Callable[[Turn], str | None] = _no_one

    def stands_now(self, turn: Turn) -> bool:
        """Whether its condition is met."""
        return (turn.cutting or not self.in_cut) and self.stands(turn)

    @property
    def ends_with_the_cut(self) -> bool:
        """Whether it is cleared by the end of the cut, whatever became of the hold."""
        return self.in_cut and self.keeps is None


# -- what stands -------------------------------------------------------------------------------


def _moved_to(turn: Turn, state: State) -> bool:
    return any(move.after is state is not move.before for move in turn.moves)


def _into_loss_at_first(turn: Turn) -> bool:
    return any(
        move.event is Event.FIRST_ROUND and move.after is State.HOLD_LOST for move in turn.moves
    )


def _found(turn: Turn, latch: str) -> bool:
    """At the first round: whether the log held this latch."""
    return turn.facts.log.latch == latch and _into_loss_at_first(turn)


def _restarted_in_cut(turn: Turn) -> bool:
    log = turn.facts.log
    ran = turn.cycle_running is not False or turn.memory.ran_unseen
    runs = ran and not turn.site.advice_only
    return _into_loss_at_first(turn) and (runs or (log.exists and not log.readable))


def _draws_too_long(turn: Turn) -> bool:
    drawing_s = turn.drawing_for_s
    return (
        turn.state is State.CHECKING and drawing_s is not None and reached(drawing_s, DRAW_DOWN_S)
    )


def _runs_on(turn: Turn) -> bool:
    """The program is known to run although feed hold is asked for; not under the maker's key."""
    return turn.state in STOPPED_BY and turn.cycle_running is True and turn.key_on is not True


def _stopped_too_long(turn: Turn) -> bool:
    stopped_s = turn.stopped_for_s
    return stopped_s is not None and reached(stopped_s, turn.limits.pause_s)


def _apart(turn: Turn) -> bool:
    return turn.seen.apart_kpa is not None and not turn.hold.agree


def _plan_changed(turn: Turn) -> bool:
    """Seats or part were taken back while the permit was there."""
    return any(
        move.before is State.PERMIT and move.event in (Event.SETUP_CHANGED, Event.ZONE_UNDONE)
        for move in turn.moves
    )


def _storage_or_clock(turn: Turn) -> bool:
    share = turn.facts.log.free_share
    low = share is not None and share < delays.DISK_LOW_SHARE
    return low or reached(turn.unsynced_for_s, delays.UNSYNCED_S)


def _any(flag: Callable[[Doubt], bool]) -> Judged:
    return lambda turn: any(flag(doubt) for doubt in turn.memory.doubts.values())


def _wired(name: str) -> Judged:
    return lambda turn: name in turn.site.inputs


def _said(name: str) -> Judged:
    return lambda turn: turn.lines.said(name) is True


def _restless(turn: Turn) -> bool:
    """A gauge scatters or jumps as no vacuum can: a loss may be seen late."""
    jumps = any(is_noisy(gauge.window, turn.now_s) for gauge in turn.seen.gauges)
    return jumps or any(doubt.noisy for doubt in turn.memory.doubts.values())


def _unseen(turn: Turn) -> bool:
    return not turn.seen.valid


def _unknown(turn: Turn) -> bool:
    return not turn.lines.known


def calibration_left_d(turn: Turn) -> int | None:
    """Days to the earliest calibration date of a gauge; None when none is known."""
    left = [days_until(gauge.calibration_due, turn.utc) for gauge in turn.site.gauges]
    return min((days for days in left if days is not None), default=None)


def _calibration_soon(turn: Turn) -> bool:
    left = calibration_left_d(turn)
    return left is not None and left <= delays.CALIBRATION_SOON_D


def _inspected_ago_d(turn: Turn) -> int | None:
    days = days_until(turn.site.lockout_inspected, turn.utc)
    return None if days is None else -days


def _inspection_due(turn: Turn) -> bool:
    ago = _inspected_ago_d(turn)
    return ago is not None and ago >= delays.INSPECTION_D


def _leaks(turn: Turn) -> bool:
    ratio = turn.facts.leak_ratio
    return ratio is not None and ratio > delays.LEAK_RATIO


# -- by what number ----------------------------------------------------------------------------


def _ratio(limit: Callable[[Turn], float]) -> Callable[[Turn], Measured]:
    return lambda turn: (turn.seen.ratio, limit(turn), "ratio")


def _oldest(turn: Turn) -> Measured:
    ages = [gauge.age_s for gauge in turn.seen.gauges if gauge.vacuum_kpa is None]
    oldest_s = max((age_s for age_s in ages if age_s is not None), default=None)
    return oldest_s, turn.limits.invalid_s, "s"


def _same(turn: Turn) -> Measured:
    """How long the gauge that froze first has been still."""
    frozen = [
        (doubt.still_s, gauge.frozen_s)
        for gauge in turn.site.gauges
        if (doubt := turn.memory.doubts[gauge.name]).frozen
    ]
    still_s, limit_s = max(frozen, default=(None, None))
    return still_s, limit_s, "s"


def _ran_on(turn: Turn) -> Measured:
    """How long the program has been seen to run on."""
    since_s = turn.memory.turning_s.get("A26", turn.now_s)
    return turn.now_s - since_s, delays.HOLD_ANSWER_S, "s"


def _unrest(turn: Turn) -> Measured:
    """The largest scatter; jumps too few to scatter are counted."""
    windows = [gauge.window for gauge in turn.seen.gauges]
    scatters = [kpa for window in windows if (kpa := scatter(window.long)) is not None]
    large = [kpa for kpa in scatters if kpa > delays.NOISE_KPA]
    if large:
        return max(large), delays.NOISE_KPA, "kPa"
    return float(max(len(window.jumps_s) for window in windows)), float(delays.JUMPS), ""


def _zero(turn: Turn) -> Measured:
    """The reading of the gauge whose zero is off."""
    doubts = turn.memory.doubts
    read = [gauge.vacuum_kpa for gauge in turn.seen.gauges if doubts[gauge.setting.name].drifted]
    return next(iter(read), None), delays.ZERO_KPA, "kPa"


def _free_or_hours(turn: Turn) -> Measured:
    share = turn.facts.log.free_share
    if share is not None and share < delays.DISK_LOW_SHARE:
        return share, delays.DISK_LOW_SHARE, "share"
    return turn.unsynced_for_s / 3600.0, delays.UNSYNCED_S / 3600.0, "h"


ROWS = (
    AlarmRow("A01", 1, lambda t: t.hold.lost or _found(t, State.HOLD_LOST),
             _ratio(lambda t: t.limits.loss_ratio), latches=True, in_group=True, in_cut=True),
    AlarmRow("A02", 1, lambda t: t.hold.collapsed,
             _ratio(lambda t: t.limits.collapse_ratio), latches=True, in_group=True, in_cut=True),
    AlarmRow("A03", 1, _unseen, _oldest, off_s=2.0, latches=True, in_group=True, in_cut=True,
             keeps=_unseen),
    AlarmRow("A04", 1, lambda t: t.hold.far_apart,
             lambda t: (t.seen.apart_kpa, GAUGES_LOSS_KPA, "kPa"), off_s=5.0, latches=True,
             in_group=True, in_cut=True),
    AlarmRow("A05", 2, lambda t: t.hold.warns_low,
             _ratio(lambda t: t.limits.warn_ratio), in_cut=True),
    AlarmRow("A06", 2, lambda t: t.hold.warns_falling,
             lambda t: (t.seen.left.likely_s, t.limits.time_left_s, "s"), in_group=True,
             in_cut=True),
    AlarmRow("A07", 2, _draws_too_long, _ratio(lambda t: t.limits.start_ratio)),
    AlarmRow("A08", 2, _apart, lambda t: (t.seen.apart_kpa, GAUGES_APART_KPA, "kPa"), off_s=10.0,
             exists=lambda t: len(t.site.gauges) > 1),
    AlarmRow("A09", 2, _any(lambda doubt: doubt.frozen), _same, off_s=5.0,
             exists=_wired("pump_running")),
    AlarmRow("A10", 2, lambda t: t.link_lost, lambda t: (t.lost_for_s, IO_LOST_S, "s"),
             off_s=delays.LINK_BACK_S, in_group=True, keeps=_unknown),
    AlarmRow("A11", 2, _said("on_battery"), on_s=1.0, off_s=10.0, in_group=True, keeps=_unknown,
             exists=_wired("on_battery")),
    AlarmRow("A12", 1, lambda t: t.contact_wrong,
             lambda t: (t.wrong_for_s, CONTACT_WRONG_S, "s"), latches=True, in_cut=True),
    AlarmRow("A13", 2, _plan_changed, keeps=lambda t: t.state is State.SET_UP),
    AlarmRow("A14", 3, lambda t: bool(t.memory.bypasses)),
    AlarmRow("A15", 3, _leaks, lambda t: (t.facts.leak_ratio, delays.LEAK_RATIO, "ratio"),
             keeps=lambda t: t.facts.leak_ratio is None,
             exists=lambda t: t.facts.leak_ratio is not None,
             about=lambda t: t.facts.leak_zone),
    AlarmRow("A16", 3, lambda t: is_slow(t.memory.supply),
             lambda t: (float(sum(t.memory.supply.slow)), float(delays.SLOW_PULLS), ""),
             exists=lambda t: t.site.pull_down_s is not None),
    AlarmRow("A17", 3, _said("filter_loaded"), on_s=60.0, off_s=60.0, keeps=_unknown,
             exists=_wired("filter_loaded")),
    AlarmRow("A18", 3, _any(lambda doubt: doubt.drifted), _zero, exists=_wired("valve_open")),
    AlarmRow("A19", 3, _calibration_soon,
             lambda t: (calibration_left_d(t), delays.CALIBRATION_SOON_D, "d"),
             exists=lambda t: any(gauge.calibration_due for gauge in t.site.gauges)),
    AlarmRow("A20", 3, _inspection_due, lambda t: (_inspected_ago_d(t), delays.INSPECTION_D, "d"),
             exists=lambda t: t.site.lockout_inspected is not None),
    AlarmRow("A21", 3, _storage_or_clock, _free_or_hours, on_s=60.0, off_s=60.0),
    AlarmRow("A22", 1, lambda t: _moved_to(t, State.NO_PERMIT) or _found(t, State.NO_PERMIT),
             latches=True),
    AlarmRow("A23", 2, lambda t: t.memory.refusal is not None,
             lapses=lambda t: t.memory.plan is not None),
    AlarmRow("A24", 1, _restarted_in_cut, latches=True),
    AlarmRow("A25", 2, _stopped_too_long,
             lambda t: (t.stopped_for_s, t.limits.pause_s, "s")),
    AlarmRow("A26", 1, _runs_on, _ran_on, on_s=delays.HOLD_ANSWER_S, latches=True, keeps=_unknown,
             exists=lambda t: "hold_healthy" in t.site.outputs),
    AlarmRow("A27", 2, _restless, _unrest, off_s=5.0, in_cut=True),
)  # fmt: skip

BY_CODE = {row.code: row for row in ROWS}
CODES = tuple(row.code for row in ROWS)
GROUP = frozenset(row.code for row in ROWS if row.in_group)
