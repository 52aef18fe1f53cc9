"""Scenes where people are set up: nobody signed on, one of each role, and the sheets to sign on."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import screen_scenes as scenes
from screen_scenes import DESK, alarm, hold, permissives, snapshot

from kiosk.interlock.snapshot import BypassShown, ShelvedShown, Snapshot
from kiosk.screen.show.shown import Desk
from kiosk.words import load

Scene = tuple[Snapshot, Desk]
NAMES = (
    "Supervisor 1",
    "Operator 2",
    "Operator 3",
    "Maintenance 1",
    "Setter, morning shift",
    "Operator 4",
)
ROLES = ("supervisor", "operator", "operator", "maintenance", "setter", "operator")
LISTED: tuple[dict[str, Any], ...] = tuple(
    {"name": name, "role": role, "needs_badge": role != "operator", "wait_s": 0.0, "locked": False}
    for name, role in zip(NAMES, ROLES, strict=True)
)
TROUBLED = (
    *LISTED[:1], {**LISTED[1], "wait_s": 27.0}, {**LISTED[2], "locked": True}, *LISTED[3:],
    *({**LISTED[1], "name": f"Trainee {n}"} for n in range(3)),
)  # fmt: skip
WRONG_PIN = load().say("refused.wrong_pin")
ANYONE = ("sign_on", "get_people")


def signed(snap: Snapshot, role: str | None = None, *more: str) -> Snapshot:
    """With people set up, and one of this role signed on."""
    allowed = [*snap.allowed, *ANYONE, *more]
    allowed += [] if role is None else ["sign_off"]
    allowed += ["unlock_person"] if role == "supervisor" else []
    name = None if role is None else NAMES[ROLES.index(role)]
    return replace(snap, allowed=tuple(allowed), role=role, person=name)


def with_bypassable(missing: tuple[str, ...], bypassed: str = "") -> Any:
    """The list of checks, of which two may be set aside."""
    return tuple(
        replace(row, bypassable=row.code in ("gauge_in_date", "signed_on"),
                bypassed=row.code == bypassed)
        for row in permissives(missing)
    )  # fmt: skip


def people_scenes() -> dict[str, Scene]:
    """Every state of a screen that only people bring."""
    checking = snapshot(
        "CHECKING", permissives=with_bypassable(("signed_on", "asked")),
        allowed=scenes.CHECK_COMMANDS,
    )  # fmt: skip
    unread = replace(checking, permissives=permissives(("cautions_read", "hold_enough", "asked")))
    seen = tuple(alarm(code, acknowledged=True) for code in ("A07", "A16"))
    shelved = (ShelvedShown("A17", 3, True, "waits_for_a_part", 2600.0),)
    lost = snapshot(
        "HOLD LOST", alarms=(alarm("A01", first=True, acknowledged=True),), hold=hold(61.0),
        forbids_reset=("not_signed_on",),
    )  # fmt: skip
    bypass = snapshot(
        "CHECKING", permissives=with_bypassable(("hold_settled", "asked"), "gauge_in_date"),
        flags=("SIMULATED", "BYPASSED"), allowed=(*scenes.CHECK_COMMANDS, "end_bypass"),
        bypasses=(BypassShown("gauge_in_date", "calibration_is_booked", "Supervisor 1", 60.0),),
    )  # fmt: skip
    bypass_alarm = (alarm("A14", acknowledged=True),)
    ready = snapshot("READY", permissives=permissives(("asked",)),
                     allowed=(*scenes.CHECK_COMMANDS, "request_permit"))  # fmt: skip
    with_list, reader = replace(DESK, people=LISTED), replace(DESK, reads_only=True)
    people = replace(with_list, overlay="people")
    keypad = replace(with_list, overlay="keypad")
    return {
        "select-job-nobody": (signed(scenes.no_plan("SELECT JOB")), DESK),
        "checking-nobody": (signed(checking), DESK),
        "select-job-reads-only": (signed(scenes.no_plan("SELECT JOB")), reader),
        "checking-reads-only": (signed(checking), reader),
        "checking-unread-reads-only": (
            signed(unread, "supervisor", "confirm_cautions"), reader),
        "people-reads-only": (
            signed(checking, "supervisor"),
            replace(reader, overlay="people", people=TROUBLED)),
        "keypad-reads-only": (
            signed(checking), replace(reader, overlay="keypad", who=NAMES[4], typed=12)),
        "ready-signed-on": (signed(ready, "setter"), DESK),
        "cutting-signed-on": (signed(snapshot("CUTTING", hold=hold(66.4)), "operator"), DESK),
        "hold-lost-nobody": (signed(lost), DESK),
        "details-sign-on": (signed(ready), replace(DESK, overlay="details")),
        "details-sign-off": (signed(ready, "setter"), replace(DESK, overlay="details")),
        "checking-unread": (signed(unread, "operator", "confirm_cautions"), DESK),
        "select-job-unread": (
            signed(scenes.no_plan("SELECT JOB"), "operator", "confirm_cautions"),
            replace(DESK, has_book=True),
        ),
        **{
            f"cautions-{page + 1}": (
                signed(unread, "operator", "confirm_cautions"),
                replace(DESK, overlay="cautions", page=page),
            )
            for page in range(8)
        },
        "cautions-read": (signed(checking, "operator"), replace(DESK, overlay="cautions", page=7)),
        "people": (signed(checking), people),
        "people-none-yet": (signed(checking), replace(people, people=())),
        "people-troubled": (signed(checking), replace(people, people=TROUBLED)),
        "people-supervisor": (signed(checking, "supervisor"), replace(people, people=TROUBLED)),
        "keypad": (signed(checking), replace(keypad, who=NAMES[1])),
        "keypad-typed": (signed(checking), replace(keypad, who=NAMES[4], typed=12)),
        "keypad-badge": (
            signed(checking),
            replace(keypad, typed=6, notice=WRONG_PIN, sign_on=WRONG_PIN),
        ),
        "permit-list-supervisor": (
            signed(checking, "supervisor", "bypass"), replace(DESK, overlay="permissives")),
        "permit-list-bypassed": (signed(bypass, "setter"), replace(DESK, overlay="permissives")),
        "checking-bypassed": (signed(replace(bypass, alarms=bypass_alarm), "setter"), DESK),
        "checking-shelved": (signed(replace(checking, alarms=seen, shelved=shelved)), DESK),
        "checking-all-shelved": (signed(replace(checking, shelved=shelved)), DESK),
        "alarm-list-bypassed": (
            signed(replace(bypass, alarms=bypass_alarm), "operator", "shelve"),
            replace(DESK, overlay="alarms"),
        ),
        "bypass": (signed(checking, "supervisor", "bypass"), replace(DESK, overlay="bypass")),
        "bypass-end": (signed(bypass), replace(DESK, overlay="bypass")),
        "bypass-reason": (
            signed(checking, "supervisor", "bypass"),
            replace(DESK, overlay="bypass_reason", about="signed_on", cause="nobody_can_sign_on"),
        ),
        "bypass-no-reason": (
            signed(checking, "supervisor", "bypass"),
            replace(DESK, overlay="bypass_reason", about="gauge_in_date"),
        ),
        "alarm-list-shelve": (
            signed(replace(checking, alarms=seen, shelved=shelved), "supervisor", "shelve"),
            replace(DESK, overlay="alarms"),
        ),
        "alarm-list-shelved": (
            signed(replace(checking, shelved=shelved), None, "unshelve"),
            replace(DESK, overlay="alarms"),
        ),
        "shelve-reason": (
            signed(replace(checking, alarms=seen), "operator", "shelve"),
            replace(DESK, overlay="shelve_reason", about="A16", cause="being_worked_on"),
        ),
    }  # fmt: skip
