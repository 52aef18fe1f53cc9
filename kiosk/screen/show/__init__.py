"""What the screen shows: pure.  Snapshot, plan and what the desk knows -> ``Shown``.

No clock, file, socket or Kivy here: every string and number a view draws is made and tested
without a window.
"""

from __future__ import annotations

from dataclasses import replace

from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan
from kiosk.screen.show import frame, hold, people, ready, release, setup, sheets, stop, watch
from kiosk.screen.show.scale import vacuum_kpa, vented_kpa
from kiosk.screen.show.shown import Body, Button, DeadShown, Desk, Note, Rail, Row, Shown
from kiosk.words import Words

DEAD_CAUTION = "C07"
SILENT_S = 0.8  # so long without a snapshot, and the screen says so

VIEW_OF = {
    "STARTING": "ready", "SELECT JOB": "ready", "SET UP": "setup", "CHECKING": "hold",
    "READY": "hold", "PERMIT": "hold", "PAUSED": "hold", "CUTTING": "watch",
    "LOW HOLD": "watch", "HOLD LOST": "stop", "NO PERMIT": "stop", "RELEASE": "release",
    "PART HELD": "release",
}  # fmt: skip
CAUTION_OF = {
    "STARTING": "C04", "SELECT JOB": "C04", "SET UP": "C03", "CHECKING": "C05", "READY": "C05",
    "PERMIT": "C01", "PAUSED": "C01", "CUTTING": "C01", "LOW HOLD": "C01", "HOLD LOST": "C07",
    "NO PERMIT": "C07", "RELEASE": "C14", "PART HELD": "C08",
}  # fmt: skip
HELD_IN_CUT = {"CHECKING": "C07", "READY": "C01"}


TALL = ("watch", "stop")


def show(words: Words, snapshot: Snapshot | None, plan: Plan | None, desk: Desk) -> Shown:
    """The whole screen for this moment.

    ``plan`` counts only when it is the one that the snapshot names by its digest.
    """
    if snapshot is None or desk.silent_s is None or desk.silent_s > SILENT_S:
        return _dead(words, snapshot, desk)
    if plan is not None and plan.digest != snapshot.plan:
        plan = None
    if desk.reads_only:
        snapshot = frame.offering_nothing(snapshot)
    view = VIEW_OF.get(snapshot.state, "ready")
    caution = caution_code(snapshot)
    strip = frame.strip(words, snapshot, plan, desk)
    strip = replace(strip, person=people.in_strip(words, snapshot), name=people.short(snapshot))
    if view in TALL and not desk.overlay:
        strip = replace(strip, notice="")  # the view says it: the strip is the state word's
    if view == "stop":
        strip = replace(strip, line=stop.line(words, snapshot))
    overlay = sheets.overlay(words, snapshot, plan, desk, caution)
    return Shown(
        view=view,
        strip=strip if overlay is None else replace(strip, line=""),
        foot=frame.foot(words, caution),
        rail=_rail(words, view, snapshot, plan, desk),
        body=_body(words, view, snapshot, plan, desk),
        overlay=overlay,
    )


def caution_code(snapshot: Snapshot) -> str:
    """The caution of the step; in SET UP the part step has its own, and so has an emergency stop
    over a vacuum that is seen to be on.  Nobody is sent to a part that a program is held in.
    """
    if snapshot.state == "SET UP" and setup.mode(snapshot) == "part":
        return "C02"
    if snapshot.state == "CHECKING" and snapshot.inputs.get("stop_healthy") is False:
        vacuum = vacuum_kpa(snapshot)
        if vacuum is not None and vacuum >= vented_kpa(snapshot):
            return "C08"
    if frame.cut_begun(snapshot) and snapshot.state in HELD_IN_CUT:
        return HELD_IN_CUT[snapshot.state]
    return CAUTION_OF.get(snapshot.state, "C04")


def _body(words: Words, view: str, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Body:
    if view == "setup":
        return setup.body(words, snapshot, plan, desk)
    if view == "hold":
        return hold.body(words, snapshot, plan, desk)
    if view == "watch":
        return watch.body(words, snapshot, desk)
    if view == "stop":
        return stop.body(words, snapshot, desk)
    if view == "release":
        return release.body(words, snapshot, desk)
    return ready.body(words, snapshot, desk)


def _rail(words: Words, view: str, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Rail:
    return Rail(
        alarms=frame.alarm_place(words, snapshot),
        details=frame.details_place(words),
        note=_note(words, view, snapshot),
        buttons=_buttons(words, view, snapshot, plan, desk),
    )


def _note(words: Words, view: str, snapshot: Snapshot) -> Note | None:
    if view == "watch":
        return watch.note(words, snapshot)
    if view == "ready":
        return ready.note(words, snapshot)
    return None


def _buttons(
    words: Words, view: str, snapshot: Snapshot, plan: Plan | None, desk: Desk
) -> tuple[Button, ...]:
    if view == "setup":
        return setup.buttons(words, snapshot, plan, desk)
    if view == "hold":
        return hold.buttons(words, snapshot, desk)
    if view == "stop":
        return stop.buttons(words, snapshot)
    if view == "release":
        return release.buttons(words, snapshot)
    return ready.buttons(words, snapshot, desk) if view == "ready" else ()


def _dead(words: Words, snapshot: Snapshot | None, desk: Desk) -> Shown:
    """Nothing on the screen is current: say so, and show no old number."""
    steps = [Row(words.say(f"no_guard.do_{n}"), str(n), present=n == 1) for n in (1, 2, 3)]
    return Shown(
        view="dead",
        strip=frame.dead_strip(words, snapshot, desk),
        foot=frame.foot(words, DEAD_CAUTION),
        rail=Rail(details=frame.details_place(words)),
        body=DeadShown(
            title=words.say("no_guard.title"), last=_last(words, snapshot, desk), steps=tuple(steps)
        ),
        overlay=sheets.words_only(words, DEAD_CAUTION) if desk.overlay == "details" else None,
    )


def _last(words: Words, snapshot: Snapshot | None, desk: Desk) -> str:
    if snapshot is None or desk.silent_s is None:
        return words.say("no_guard.never")
    state = words.say(f"state.{frame.key(snapshot.state)}")
    return words.say("no_guard.last", state=state, seconds=f"{desk.silent_s:.0f}\u00a0s")
