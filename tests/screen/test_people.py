"""Signing on at the screen, by finger and by badge, and what is only offered to some."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import people_scenes
import pytest
import screen_scenes as scenes
from people_scenes import LISTED, NAMES, signed
from screen_scenes import DESK, alarm, permissives, plan, shown, snapshot
from screen_server import Server, await_true
from screen_window import WORDS, Screen
from test_front import Desk as AnyDesk

from kiosk.interlock.codes import CAUTIONS
from kiosk.screen import signing, theme
from kiosk.screen.show import show
from kiosk.screen.show.cautions import digest
from kiosk.screen.show.shown import Button, Overlay, Shown, StopShown
from kiosk.screen.widgets.keypad import Key

Make = Callable[..., Screen]
SCENES = people_scenes.people_scenes()
CHECKING = SCENES["checking-nobody"][0]


def drawn(name: str) -> Shown:
    snap, desk = SCENES[name]
    return show(WORDS, snap, plan(), desk)


def sheet(name: str) -> Overlay:
    overlay = drawn(name).overlay
    assert overlay is not None
    return overlay


# -- what is shown


def test_who_is_signed_on_stands_in_the_strip_and_nothing_where_no_people_are_set_up() -> None:
    assert drawn("ready-signed-on").strip.person == f"{NAMES[4]}, setter"
    assert drawn("select-job-nobody").strip.person == "nobody signed on"
    assert show(WORDS, snapshot("READY"), plan(), DESK).strip.person == ""


def test_the_sheet_of_details_names_signing_off_once_somebody_is_signed_on() -> None:
    for name, said in (("details-sign-on", "Sign on"), ("details-sign-off", "Sign on or off")):
        (place,) = [button for button in sheet(name).buttons if button.opens == "people"]
        assert place.words == said
    assert place.detail == f"{NAMES[4]}, setter"


def test_without_people_no_screen_offers_to_sign_on() -> None:
    for snap, desk in scenes.scenes().values():
        shown = show(WORDS, snap, plan(), desk)
        buttons = (*shown.rail.buttons, *(shown.overlay.buttons if shown.overlay else ()))
        assert "people" not in [button.opens for button in buttons]


def test_an_operator_is_picked_by_name_and_the_other_roles_show_their_badge() -> None:
    may = {row.words: row.button.enabled for row in sheet("people").rows if row.button}
    assert may == {name: role == "operator"
                   for name, role in zip(NAMES, people_scenes.ROLES, strict=True)}  # fmt: skip


def test_only_a_supervisor_is_offered_to_unlock() -> None:
    for name, command in (("people-troubled", ""), ("people-supervisor", "unlock_person")):
        (locked,) = [row.button for row in sheet(name).rows if NAMES[2] in row.words]
        assert locked is not None
        assert (locked.command, locked.enabled) == (command, bool(command))


def test_one_who_must_wait_cannot_be_picked() -> None:
    (waiting,) = [row.button for row in sheet("people-troubled").rows if row.words == NAMES[1]]
    assert waiting is not None
    assert (waiting.enabled, "27" in waiting.detail) == (False, True)


def test_a_pin_is_never_drawn() -> None:
    """The keypad is given the number of digits only."""
    keypad = sheet("keypad-badge").keypad
    assert keypad.dots == "\u2022" * 6


@pytest.mark.parametrize(("typed", "may"), [(0, False), (3, False), (4, True), (12, True)])
def test_four_digits_are_the_least_to_send(typed: int, may: bool) -> None:
    snap, desk = SCENES["keypad"]
    overlay = show(WORDS, snap, plan(), replace(desk, typed=typed)).overlay
    assert overlay is not None
    assert overlay.buttons[0].enabled is may


def test_a_reset_that_only_waits_for_a_person_leads_to_signing_on() -> None:
    assert drawn("hold-lost-nobody").rail.buttons[-1].opens == "people"
    running = replace(SCENES["hold-lost-nobody"][0],
                      forbids_reset=("cycle_running", "not_signed_on"))  # fmt: skip
    assert not show(WORDS, running, plan(), DESK).rail.buttons[-1].enabled


def test_acknowledging_is_offered_to_nobody_signed_on() -> None:
    lost, _ = scenes.scenes()["hold-lost"]
    assert lost is not None
    shown = show(WORDS, signed(lost), plan(), DESK)
    assert (shown.rail.buttons[0].command, shown.rail.buttons[0].enabled) == ("acknowledge", True)


@pytest.mark.parametrize(
    ("priority", "role", "latched", "may"),
    [(3, "operator", False, True), (3, None, False, True), (2, "operator", False, False),
     (2, "supervisor", False, True), (1, "supervisor", False, False),
     (2, "supervisor", True, False)],
)  # fmt: skip
def test_which_alarm_may_be_shelved_by_whom(
    priority: int, role: str | None, latched: bool, may: bool
) -> None:
    """Own rule: P1 never, P2 by a supervisor; the guard refuses the rest all the same."""
    code = {1: "A12", 2: "A07", 3: "A16"}[priority]
    one = alarm(code, acknowledged=True, latched=latched)
    snap = signed(snapshot("CHECKING", alarms=(one,)), role, "shelve")
    overlay = show(WORDS, snap, plan(), replace(DESK, overlay="alarms")).overlay
    assert overlay is not None
    button = overlay.alarms[0].button
    assert (button is not None and button.opens == f"shelve_reason:{code}") is may


def test_a_shelved_alarm_stands_last_with_its_time_and_can_be_called_back() -> None:
    row = sheet("alarm-list-shelved").alarms[-1]
    assert "shelved for 44 min" in row.facts
    assert row.button is not None
    assert (row.button.command, row.button.arguments) == ("unshelve", (("alarm", "A17"),))


def test_a_check_is_set_aside_by_name_for_the_job_with_a_reason() -> None:
    offered = [row.button.opens for row in sheet("bypass").rows if row.button]
    assert offered == ["bypass_reason:gauge_in_date", "bypass_reason:signed_on"]
    confirm = sheet("bypass-reason").buttons[0]
    assert confirm.command == "bypass"
    assert dict(confirm.arguments) == {"check": "signed_on", "reason": "nobody_can_sign_on"}
    assert "SR-210" in confirm.detail
    assert confirm.hold_s > 0
    assert not sheet("bypass-no-reason").buttons[0].enabled


def test_to_set_a_check_aside_is_only_offered_to_whom_may() -> None:
    assert sheet("permit-list-supervisor").buttons[0].opens == "bypass"
    overlay = show(WORDS, signed(CHECKING, "operator"), plan(),
                   replace(DESK, overlay="permissives")).overlay  # fmt: skip
    assert overlay is not None
    assert overlay.buttons == ()


def test_what_is_set_aside_is_marked_and_anybody_may_take_it_back() -> None:
    rows = sheet("permit-list-bypassed").rows
    assert [row.mark for row in rows[:4]] == ["no", "wait", "warn", "yes"]
    row = rows[2]
    assert row.detail == WORDS.say("waive.bypassed")
    end = sheet("bypass-end").rows[0].button
    assert end is not None
    assert "(Supervisor 1: Calibration is booked)" in end.detail
    assert (end.command, end.arguments) == ("end_bypass", (("check", "gauge_in_date"),))


def test_shelved_alarms_are_counted_apart_wherever_alarms_are_counted() -> None:
    assert drawn("checking-all-shelved").rail.alarms.words == "No alarm\n1\u00a0shelved"
    some = drawn("checking-shelved").rail.alarms
    assert (some.words, some.priority) == ("2 alarms\n1\u00a0shelved", 2)
    assert drawn("checking-bypassed").rail.alarms.words == "1 alarm"


def test_on_the_list_what_is_shelved_or_seen_is_drawn_unlike_what_is_not(screens: Make) -> None:
    screen = screens("1280x800")
    screen.lay(drawn("alarm-list-shelved"))
    shelved = screen.board.sheet._alarms[0]
    assert (shelved._mark.hollow, shelved.fill) == (True, list(theme.PAPER))
    screen.lay(drawn("alarm-list-shelve"))
    seen = screen.board.sheet._alarms[0]
    assert (seen._mark.hollow, seen.fill) == (True, list(theme.WHITE))
    screen.lay(show(WORDS, snapshot("CHECKING", alarms=(alarm("A16"),)), plan(),
                    replace(DESK, overlay="alarms")))  # fmt: skip
    assert not screen.board.sheet._alarms[0]._mark.hollow


def test_a_bypass_stands_in_the_strip_at_the_checks_and_by_name_in_the_alarm() -> None:
    shown = drawn("checking-bypassed")
    assert [flag.words for flag in shown.strip.flags if flag.abnormal] == ["BYPASSED"]
    (checks,) = [button for button in shown.rail.buttons if button.opens == "permissives"]
    assert checks.detail == "1 missing\n1\u00a0bypassed"
    assert "bypassed by Supervisor 1" in sheet("alarm-list-bypassed").alarms[0].facts


def test_where_many_flags_stand_the_job_keeps_its_id_in_the_strip(screens: Make) -> None:
    screen = screens("1024x600")
    screen.lay(drawn("checking-bypassed"))
    assert screen.board.strip._job.words == "SR-210"
    assert not screen.board.strip._job.clipped


# -- from the finger to the socket


class Desk(AnyDesk):
    """What it heard last is always new: that a slow computer is silent is not tried here."""

    def now_s(self) -> float:
        received_s = self.link.view().received_s
        assert received_s is not None
        return received_s

    def draw(self) -> Shown:
        shown = self.front.shown(self.now_s(), "10:42", 3600, 200)
        self.screen.show(shown)
        return shown

    def scan(self, code: str) -> None:
        self.front.scanned(code, self.now_s())


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


def tap(one: Desk, widget: object) -> None:
    one.screen.advance(0.4)
    one.screen.press(widget)
    one.draw()


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


def test_the_keypad_is_for_the_badge_that_was_answered_and_not_for_the_last_one_shown(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    one.draw()
    one.server.refuse = "pin_needed"
    one.scan("B-0004")
    answered(one, 0)
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
    one.server.refuse = "pin_needed"
    one.scan("B-0004")
    answered(one, 0)
    one.front.act(Button(opens="back"), one.now_s())
    shown = one.draw()
    assert (shown.overlay, shown.strip.notice) == (None, "")


def test_a_badge_shown_before_a_loss_opens_no_keypad_over_the_stop_card(
    desk: Callable[..., Desk],
) -> None:
    one = desk(CHECKING)
    one.draw()
    one.server.refuse = "pin_needed"
    one.scan("B-0004")
    answered(one, 0)
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


# -- the cautions of the shift -----------------------------------------------------------------


def cautions(page: int, *allowed: str, role: str | None = "operator") -> Overlay:
    snap = signed(snapshot("CHECKING", permissives=permissives(("cautions_read",))), role, *allowed)
    sheet = shown(snap, replace(DESK, overlay="cautions", page=page)).overlay
    assert sheet is not None
    return sheet


def test_each_has_a_signal_word_and_at_most_35_words() -> None:
    """Signal words: ANSI Z535.4.  A card of 35 words is common practice, no source."""
    for code in CAUTIONS:
        signal = WORDS.say(f"caution.{code}.signal")
        assert signal in ("DANGER", "WARNING", "CAUTION", "NOTICE")
        assert 5 <= len(WORDS.say(f"caution.{code}.text").split()) <= 35, code


def test_every_caution_stands_on_one_page_and_the_last_says_what_the_panel_is_not() -> None:
    pages = [cautions(page) for page in range(8)]
    told = [text for sheet in pages for _, text in sheet.lines]
    assert sorted(told) == sorted(
        [*(WORDS.say(f"caution.{code}.text") for code in CAUTIONS), WORDS.say("aid.text")]
    )
    assert pages[-1].lines[-1][1] == WORDS.say("aid.text")
    assert cautions(8).lines == pages[0].lines


def test_they_are_confirmed_on_the_last_page_by_who_has_them_to_read() -> None:
    for page in range(8):
        (button,) = cautions(page, "confirm_cautions").buttons
        assert bool(button.command) is (page == 7)
    (button,) = cautions(7, "confirm_cautions").buttons
    arguments = dict(button.arguments)
    assert (button.command, button.hold_s > 0.0) == ("confirm_cautions", True)
    assert set(arguments["cautions"]) == set(CAUTIONS)  # type: ignore[call-overload]
    assert len(str(arguments["texts"])) == 12
    assert not any(button.command for button in cautions(7).buttons)


def test_the_check_leads_to_them_once_they_are_what_is_missing_first() -> None:
    def last(*missing: str) -> Button:
        snap = snapshot("CHECKING", permissives=permissives((*missing, "asked")))
        return shown(signed(snap, "operator", "confirm_cautions"), DESK).rail.buttons[-1]

    assert last("cautions_read", "hold_enough").opens == "cautions"
    assert last("signed_on", "cautions_read").opens == "people"
    first = last("gauge_fresh", "cautions_read")
    assert (first.opens, first.enabled) == ("", False)
    assert last().command == "request_permit"


def test_the_ready_board_has_them_while_they_are_to_be_read() -> None:
    def offered(*allowed: str) -> list[str]:
        snap = signed(scenes.no_plan("SELECT JOB"), "operator", *allowed)
        return [button.opens for button in shown(snap, DESK, None).rail.buttons]

    assert "cautions" in offered("confirm_cautions")
    assert "cautions" not in offered()


def test_anyone_can_read_them() -> None:
    alone = shown(snapshot("CHECKING"), replace(DESK, overlay="details")).overlay
    people = shown(signed(snapshot("CHECKING")), replace(DESK, overlay="people")).overlay
    for sheet in (alone, people):
        assert sheet is not None
        assert "cautions" in [button.opens for button in sheet.buttons]


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
