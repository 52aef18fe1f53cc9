"""Sign-on: who may, the keypad, and who is signed on now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from kiosk.interlock.snapshot import Snapshot
from kiosk.screen.show import cautions, numbers
from kiosk.screen.show.frame import command, elsewhere
from kiosk.screen.show.shown import Button, Desk, Keypad, Overlay, Row
from kiosk.words import Words

PAGE = 8  # people on one page
LEAST_DIGITS, MOST_DIGITS = 4, 12  # of a PIN: docs/people.md
DOT = "\u2022"
KEYS = ("1", "2", "3", "4", "5", "6", "7", "8", "9", "erase", "0", "")
STRIP_CAP = 14  # letters of a name in the strip


def set_up(snapshot: Snapshot) -> bool:
    """Whether people are set up at this machine."""
    return "get_people" in snapshot.allowed  # sign_on is not on a screen that may only read


def signed(words: Words, snapshot: Snapshot) -> str:
    """Who is signed on; empty where no people are set up."""
    if not set_up(snapshot):
        return ""
    if snapshot.person is None or snapshot.role is None:
        return words.say("people.nobody")
    return words.say("people.signed", name=snapshot.person, role=_role(words, snapshot.role))


def in_strip(words: Words, snapshot: Snapshot) -> str:
    """The same for the strip, where messages and the job must have room too."""
    long = len(snapshot.person or "") > STRIP_CAP
    return short(snapshot) if long else signed(words, snapshot)


def short(snapshot: Snapshot) -> str:
    """The name for the strip."""
    name = snapshot.person or ""
    return name if len(name) <= STRIP_CAP else f"{name[: STRIP_CAP - 1].rstrip()}…"


def _role(words: Words, role: str) -> str:
    return words.say(f"role.{role}")


def button(words: Words, snapshot: Snapshot, detail: str = "", weight: str = "plain") -> Button:
    """The touch place that opens the list of people, where somebody can sign on."""
    name = "people.sign_on" if snapshot.role is None else "people.other"
    why = elsewhere(words, snapshot)
    return Button(words.say(name), why or detail, opens="people", enabled=not why, weight=weight)


def details_button(words: Words, snapshot: Snapshot) -> Button:
    """The same on the sheet of details, where it leads to signing off too; it says who is on.

    A screen that may only read shows the list.
    """
    place = replace(button(words, snapshot), detail=signed(words, snapshot), enabled=True)
    return place if snapshot.role is None else replace(place, words=words.say("people.on_or_off"))


def listed(words: Words, snapshot: Snapshot, desk: Desk, back: Button) -> Overlay:
    """Everyone, with what stands in the way of each."""
    title = "people.title_elsewhere" if elsewhere(words, snapshot) else "people.title"
    pages = max(1, -(-len(desk.people) // PAGE))
    page = desk.page % pages
    shown = desk.people[page * PAGE : (page + 1) * PAGE]
    buttons = []
    if pages > 1:
        said = words.say("alarms.page", page=page + 1, pages=pages)
        buttons.append(Button(words.say("alarms.more"), said, opens="page"))
    if snapshot.role is not None:
        who = signed(words, snapshot)
        buttons.append(command(words, snapshot, "sign_off", words.say("people.sign_off"), who))
    buttons.append(cautions.button(words, snapshot))
    return Overlay(
        kind="people",
        title=words.say(title),
        rows=tuple(_tile(words, snapshot, row) for row in shown),
        buttons=tuple(buttons),
        empty="" if desk.people else words.say("people.none"),
        back=back,
    )


def _tile(words: Words, snapshot: Snapshot, row: Mapping[str, Any]) -> Row:
    name, role = str(row.get("name")), _role(words, str(row.get("role")))
    if row.get("locked"):
        said = words.say("people.unlock", name=name)
        free = replace(command(words, snapshot, "unlock_person", said, hold=True),
                       arguments=(("name", name),))  # fmt: skip
        shut = Button(name, words.say("people.locked", role=role), enabled=False)
        return Row(name, button=free if free.enabled else shut)
    wait_s = row.get("wait_s") or 0.0
    if elsewhere(words, snapshot):
        return Row(name, button=Button(name, role, enabled=False))
    if wait_s:
        left = numbers.duration(words, float(wait_s))
        detail = words.say("people.wait", role=role, left=left)
    elif row.get("needs_badge"):
        detail = words.say("people.scan", role=role)
    else:
        return Row(name, button=Button(name, role, opens=f"person:{name}"))
    return Row(name, button=Button(name, detail, enabled=False))


def keypad(words: Words, desk: Desk, back: Button) -> Overlay:
    """Digits under one finger; what is typed is shown as dots.

    Beside them only what became of the sign-on is said.
    """
    keys = tuple(_key(words, key) for key in KEYS)
    name = desk.who or words.say("people.badge_read")
    enough = desk.typed >= LEAST_DIGITS and not desk.reads_only
    said = words.say("notice.reads_only" if desk.reads_only else "people.typed")
    enter = Button(words.say("people.sign_on"), opens="enter", enabled=enough, weight="main")
    return Overlay(
        kind="keypad",
        title=words.say("people.title_pin"),
        keypad=Keypad(keys, name, DOT * desk.typed, desk.sign_on or said),
        buttons=(enter,),
        back=back,
    )


def _key(words: Words, key: str) -> Button:
    if key == "erase":
        return Button(words.say("people.erase"), opens="erase")
    return Button(key, opens=f"digit:{key}", enabled=bool(key))
