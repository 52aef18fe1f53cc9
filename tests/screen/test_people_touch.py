"""Signing on from the finger or the badge to the guard's socket, and reading the cautions."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import people_scenes
import pytest
from people_scenes import LISTED, NAMES, signed
from screen_desk import FreshDesk as Desk
from screen_desk import tap
from screen_plan import plan
from screen_scenes import DESK, alarm, permissives, shown, snapshot
from screen_server import Server, await_true
from screen_window import WORDS
from test_people import CHECKING, SCENES, Make

from kiosk.interlock.codes import CAUTIONS
from kiosk.screen import signing
from kiosk.screen.show.cautions import digest
from kiosk.screen.show.shown import Button, Overlay, StopShown
from kiosk.screen.widgets.keypad import Key

# -- from the finger to the socket


@pytest.fixture
def desk(screens: Make, tmp_path: Path) -> Iterator[Callable[..., Desk]]:
    made: list[Desk] = []

    def make(snap: object) -> Desk:
        server = Server(tmp_path / "g.sock", snap, plan())  # type: ignore[arg-type]
        server.people = LISTED
        made.append(Desk(screens(), server))
        made[-1].screen.board.bind(on_finger=lambda *_: made[-1].front.touched())
        return made[-1]

    yield make
    for one in made:
        one.link.close()
        one.server.close()


def opened(one: Desk) -> None:
    """The list of people is on the screen."""
    one.draw()
    one.press()
    one.until(lambda s: s.overlay is not None and s.overlay.rows, "no list of people")


def key(one: Desk, digit: str) -> Key:
    keys = one.screen.board.sheet._keypad.keys
    return next(k for k in keys if k.shown.opens in (f"digit:{digit}", digit))


def type_pin(one: Desk, pin: str) -> None:
    """As fast as a quick finger: five digits a second."""
    one.screen.advance(0.4)
    for digit in pin:
        one.screen.press(key(one, digit), 0.08)
        one.draw()
        one.screen.advance(0.1)


def picked(one: Desk, name: str) -> None:
    opened(one)
    tiles = one.screen.board.sheet._grid.buttons
    tap(one, next(tile for tile in tiles if tile.shown.words == name))


def test_a_name_and_a_pin_typed_by_finger_are_sent_once_and_forgotten(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    picked(one, "Operator 2")
    type_pin(one, "7382")
    tap(one, key(one, "erase"))
    type_pin(one, "1")
    tap(one, one.screen.board.sheet._buttons[0])
    await_true(lambda: one.sent("sign_on"), "nothing was sent")
    (row,) = one.sent("sign_on")
    assert (row["name"], row["pin"], "badge" in row) == ("Operator 2", "7381", False)
    one.until(lambda s: s.overlay is None and s.strip.notice, "the sheet stays")
    assert one.front._signing.typed == ""


def test_a_wrong_pin_is_said_and_leaves_the_keypad_empty(desk: Callable[..., Desk]) -> None:
    one = desk(CHECKING)
    picked(one, "Operator 2")
    one.server.refuse = "wrong_pin"
    type_pin(one, "7382")
    tap(one, one.screen.board.sheet._buttons[0])
    shown = one.until(lambda s: s.strip.notice, "no refusal is said")
    assert shown.strip.notice == WORDS.say("refused.wrong_pin")
    assert shown.overlay is not None
    assert (shown.overlay.kind, shown.overlay.keypad.dots) == ("keypad", "")


def test_a_badge_is_sent_from_any_view_and_a_pin_is_asked_for_when_the_role_needs_it(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    one.draw()
    one.server.refuse = "pin_needed"
    one.scan("B-0004")
    one.until(lambda s: s.overlay is not None and s.overlay.kind == "keypad", "no keypad")
    one.server.refuse = None
    type_pin(one, "284617")
    tap(one, one.screen.board.sheet._buttons[0])
    await_true(lambda: len(one.sent("sign_on")) == 2, "the PIN was not sent")
    first, second = one.sent("sign_on")
    assert (first["badge"], "pin" in first) == ("B-0004", False)
    assert (second["badge"], second["pin"]) == ("B-0004", "284617")


def test_a_badge_alone_leaves_the_sheet_that_is_open(desk: Callable[..., Desk]) -> None:
    one = desk(CHECKING)
    one.draw()
    one.front.act(Button(opens="alarms"), time.monotonic())
    one.scan("B-0003")
    shown = one.until(lambda s: s.strip.notice, "no word of the sign-on")
    assert shown.overlay is not None
    assert (shown.overlay.kind, shown.strip.notice) == ("alarms", WORDS.say("people.done"))


def test_on_the_ready_board_a_job_comes_before_a_badge(desk: Callable[..., Desk]) -> None:
    one = desk(SCENES["select-job-nobody"][0])
    one.draw()
    one.scan("SR-210")
    one.scan("B-0004")
    await_true(lambda: one.sent("sign_on"), "the badge was not sent")
    assert [row["job"] for row in one.sent("select_job")] == ["shelf-rail.job.toml"]
    assert [row["badge"] for row in one.sent("sign_on")] == ["B-0004"]


def test_without_people_a_scan_outside_the_ready_board_sends_nothing(
    desk: Callable[..., Desk],
) -> None:
    one = desk(snapshot("CHECKING"))
    one.draw()
    one.scan("B-0004")
    one.draw()
    assert one.sent("sign_on") == []


def test_what_was_typed_is_gone_after_a_while_and_when_the_sheet_closes(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    picked(one, "Operator 2")
    type_pin(one, "73")
    tap(one, one.screen.board.sheet._back)
    assert (one.front._signing.typed, one.draw().overlay) == ("", None)
    picked(one, "Operator 2")
    type_pin(one, "73")
    one.front._signing.used_s -= signing.FORGET_S + 60.0
    assert one.draw().overlay is None
    assert one.front._signing.typed == ""


def test_a_keypad_stays_when_the_check_goes_on_and_gives_way_to_a_loss(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    picked(one, "Operator 2")
    type_pin(one, "73")
    one.server.publish(signed(snapshot("READY")))
    shown = one.until(lambda s: s.strip.word == "READY", "no new state")
    assert shown.overlay is not None
    assert shown.overlay.keypad.dots == "\u2022" * 2
    one.server.publish(signed(snapshot("HOLD LOST")))
    one.until(lambda s: s.overlay is None and s.view == "stop", "the keypad hides the stop card")


def test_that_somebody_signed_on_gives_way_to_what_was_first_in_a_loss(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    one.draw()
    one.scan("B-0003")
    one.until(lambda s: s.strip.notice == WORDS.say("people.done"), "no word of the sign-on")
    one.server.publish(signed(snapshot("HOLD LOST", alarms=(alarm("A01", first=True),))))
    shown = one.until(lambda s: s.view == "stop", "no stop card")
    assert isinstance(shown.body, StopShown)
    assert WORDS.say("alarm.A01.title") in shown.body.first


def answered(one: Desk, at: int) -> None:
    """The reply to that sign-on has come to the link; the screen has not looked yet."""
    await_true(lambda: len(one.sent("sign_on")) > at, "the badge was not sent")
    await_true(lambda: one.link.answer(str(one.sent("sign_on")[at]["id"])), "no reply came")


def shows_a_badge_that_needs_a_pin(one: Desk) -> None:
    """And its answer has come."""
    one.draw()
    one.server.refuse = "pin_needed"
    one.scan("B-0004")
    answered(one, 0)


def test_the_keypad_is_for_the_badge_that_was_answered_and_not_for_the_last_one_shown(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    shows_a_badge_that_needs_a_pin(one)
    one.server.hold_replies = True
    one.scan("B-0002")
    shown = one.draw()
    assert shown.overlay is not None
    assert shown.overlay.kind == "keypad"
    type_pin(one, "284617")
    tap(one, one.screen.board.sheet._buttons[0])
    await_true(lambda: len(one.sent("sign_on")) == 3, "the PIN was not sent")
    assert [row["badge"] for row in one.sent("sign_on")] == ["B-0004", "B-0002", "B-0004"]


def test_an_answer_that_comes_after_its_sheet_was_left_opens_no_keypad(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    opened(one)
    shows_a_badge_that_needs_a_pin(one)
    one.front.act(Button(opens="back"), one.now_s())
    shown = one.draw()
    assert (shown.overlay, shown.strip.notice) == (None, "")


def test_a_badge_shown_before_a_loss_opens_no_keypad_over_the_stop_card(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    shows_a_badge_that_needs_a_pin(one)
    one.server.publish(signed(snapshot("HOLD LOST")))
    one.link.wait(lambda v: v.snapshot is not None and v.snapshot.state == "HOLD LOST", 20.0)
    shown = one.draw()
    assert (shown.view, shown.overlay) == ("stop", None)


def test_no_badge_stays_after_its_answer(desk: Callable[..., Desk]) -> None:
    one = desk(CHECKING)
    one.draw()
    one.scan("B-0003")
    assert one.front._signing.badge == ""
    one.until(lambda s: s.strip.notice, "no word of the sign-on")
    assert "B-0003" not in repr((one.front._signing, one.front._asked))


@pytest.mark.parametrize("usable", [True, False])
def test_who_is_signed_off_is_told_when_the_people_file_cannot_be_used(
    desk: Callable[..., Desk], usable: bool
) -> None:
    one = desk(signed(CHECKING, "supervisor"))
    one.draw()
    if not usable:
        one.server.people, one.server.refuse = None, "people_unreadable"
    one.server.publish(CHECKING)

    def is_answered() -> bool:
        one.draw()
        return any(one.link.answer(str(row["id"])) for row in one.sent("get_people"))

    await_true(is_answered, "the screen did not ask why")
    told = WORDS.say("refused.people_unreadable")
    assert one.draw().strip.notice == ("" if usable else told)
    assert len(one.sent("get_people")) == 1


def test_a_supervisor_unlocks_by_name(desk: Callable[..., Desk]) -> None:
    one = desk(signed(CHECKING, "supervisor"))
    one.server.people = people_scenes.TROUBLED
    one.draw()
    one.front.act(Button(opens="people"), time.monotonic())
    one.until(lambda s: s.overlay is not None and s.overlay.rows, "no list of people")
    tiles = one.screen.board.sheet._grid.buttons
    one.screen.advance(0.4)
    one.screen.press(next(t for t in tiles if t.shown.command == "unlock_person"), 1.15)
    await_true(lambda: one.sent("unlock_person"), "nothing was sent")
    assert one.sent("unlock_person")[0]["name"] == NAMES[2]


def test_a_touch_is_told_with_the_next_heartbeat_and_only_once(desk: Callable[..., Desk]) -> None:
    one = desk(CHECKING)
    one.draw()
    assert not one.front.was_touched()
    tap(one, one.screen.board.foot)
    assert one.front.was_touched()
    assert not one.front.was_touched()


def test_they_are_turned_confirmed_and_closed_by_taps_and_another_person_begins_anew(
    desk: Callable[..., Desk],
) -> None:
    unread = snapshot("CHECKING", permissives=permissives(("cautions_read", "asked")))
    one = desk(signed(unread, "operator", "confirm_cautions"))
    one.draw()
    tap(one, one.screen.board.rail.buttons[2])
    for page in range(1, 8):
        tap(one, one.screen.board.sheet._buttons[0])
        shown = one.until(lambda s, page=page: s.overlay == cautions_of(one, page), "no next page")
    assert shown.overlay is not None
    one.server.publish(signed(unread, "setter", "confirm_cautions"))
    one.until(lambda s: s.overlay == cautions_of(one, 0), "another goes on where the first was")
    for _ in range(7):
        tap(one, one.screen.board.sheet._buttons[0])
    one.until(lambda s: s.overlay == cautions_of(one, 7), "not at the last page")
    one.screen.advance(0.4)
    one.screen.press(one.screen.board.sheet._buttons[0], 1.15)
    one.until(lambda s: s.overlay is None, "the sheet stays")
    (sent,) = one.sent("confirm_cautions")
    assert (set(sent["cautions"]), sent["texts"]) == (  # type: ignore[call-overload]
        set(CAUTIONS),
        digest(WORDS),
    )


def cautions_of(one: Desk, page: int) -> Overlay | None:
    """That page, as drawn for what the screen was told last."""
    snap = one.link.view().snapshot
    return shown(snap, replace(DESK, overlay="cautions", page=page)).overlay
