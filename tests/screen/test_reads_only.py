"""A second screen, while another one has the right to command: it shows all and offers nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace

import pytest
import screen_scenes as scenes
from book_scenes import book_scenes
from people_scenes import LISTED, NAMES, people_scenes, signed
from screen_plan import plan
from screen_scenes import DESK, WORDS, alarm, permissives, shown, snapshot
from screen_told import ToldDesk

from kiosk.interlock.snapshot import GaugeShown, Snapshot
from kiosk.screen.show import show
from kiosk.screen.show.shown import Button, Desk, Shown, StopShown, WatchShown

SCENES = {**scenes.scenes(), **people_scenes(), **book_scenes()}
READER = replace(DESK, reads_only=True)
SAID = WORDS.say("notice.reads_only")
ELSEWHERE = WORDS.say("place.elsewhere")
LOST = snapshot("HOLD LOST", alarms=(alarm("A01"),), allowed=("acknowledge", "reset"))


def buttons(what: object) -> Iterator[Button]:
    """Every button anywhere in it."""
    if isinstance(what, Button):
        yield what
    elif isinstance(what, tuple):
        for one in what:
            yield from buttons(one)
    elif is_dataclass(what):
        for field in fields(what):
            yield from buttons(getattr(what, field.name))


def commands(one: Button) -> bool:
    """It sends something to the guard, or begins what would."""
    return bool(one.command) or one.opens == "enter" or one.opens.startswith("person:")


def read(snap: Snapshot | None, desk: Desk = READER) -> Shown:
    return shown(snap, replace(desk, reads_only=True))


@pytest.mark.parametrize("name", SCENES)
def test_no_scene_and_no_sheet_of_it_offers_a_command(name: str) -> None:
    snap, desk = SCENES[name]
    for sheet in {desk.overlay, "alarms", "permissives", "causes", "people", "bypass"}:
        at = replace(desk, overlay=sheet, people=LISTED)
        drawn = show(WORDS, snap, scenes.plan_with_findings(), replace(at, reads_only=True))
        offered = [one for one in buttons(drawn) if one.enabled and commands(one)]
        assert offered == [], sheet


def test_the_walk_finds_what_a_screen_that_commands_offers() -> None:
    found = [
        one
        for snap, desk in SCENES.values()
        for one in buttons(show(WORDS, snap, plan(), desk))
        if one.enabled and commands(one)
    ]
    assert len({one.command for one in found}) > 10


@pytest.mark.parametrize("name", SCENES)
def test_the_next_step_is_not_offered_either(name: str) -> None:
    rail = read(*SCENES[name]).rail
    assert [one for one in rail.buttons if one.enabled and one.weight == "main"] == []


def test_an_alarm_that_nobody_has_seen_does_not_look_seen() -> None:
    assert read(LOST).rail.buttons[0].detail == ELSEWHERE
    seen = replace(LOST, alarms=(alarm("A01", acknowledged=True),))
    assert read(seen).rail.buttons[0].detail == ""
    assert shown(LOST).rail.buttons[0].detail == ""
    two = replace(LOST, alarms=(alarm("A01"), alarm("A05")))
    sheet = read(two, replace(READER, overlay="alarms")).overlay
    assert sheet is not None
    assert sheet.buttons[-1].detail == ELSEWHERE


def test_tall_views_say_it_below_their_strip() -> None:
    for state in ("CUTTING", "LOW HOLD"):
        body = read(snapshot(state)).body
        assert isinstance(body, WatchShown)
        assert body.extra == SAID
        assert read(snapshot(state)).strip.notice == ""
    body = read(LOST).body
    assert isinstance(body, StopShown)
    assert body.first.split("\n") == [shown(LOST).body.first, SAID]  # type: ignore[union-attr]


def test_what_was_just_said_and_that_warnings_come_late_go_before_it() -> None:
    told = replace(READER, notice="No answer came.")
    assert read(snapshot("READY"), told).strip.notice == "No answer came."
    for state in ("CUTTING", "HOLD LOST"):
        body = read(snapshot(state), told).body
        assert isinstance(body, WatchShown | StopShown)
        assert "No answer came." in (getattr(body, "extra", ""), getattr(body, "first", ""))
    slow = GaugeShown("table", "table", 66.0, 0.02, "", None, 2.0, 1.26)
    body = read(snapshot("CUTTING", gauges=(slow,))).body
    assert isinstance(body, WatchShown)
    assert body.extra == WORDS.say("watch.late")
    body = read(snapshot("CUTTING", gauges=(slow,)), told).body
    assert isinstance(body, WatchShown)
    assert body.extra == "No answer came."


def test_it_says_who_is_signed_on_and_shows_the_list_of_people() -> None:
    ready = signed(snapshot("READY"), "operator")
    assert read(ready).strip.person == f"{NAMES[1]}, operator"
    sheet = read(ready, replace(READER, overlay="details")).overlay
    assert sheet is not None
    place = sheet.buttons[-1]
    assert (place.opens, place.enabled) == ("people", True)
    people = read(ready, replace(READER, overlay="people", people=LISTED)).overlay
    assert people is not None
    assert people.title == WORDS.say("people.title_elsewhere")
    assert {row.button.detail for row in people.rows if row.button} == {
        WORDS.say(f"role.{row['role']}") for row in LISTED
    }  # nobody is asked to show a badge here


@pytest.mark.parametrize("lacks", ["signed_on", "cautions_read"])
def test_what_a_person_must_do_first_is_done_at_the_other_screen(lacks: str) -> None:
    snap = signed(snapshot("CHECKING", permissives=permissives((lacks, "asked"))), None,
                  "confirm_cautions")  # fmt: skip
    there, here = shown(snap).rail.buttons[-1], read(snap).rail.buttons[-1]
    assert there.enabled
    assert (here.words, here.detail, here.enabled) == (there.words, ELSEWHERE, False)


def test_the_permit_is_asked_for_at_the_other_screen() -> None:
    ready = SCENES["ready"][0]
    assert (shown(ready).rail.buttons[-1].detail, read(ready).rail.buttons[-1].detail) == (
        "", ELSEWHERE)  # fmt: skip


def test_no_pin_is_sent_from_it() -> None:
    typed = replace(READER, overlay="keypad", typed=4)
    sheet = read(signed(snapshot("READY")), typed).overlay
    assert sheet is not None
    assert (sheet.keypad.said, sheet.buttons[0].enabled) == (SAID, False)


@pytest.mark.parametrize(
    ("snap", "code", "told"),
    [(scenes.no_plan("SELECT JOB"), "SR-210", True), (signed(snapshot("READY")), "B-0001", True),
     (snapshot("READY"), "SR-210", False)],
)  # fmt: skip
def test_a_scan_is_refused_at_once_where_a_code_does_anything(
    snap: Snapshot, code: str, told: bool
) -> None:
    one = ToldDesk()
    one.sees(replace(snap, commanding="another"), 100.0)
    one.front.scanned(code, 100.0)
    assert (one.look(100.1).strip.notice == WORDS.say("refused.not_commanding")) is told
    assert {row["command"] for row in one.link.asked} <= {"get_plan"}


# -- what is said beside the digits


def test_only_what_became_of_a_sign_on_is_said_beside_the_digits() -> None:
    one = ToldDesk()
    ready = signed(snapshot("READY"))
    one.sees(ready, 100.0)
    one.front.act(Button(opens=f"person:{NAMES[1]}"), 100.0)
    one.front.say(WORDS.say("notice.ran_out"), 100.0)
    drawn = one.sees(ready, 100.1)
    assert drawn.overlay is not None
    assert drawn.strip.notice == WORDS.say("notice.ran_out")
    assert drawn.overlay.keypad.said == WORDS.say("people.typed")
    one.link.refuse = "wrong_pin"
    one.front.act(Button(opens="enter"), 100.2)
    drawn = one.sees(ready, 100.3)
    assert drawn.overlay is not None
    assert drawn.overlay.keypad.said == WORDS.say("refused.wrong_pin")
    one.front.say(WORDS.say("notice.ran_out"), 100.4)
    drawn = one.sees(ready, 100.5)
    assert drawn.overlay is not None
    assert drawn.overlay.keypad.said == WORDS.say("people.typed")


@pytest.mark.parametrize("gone", [False, True])
def test_that_no_answer_came_to_a_sign_on_is_said_there_too(gone: bool) -> None:
    one = ToldDesk()
    one.link.gone = gone
    ready = signed(snapshot("READY"))
    one.sees(ready, 100.0)
    one.front.act(Button(opens=f"person:{NAMES[1]}"), 100.0)
    one.front.act(Button(opens="enter"), 100.0)
    drawn = one.sees(ready, 103.1)
    assert drawn.overlay is not None
    assert drawn.overlay.keypad.said == WORDS.say("refused.no_answer")
