"""Hold check: is the hold enough, what is missing, and why this minimum."""

from __future__ import annotations

import math
from dataclasses import replace

from kiosk.interlock.snapshot import PermissiveShown, Snapshot
from kiosk.job.plan import Governed, Plan
from kiosk.limits import DRAW_DOWN_S
from kiosk.screen.show import cautions, numbers, people
from kiosk.screen.show.cupmap import cup_map
from kiosk.screen.show.frame import command, cut_begun, elsewhere
from kiosk.screen.show.scale import hold_scale, vented_kpa
from kiosk.screen.show.shown import Button, Desk, HoldShown, Row
from kiosk.words import Words

PROVED = ("READY", "PERMIT", "PAUSED")  # the start level has lasted: a lower one must be kept
HELD = {"hold_enough": "hold.held_leak", "asked": "hold.held_ask"}  # of a part that was cut into
TOLD = ("log_has_room", "gauges_agree", "minimum_known", "hold_enough", "hold_settled")


def body(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> HoldShown:
    """Everything the Hold check shows."""
    hold = snapshot.hold
    title, text, tone = _message(words, snapshot)
    return HoldShown(
        map=cup_map(words, plan, snapshot, push=True),
        why=why(words, plan),
        percent=numbers.percent(words, hold.ratio),
        percent_sign=words.say("number.percent_sign"),
        now=words.say("hold.now", kpa=numbers.measured(words, hold.vacuum_kpa)),
        should=_should(words, snapshot),
        title=title,
        text=text,
        tone=tone,
        scale=hold_scale(words, snapshot, desk, should=True),
    )


def missing(snapshot: Snapshot) -> list[PermissiveShown]:
    """Conditions that do not hold, in the order they are shown; the person's request last."""
    return [row for row in snapshot.permissives if not row.holds]


def _message(words: Words, snapshot: Snapshot) -> tuple[str, str, str]:
    """Title, text and tone of the one thing that matters now."""
    if snapshot.state == "PERMIT":
        left = numbers.duration(words, snapshot.permit_left_s or 0.0)
        start = "hold.go_on_machine" if cut_begun(snapshot) else "hold.start_machine"
        return words.say(start), words.say("hold.start_left", left=left), "go"
    if snapshot.state == "PAUSED":
        left = numbers.duration(words, snapshot.pause_left_s or 0.0)
        return words.say("hold.paused"), words.say("hold.paused_do", left=left), "go"
    if "ADVICE ONLY" in snapshot.flags and snapshot.state == "READY":
        return words.say("hold.advice"), words.say("hold.advice_do"), "plain"
    return _first_missing(words, snapshot)


def _first_missing(words: Words, snapshot: Snapshot) -> tuple[str, str, str]:
    rows = missing(snapshot)
    if not rows:
        return words.say("permissive.asked.no"), words.say("permissive.asked.do"), "plain"
    if _only_waits(rows[0]):
        return words.say("hold.stay"), words.say("hold.stay_do"), "wait"
    code = rows[0].code
    tone = "plain" if code == "asked" else "wait"
    do = _draw_words(words, snapshot) if code == "hold_enough" else ""
    if cut_begun(snapshot) and code in HELD:
        do = words.say(HELD[code])
    return words.say(f"permissive.{code}.no"), do or words.say(f"permissive.{code}.do"), tone


def _only_waits(row: PermissiveShown) -> bool:
    """The hold is there and has not stayed long enough."""
    reached = row.value is not None and row.limit is not None and row.value >= row.limit
    return row.code == "hold_enough" and not row.holds and reached


def _draw_words(words: Words, snapshot: Snapshot) -> str:
    """Before the draw-down has had its time, nothing is said of leaks."""
    vacuum, drawing_s = snapshot.hold.vacuum_kpa, snapshot.hold.drawing_down_s
    if vacuum is not None and vacuum < vented_kpa(snapshot):
        return words.say("hold.vacuum_on")
    if drawing_s is not None and drawing_s < DRAW_DOWN_S:
        return words.say("hold.drawing", seconds=numbers.duration(words, drawing_s))
    return ""


def _missing_count(words: Words, snapshot: Snapshot) -> str:
    """How many are missing beside the person's request, and how many are bypassed."""
    count = len([row for row in missing(snapshot) if row.code != "asked"])
    name = "hold.missing" if count else "hold.missing_none"
    said, bypassed = words.say(name, count=count), len(snapshot.bypasses)
    return words.say("waive.bypassed_count", missing=said, count=bypassed) if bypassed else said


def _should(words: Words, snapshot: Snapshot) -> str:
    """Only when there is no forecast; else the instrument has its mark."""
    return words.say("hold.should_none") if snapshot.hold.predicted_kpa is None else ""


def why(words: Words, plan: Plan | None, at_map: bool = True) -> str:
    """What sets the minimum; the map beside it shows where, elsewhere nothing is "here"."""
    governed = None if plan is None else plan.governed_by
    if governed is None:
        return ""
    if governed.mode == "floor":
        return words.say("hold.floor", kpa=numbers.level(words, governed.minimum_kpa))
    here, first = ("hold.slide", "hold.slide_first")
    if governed.mode == "lift":
        here, first = ("hold.lift", "hold.lift_first")
    return words.say(here if at_map else first, where=where(words, governed))


def where(words: Words, governed: Governed) -> str:
    """Line, tool and force of a load."""
    parts = []
    if governed.line is not None:
        parts.append(words.say("hold.where_line", line=governed.line))
    if governed.tool is not None:
        parts.append(words.say("hold.where_tool", tool=governed.tool))
    if not parts:
        parts.append(words.say("hold.where_load"))
    parts.append(words.say("hold.where_force", force=round(_force_n(governed))))
    return (
        numbers.tied(", ")
        .join(numbers.tied(part) for part in parts)
        .replace(numbers.tied(", "), ", ")
    )


def _force_n(governed: Governed) -> float:
    """Sideways force for a slip, the whole force for a lift, N without the safety factor."""
    x, y, z = governed.force_n
    return math.hypot(x, y) if governed.mode == "slip" else math.sqrt(x * x + y * y + z * z)


def buttons(words: Words, snapshot: Snapshot, desk: Desk) -> tuple[Button, ...]:
    """All conditions, and the step that comes next."""
    every = Button(
        words.say("hold.all", total=len(snapshot.permissives)),
        _missing_count(words, snapshot),
        opens="permissives",
    )
    finish = finish_button(words, snapshot, words.say("hold.finish"))
    withdraw = command(words, snapshot, "withdraw", words.say("hold.withdraw"))
    if snapshot.state == "PERMIT":
        return every, withdraw
    if snapshot.state == "PAUSED":
        return every, withdraw, finish
    if "ADVICE ONLY" in snapshot.flags:  # there is no permit to ask for
        return every, replace(finish, weight="main")
    return every, finish, _ask(words, snapshot)


def finish_button(words: Words, snapshot: Snapshot, said: str) -> Button:
    """Go to the Release guide.  Where no input shows standstill, a person says it with this."""
    if "ADVICE ONLY" not in snapshot.flags:
        return command(words, snapshot, "finish", said, hold=True)
    detail = words.say("hold.finish_seen")
    return command(words, snapshot, "finish", said, detail, hold=True, standstill=True)


def _ask(words: Words, snapshot: Snapshot) -> Button:
    said, lacks = words.say("hold.ask"), [row.code for row in missing(snapshot)]
    count = len([code for code in lacks if code != "asked"])
    if lacks[:1] == ["signed_on"]:
        return people.button(words, snapshot, words.say("permissive.signed_on.no"), weight="main")
    if lacks[:1] == ["cautions_read"]:
        return cautions.to_confirm(words, snapshot)
    why = elsewhere(words, snapshot)
    button = command(words, snapshot, "request_permit", said, why, hold=True, weight="main")
    if button.enabled or not count:
        return button
    detail = words.say("hold.ask_blocked", missing=count)
    return Button(said, detail, enabled=False, weight="main", hold_s=button.hold_s)


def rows(words: Words, snapshot: Snapshot) -> tuple[Row, ...]:
    """Every condition, the missing ones first, then the bypassed, for the list of all."""
    ordered = sorted(snapshot.permissives, key=lambda row: (row.holds, not row.bypassed))
    return tuple(_row(words, snapshot, row) for row in ordered)


def _row(words: Words, snapshot: Snapshot, row: PermissiveShown) -> Row:
    if row.code == "asked" and not row.holds:
        return _not_asked(words, snapshot)
    if row.code == "hold_enough" and row.holds and snapshot.state in PROVED:
        judged = numbers.compared(words, "judged.hold_kept", row.value, row.limit, row.unit)
        return Row(words.say("hold.proved"), "yes", judged)
    if row.bypassed:
        title = words.say(f"permissive.{row.code}.title")
        return Row(title, "warn", words.say("waive.bypassed"))
    mark, name = ("yes", "title") if row.holds else ("no", "no")
    said = "hold.stay" if _only_waits(row) else f"permissive.{row.code}.{name}"
    return Row(words.say(said), mark, _number(words, row))


def _not_asked(words: Words, snapshot: Snapshot) -> Row:
    """The person's request is never missing: it comes next, or later."""
    if "ADVICE ONLY" in snapshot.flags:
        return Row(words.say("hold.ask_advice_row"), "wait")
    if [row.code for row in missing(snapshot)] == ["asked"]:
        return Row(words.say("hold.ask_next"), "ask")
    return Row(words.say("hold.not_asked"), "wait")


def _number(words: Words, row: PermissiveShown) -> str:
    """What it was judged by, where that helps: of what holds, only what a person can change."""
    key = f"judged.{row.code}"
    if key not in words or (row.holds and row.code not in TOLD):
        return ""
    if row.code == "minimum_known" and row.value is not None:
        return words.say(key, value=numbers.level(words, row.value))
    value = row.value
    if row.code == "hold_settled" and value is not None:
        value = abs(value)  # rising and falling count alike
    return numbers.compared(words, key, value, row.limit, row.unit)
