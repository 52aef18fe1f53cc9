"""Signing on at the screen, by finger and by badge, and what is only offered to some."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import people_scenes
import pytest
import screen_scenes as scenes
from people_scenes import NAMES, signed
from screen_plan import plan
from screen_scenes import DESK, alarm, snapshot
from screen_window import WORDS, Screen

from kiosk.screen import theme
from kiosk.screen.show import show
from kiosk.screen.show.shown import Overlay, Shown

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
    one = show(WORDS, people_scenes.signed(snapshot("READY"), "operator"), plan(), DESK).strip
    assert (one.person, one.name) == (f"{NAMES[1]}, operator", NAMES[1])
    long = drawn("ready-signed-on").strip
    assert (long.person, long.name) == ("Setter, morni…", "Setter, morni…")
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


def test_a_wrong_pin_is_said_beside_the_digits() -> None:
    snap, desk = SCENES["keypad"]
    wrong = WORDS.say("refused.wrong_pin")
    for notice, said in (("", WORDS.say("people.typed")), (wrong, wrong)):
        overlay = show(WORDS, snap, plan(), replace(desk, sign_on=notice)).overlay
        assert overlay is not None
        assert overlay.keypad.said == said


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
