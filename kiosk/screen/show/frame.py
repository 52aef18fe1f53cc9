"""What stands on every screen: the strip, the places in the rail, the caution."""

from __future__ import annotations

from dataclasses import replace

from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan
from kiosk.screen.show import numbers
from kiosk.screen.show.shown import AlarmPlace, Button, Desk, Flag, Foot, Strip
from kiosk.words import Words

HOLD_S = 1.0  # press so long where it matters
STEPS = ("job", "setup", "check", "cut", "release")
STEP_OF = {
    "STARTING": 0, "SELECT JOB": 0, "SET UP": 1, "CHECKING": 2, "READY": 2, "PERMIT": 2,
    "PAUSED": 3, "CUTTING": 3, "LOW HOLD": 3, "HOLD LOST": 3, "NO PERMIT": 3, "RELEASE": 4,
    "PART HELD": 4,
}  # fmt: skip
TONE_OF = {
    "PERMIT": "permit", "CUTTING": "permit", "PAUSED": "permit", "LOW HOLD": "low",
    "HOLD LOST": "lost", "NO PERMIT": "lost",
}  # fmt: skip
# Flags that a person must act on or never overlook come first.
FLAG_ORDER = ("NO DATA", "KEY BYPASS", "BYPASSED", "ADVICE ONLY", "SERVICE", "SIMULATED")

ABNORMAL = ("NO DATA", "KEY BYPASS", "BYPASSED")
ANSWERED = ("get_plan", "get_people")  # to every screen, whichever may command
ANOTHER = "not_commanding"


def key(word: str) -> str:
    """A state's or flag's word as a catalogue key."""
    return word.replace(" ", "_")


def strip(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Strip:
    """The strip of a living guard."""
    flags = [flag for flag in FLAG_ORDER if flag in snapshot.flags]
    return Strip(
        word=words.say(f"state.{key(snapshot.state)}"),
        tone=TONE_OF.get(snapshot.state, "plain"),
        job=_job(snapshot),
        job_detail=_job_detail(words, snapshot, plan),
        job_id=snapshot.job_id or "",
        flags=tuple(Flag(words.say(f"flag.{key(f)}"), f in ABNORMAL) for f in flags),
        clock=desk.clock,
        site=snapshot.site,
        steps=tuple(words.say(f"step.{step}") for step in STEPS),
        step=STEP_OF.get(snapshot.state, 0),
        notice=notice(words, desk),
    )


def notice(words: Words, desk: Desk) -> str:
    """What was just said, else what stands as long as another screen may command."""
    return desk.notice or (words.say("notice.reads_only") if desk.reads_only else "")


def cut_begun(snapshot: Snapshot) -> bool:
    """Whether this part has been cut into: its program may be held, and go on."""
    return snapshot.details.get("cut_begun") is True


def offering_nothing(snapshot: Snapshot) -> Snapshot:
    """The same for a screen that may only read: what else it sent would be refused."""
    left = tuple(name for name in snapshot.allowed if name in ANSWERED)
    return replace(snapshot, allowed=left, forbids_reset=(ANOTHER,))


def elsewhere(words: Words, snapshot: Snapshot) -> str:
    """Why a button cannot be pressed on a screen that may only read; "" on one that commands."""
    return words.say("place.elsewhere") if ANOTHER in snapshot.forbids_reset else ""


def dead_strip(words: Words, snapshot: Snapshot | None, desk: Desk) -> Strip:
    """The strip when nothing is heard: of what was known, only that the machine is simulated."""
    simulated = snapshot is not None and "SIMULATED" in snapshot.flags
    return Strip(
        word=words.say("state.NO_GUARD"),
        tone="dead",
        flags=(Flag(words.say("flag.SIMULATED")),) if simulated else (),
        clock=desk.clock,
    )


def _job(snapshot: Snapshot) -> str:
    if snapshot.job_id is None:
        return snapshot.site
    return f"{snapshot.job_id}  {snapshot.job_title or ''}".strip()


def _job_detail(words: Words, snapshot: Snapshot, plan: Plan | None) -> str:
    """What the board in hand is compared with comes first: the end is cut where room is short."""
    parts = []
    if plan is not None:
        parts.append(f"{numbers.plain(plan.thickness_mm)} mm {plan.surface}")
        parts.append(plan.material)
    if snapshot.job_revision:
        parts.append(words.say("ready.revision", revision=snapshot.job_revision))
    return " · ".join(part for part in parts if part)


def foot(words: Words, code: str) -> Foot:
    """The caution of the step."""
    return Foot(
        signal=words.say(f"caution.{code}.signal"),
        text=words.say(f"caution.{code}.short"),
        aid=words.say("aid.short"),
    )


def alarm_place(words: Words, snapshot: Snapshot) -> AlarmPlace:
    """Count and highest priority of the alarms that stand; in a loss without what can wait.

    Shelved ones are counted apart.
    """
    alarms = tuple(alarm for alarm in snapshot.alarms if not alarm.quiet)
    if not alarms:
        return AlarmPlace(_and_shelved(words, snapshot, words.say("place.alarms_none")))
    name = "place.alarms_one" if len(alarms) == 1 else "place.alarms_many"
    said = words.say(name, count=len(alarms))
    return AlarmPlace(
        words=_and_shelved(words, snapshot, said),
        priority=min(alarm.priority for alarm in alarms),
        unseen=any(not alarm.acknowledged for alarm in alarms),
    )


def _and_shelved(words: Words, snapshot: Snapshot, said: str) -> str:
    """With the count of shelved alarms, where there are any."""
    count = len(snapshot.shelved)
    if not count:
        return said
    return words.say("waive.shelved_count", alarms=said.replace("\n", " "), count=count)


def details_place(words: Words) -> Button:
    """Where job, notes, full caution and full disclaimer are, one touch away."""
    return Button(words=words.say("place.details"), opens="details")


def command(
    words: Words,
    snapshot: Snapshot,
    name: str,
    said: str,
    detail: str = "",
    *,
    hold: bool = False,
    weight: str = "plain",
    **arguments: object,
) -> Button:
    """A button for a command; it can be pressed only while the guard lists it as allowed."""
    return Button(
        words=said,
        detail=detail,
        command=name,
        arguments=tuple(arguments.items()),
        hold_s=HOLD_S if hold else 0.0,
        enabled=name in snapshot.allowed,
        weight=weight,
    )
