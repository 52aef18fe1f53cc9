"""Cut watch: one word, R and one column, readable at three metres."""

from __future__ import annotations

from kiosk.interlock.snapshot import AlarmShown, Snapshot
from kiosk.limits import LOWEST_RATE_HZ
from kiosk.screen.show import frame, numbers
from kiosk.screen.show.scale import hold_scale
from kiosk.screen.show.shown import Desk, Note, WatchShown
from kiosk.words import Words

STEADY_KPA_PER_S = 0.05  # below what the digits can show
NEAR_S = 60.0  # under it the time left stands out, whether or not an alarm stands; our own choice


def body(words: Words, snapshot: Snapshot, desk: Desk) -> WatchShown:
    """Everything the Cut watch shows."""
    hold = snapshot.hold
    return WatchShown(
        percent=numbers.percent(words, hold.ratio),
        percent_sign=words.say("number.percent_sign"),
        now=numbers.measured(words, hold.vacuum_kpa),
        slope=slope(words, hold.slope_kpa_per_s),
        left=_left(words, hold.time_left_s),
        near=hold.time_left_s is not None and hold.time_left_s < NEAR_S,
        extra=_extra(words, snapshot, desk),
        tone="low" if snapshot.state == "LOW HOLD" else "plain",
        scale=hold_scale(words, snapshot, desk),
    )


def slope(words: Words, kpa_per_s: float | None) -> str:
    """Steady, falling or rising, with the rate."""
    if kpa_per_s is None:
        return words.say("watch.no_value")
    if abs(kpa_per_s) < STEADY_KPA_PER_S:
        return words.say("watch.steady")
    name = "watch.falling" if kpa_per_s < 0.0 else "watch.rising"
    return words.say(name, slope=numbers.tied(f"{abs(kpa_per_s):.1f}"))


def _left(words: Words, time_left_s: float | None) -> str:
    if time_left_s is None or time_left_s > 3600.0:
        return ""
    return words.say("watch.left", left=numbers.duration(words, time_left_s))


def _extra(words: Words, snapshot: Snapshot, desk: Desk) -> str:
    """What was just said; else that warnings come late; else that another screen commands."""
    rates = [g.rate_hz for g in snapshot.gauges if g.rate_hz is not None]
    if rates and min(rates) < LOWEST_RATE_HZ and not desk.notice:
        return words.say("watch.late")
    return frame.notice(words, desk)


def first_alarm(alarms: tuple[AlarmShown, ...]) -> AlarmShown | None:
    """The alarm to act on: highest priority, first-out before followers, then the newest."""
    return min(alarms, key=lambda a: (a.priority, not a.first, a.since_s), default=None)


def note(words: Words, snapshot: Snapshot) -> Note:
    """What to do now: the alarm that stands, not one that is only unseen."""
    standing = tuple(alarm for alarm in snapshot.alarms if alarm.active or alarm.latched)
    alarm = first_alarm(standing)
    if alarm is None:
        return Note(words.say("watch.normal"), words.say("watch.normal_do"))
    return Note(
        words.say(f"alarm.{alarm.code}.title"),
        words.say(f"alarm.{alarm.code}.do"),
        alarm.priority,
    )
