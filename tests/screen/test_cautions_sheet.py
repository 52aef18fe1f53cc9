"""The sheet of cautions: what it says, who is asked to confirm it, and where it opens."""

from __future__ import annotations

from dataclasses import replace

import screen_scenes as scenes
from people_scenes import signed
from screen_scenes import DESK, permissives, shown, snapshot
from screen_window import WORDS

from kiosk.interlock.codes import CAUTIONS
from kiosk.screen.show.shown import Button, Overlay

# -- the cautions of the shift -----------------------------------------------------------------
PANEL = f"{WORDS.say('aid.text')} {WORDS.say('aid.entries')}"


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
        [
            *(WORDS.say(f"caution.{code}.text") for code in CAUTIONS),
            PANEL,
        ]
    )
    assert pages[-1].lines[-1][1] == PANEL
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
