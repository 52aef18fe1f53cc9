"""Stop card: what was asked, what to do in order, the live value, what forbids the reset."""

from __future__ import annotations

from datetime import datetime, timedelta

from kiosk.interlock.commands import RESET_CAUSES
from kiosk.interlock.snapshot import AlarmShown, Snapshot
from kiosk.screen.show import frame, numbers, people, picks
from kiosk.screen.show.frame import HOLD_S, command, elsewhere
from kiosk.screen.show.scale import hold_scale
from kiosk.screen.show.shown import Button, Desk, Overlay, Row, StopShown
from kiosk.words import Words

STEPS = 4
LOOK = 3  # the step that comes next once the machine stands still
PERSON_MISSING = ({"not_signed_on"}, {"needs_supervisor"}, {"not_signed_on", "needs_supervisor"})


def line(words: Words, snapshot: Snapshot) -> str:
    """The second line of the strip: what was asked of the machine."""
    if snapshot.state == "NO PERMIT":
        return words.say("stop.started")
    if "ADVICE ONLY" in snapshot.flags:
        return words.say("stop.asked_advice")
    return words.say("stop.asked")


def body(words: Words, snapshot: Snapshot, desk: Desk) -> StopShown:
    """Everything the Stop card shows."""
    kind = "start" if snapshot.state == "NO PERMIT" else "lost"
    said = [f"stop.step_{kind}_{n}" for n in range(1, STEPS + 1)]
    if any(alarm.code == "A26" and alarm.active for alarm in snapshot.alarms):
        said[0] = "stop.step_lost_1"  # feed hold is not answered: pressing it will not do
    present = LOOK if _stands_still(snapshot) else 1
    steps = [Row(words.say(key), str(n), present=n == present) for n, key in enumerate(said, 1)]
    hold = snapshot.hold
    return StopShown(
        first=desk.notice or _first(words, snapshot, desk),
        percent=numbers.percent(words, hold.ratio),
        percent_sign=words.say("number.percent_sign"),
        now=words.say("hold.now", kpa=numbers.measured(words, hold.vacuum_kpa)),
        steps=tuple(steps),
        scale=hold_scale(words, snapshot, desk, narrow=True),
    )


def _stands_still(snapshot: Snapshot) -> bool:
    """Whether the machine says that no program runs and the spindle stands."""
    said = snapshot.inputs
    return said.get("cycle_running") is False and said.get("standstill") is True


def first_out(alarms: tuple[AlarmShown, ...]) -> AlarmShown | None:
    """The alarm that came first in its group, else the oldest of the highest priority."""
    return min(alarms, key=lambda a: (not a.first, a.priority, -a.since_s), default=None)


def _first(words: Words, snapshot: Snapshot, desk: Desk) -> str:
    """What was first, and on a screen that may only read that another one commands."""
    lines = (_first_out(words, first_out(snapshot.alarms), desk), frame.notice(words, desk))
    return "\n".join(line for line in lines if line)


def _first_out(words: Words, alarm: AlarmShown | None, desk: Desk) -> str:
    if alarm is None:
        return words.say("stop.first_none")
    return words.say(
        "stop.first",
        time=local_time(alarm.utc, desk.utc_offset_s),
        title=words.say(f"alarm.{alarm.code}.title"),
    )


def local_time(utc: str, offset_s: int, style: str = "%H:%M:%S") -> str:
    """An RFC 3339 time as it is here; as it stands when it is not one."""
    try:
        moment = datetime.fromisoformat(utc.replace("Z", "+00:00"))
    except ValueError:
        return utc
    return (moment + timedelta(seconds=offset_s)).strftime(style)


def buttons(words: Words, snapshot: Snapshot) -> tuple[Button, ...]:
    """Seen (acknowledge) and Reset, which names what still forbids it."""
    seen = see_all(words, snapshot, "stop.seen")
    if not unseen(snapshot):
        seen = Button(words.say("stop.seen_done"), enabled=False)
    return seen, _reset(words, snapshot)


def unseen(snapshot: Snapshot) -> list[AlarmShown]:
    """The alarms that nobody has acknowledged."""
    return [alarm for alarm in snapshot.alarms if not alarm.acknowledged]


def see_all(words: Words, snapshot: Snapshot, said: str) -> Button:
    """Acknowledge what this screen shows as unseen, and nothing that comes during the press."""
    return seen_button(
        words, snapshot, unseen(snapshot), said, elsewhere(words, snapshot), hold=True
    )


def seen_button(
    words: Words,
    snapshot: Snapshot,
    alarms: list[AlarmShown],
    said: str,
    why: str = "",
    *,
    hold: bool,
) -> Button:
    """Acknowledge these as they are drawn: one that comes anew meanwhile is another one."""
    shown = sorted(alarms, key=lambda alarm: alarm.code)
    return command(
        words, snapshot, "acknowledge", words.say(said), why, hold=hold,
        alarm=tuple(alarm.code for alarm in shown), came=tuple(alarm.raised_utc for alarm in shown),
    )  # fmt: skip


def forbidding(words: Words, snapshot: Snapshot) -> str:
    """What forbids the reset, in words; the missing cause is not counted, it is asked for next."""
    codes = [code for code in snapshot.forbids_reset if code != "cause_missing"]
    return ", ".join(words.say(f"forbids.{code}") for code in codes)


def _reset(words: Words, snapshot: Snapshot) -> Button:
    why = forbidding(words, snapshot)
    if people.set_up(snapshot) and set(snapshot.forbids_reset) in PERSON_MISSING:
        detail = words.say("stop.reset_blocked", why=why)
        return people.button(words, snapshot, detail, weight="main")
    detail = words.say("stop.reset_blocked", why=why) if why else words.say("stop.reset_ready")
    return Button(words.say("stop.reset"), detail, opens="causes", enabled=not why, weight="main")


def causes(words: Words, snapshot: Snapshot, desk: Desk) -> Overlay:
    """The list of causes, and the reset that names the picked one."""
    return Overlay(
        kind="causes",
        title=words.say("stop.cause_title"),
        rows=picks.rows(words, "reset_cause", RESET_CAUSES, desk.cause),
        buttons=(_confirm(words, snapshot, desk),),
    )


def _confirm(words: Words, snapshot: Snapshot, desk: Desk) -> Button:
    why = forbidding(words, snapshot)
    if not desk.cause:
        return Button(words.say("stop.cause_none"), enabled=False, weight="main", hold_s=HOLD_S)
    said = words.say("stop.cause_confirm", cause=words.say(f"reset_cause.{desk.cause}"))
    return Button(
        said,
        words.say("stop.reset_blocked", why=why) if why else "",
        command="reset",
        arguments=(("cause", desk.cause),),
        hold_s=HOLD_S,
        enabled=not why,
        weight="main",
    )
