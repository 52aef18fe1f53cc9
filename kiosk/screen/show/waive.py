"""A check bypassed for one job, and an alarm taken off the list for a while.

Only offered to whom may, with a reason from a list; the guard decides all the same.
"""

from __future__ import annotations

from kiosk.interlock.commands import BYPASS_REASONS, SHELVE_REASONS
from kiosk.interlock.snapshot import AlarmShown, PermissiveShown, Snapshot
from kiosk.screen.show import picks
from kiosk.screen.show.frame import command
from kiosk.screen.show.shown import Button, Desk, Overlay, Row
from kiosk.words import Words


def checks_button(words: Words, snapshot: Snapshot) -> tuple[Button, ...]:
    """On the list of checks: to where one is bypassed, by whom may, or the bypass ended."""
    if "bypass" not in snapshot.allowed and not snapshot.bypasses:
        return ()
    return (Button(words.say("waive.checks"), words.say("waive.one_job"), opens="bypass"),)


def checks(words: Words, snapshot: Snapshot, back: Button) -> Overlay:
    """The checks that may be bypassed, and those that are."""
    rows = [row for row in snapshot.permissives if row.bypassable or row.bypassed]
    return Overlay(
        kind="causes",
        title=words.say("waive.which"),
        rows=tuple(_check(words, snapshot, row) for row in rows),
        empty="" if rows else words.say("waive.none"),
        back=back,
    )


def _check(words: Words, snapshot: Snapshot, row: PermissiveShown) -> Row:
    title = words.say(f"permissive.{row.code}.title")
    if row.bypassed:
        said, why = words.say("waive.end"), _why(words, snapshot, row.code)
        return Row(title, button=command(words, snapshot, "end_bypass", said, why,
                                         hold=True, check=row.code))  # fmt: skip
    may = "bypass" in snapshot.allowed
    return Row(title, button=Button(title, opens=f"bypass_reason:{row.code}", enabled=may))


def bypassed_by(words: Words, snapshot: Snapshot) -> list[str]:
    """Who bypassed, for the alarm that says that a check is bypassed."""
    names = sorted({one.by for one in snapshot.bypasses if one.by is not None})
    return [words.say("waive.bypassed_by", name=", ".join(names))] if names else []


def _why(words: Words, snapshot: Snapshot, check: str) -> str:
    title = words.say(f"permissive.{check}.title")
    one = next((one for one in snapshot.bypasses if one.check == check), None)
    if one is None:
        return title
    reason = words.say(f"bypass_reason.{one.reason}")
    return words.say("waive.bypassed_why", check=title, name=one.by or "-", reason=reason)


def bypass_reason(words: Words, snapshot: Snapshot, desk: Desk, back: Button) -> Overlay:
    """Why a check is bypassed; the button names the check, the job and what goes on."""
    title = words.say(f"permissive.{desk.about}.title")
    said = words.say("waive.bypass", check=title)
    detail = words.say("waive.bypass_detail", job=snapshot.job_id or "")
    confirm = command(words, snapshot, "bypass", said, detail, hold=True, weight="main",
                      check=desk.about, reason=desk.cause)  # fmt: skip
    return _reasons(words, desk, ("bypass_reason", BYPASS_REASONS), confirm, back)


def may_shelve(snapshot: Snapshot, alarm: AlarmShown) -> bool:
    """Whether this person may take this alarm off the list: never one of priority 1."""
    least = 2 if snapshot.role == "supervisor" else 3
    return "shelve" in snapshot.allowed and not alarm.latched and alarm.priority >= least


def shelve_button(words: Words, alarm: AlarmShown) -> Button:
    """On the row of an alarm that was seen."""
    return Button(words.say("waive.shelve"), opens=f"shelve_reason:{alarm.code}")


def shelve_reason(words: Words, snapshot: Snapshot, desk: Desk, back: Button) -> Overlay:
    """Why an alarm is taken off the list."""
    said = words.say("waive.shelve_named", alarm=words.say(f"alarm.{desk.about}.title"))
    confirm = command(words, snapshot, "shelve", said, hold=True, weight="main",
                      alarm=desk.about, reason=desk.cause)  # fmt: skip
    return _reasons(words, desk, ("shelve_reason", SHELVE_REASONS), confirm, back)


def _reasons(
    words: Words, desk: Desk, family: tuple[str, tuple[str, ...]], confirm: Button, back: Button
) -> Overlay:
    if not desk.cause:
        confirm = Button(words.say("waive.reason_none"), enabled=False, weight="main",
                         hold_s=confirm.hold_s)  # fmt: skip
    return Overlay(
        kind="causes",
        title=words.say("waive.why"),
        rows=picks.rows(words, *family, desk.cause),
        buttons=(confirm,),
        back=back,
    )
