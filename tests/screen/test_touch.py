"""The one button: real touches through the event loop, on a clock that stands still."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import DESK, snapshot, zones
from screen_window import WORDS, Screen

from kiosk.screen.show import show
from kiosk.screen.widgets.touch_button import DEBOUNCE_S, TOO_LONG_S

Make = Callable[..., Screen]


def ready(**more: object) -> object:
    snap = snapshot("PERMIT", permit_left_s=43.0, allowed=("withdraw",), **more)
    return show(WORDS, snap, plan(), DESK)


def setting(zone_done: str = "ABCD") -> object:
    snap = snapshot(
        "SET UP", zones=zones(zone_done), part_confirmed=False, seats_up=11,
        allowed=("confirm_zone", "undo_zone", "cancel_job"),
    )  # fmt: skip
    return show(WORDS, snap, plan(), DESK)


@pytest.fixture
def screen(screens: Make) -> Screen:
    made = screens()
    made.show(ready())
    made.advance(DEBOUNCE_S + 0.1)
    return made


def last(screen: Screen) -> object:
    """The button at the right end of the rail."""
    return [b for b in screen.board.rail.buttons if b.opacity][-1]


def commands(screen: Screen) -> list[str]:
    return [act.command or act.opens for act in screen.acts]


def test_a_tap_acts_on_lift_off(screen: Screen) -> None:
    finger = screen.down(*last(screen).center)
    assert commands(screen) == []
    screen.up(finger)
    assert commands(screen) == ["withdraw"]


def test_a_touched_button_shows_it_in_the_next_frame(screen: Screen) -> None:
    button = last(screen)
    before = tuple(button.fill)
    screen.down(*button.center)
    assert tuple(button.fill) != before


def test_sliding_off_cancels_even_when_the_finger_comes_back(screen: Screen) -> None:
    button = last(screen)
    finger = screen.down(*button.center)
    screen.move(finger, button.center_x, button.top + 40)
    screen.move(finger, *button.center)
    screen.up(finger)
    assert commands(screen) == []


def test_a_second_finger_cancels(screen: Screen) -> None:
    finger = screen.down(*last(screen).center)
    other = screen.down(200, 400)
    screen.up(other)
    screen.up(finger)
    assert commands(screen) == []


def test_two_fingers_on_one_button_do_nothing(screen: Screen) -> None:
    x, y = last(screen).center
    fingers = [screen.down(x - 20, y), screen.down(x + 20, y)]
    for finger in fingers:
        screen.up(finger)
    assert commands(screen) == []


def test_a_resting_palm_lets_no_tap_through(screen: Screen) -> None:
    palm = screen.down(60, 420)
    for _ in range(3):
        screen.press(last(screen))
        screen.advance(0.4)
    assert commands(screen) == []
    screen.up(palm)
    screen.press(last(screen))
    assert commands(screen) == ["withdraw"]


def test_a_button_switched_off_under_the_finger_does_nothing(screen: Screen) -> None:
    finger = screen.down(*last(screen).center)
    screen.show(ready(alarms=()) if False else show(
        WORDS, snapshot("PERMIT", permit_left_s=43.0, allowed=()), plan(), DESK))  # fmt: skip
    screen.up(finger)
    assert commands(screen) == []


def test_a_screen_that_changed_under_the_finger_does_nothing(screen: Screen) -> None:
    finger = screen.down(*last(screen).center)
    screen.show(show(WORDS, snapshot("CUTTING"), plan(), DESK))
    screen.up(finger)
    assert commands(screen) == []


def test_for_a_moment_after_the_screen_changed_nothing_counts(screen: Screen) -> None:
    screen.show(show(WORDS, snapshot("CUTTING"), plan(), DESK))
    screen.press(screen.board.rail.details, 0.02)
    assert commands(screen) == []
    screen.advance(DEBOUNCE_S)
    screen.press(screen.board.rail.details, 0.02)
    assert commands(screen) == ["details"]


def test_two_quick_taps_are_one(screen: Screen) -> None:
    screen.press(last(screen), 0.02)
    screen.press(last(screen), 0.02)
    assert commands(screen) == ["withdraw"]
    screen.advance(DEBOUNCE_S)
    screen.press(last(screen), 0.02)
    assert commands(screen) == ["withdraw", "withdraw"]


def test_what_leans_on_the_screen_is_no_tap(screen: Screen) -> None:
    screen.press(last(screen), TOO_LONG_S + 0.1)
    assert commands(screen) == []


# -- press for one second


@pytest.fixture
def holding(screens: Make) -> Screen:
    made = screens()
    made.show(setting())
    made.advance(DEBOUNCE_S + 0.1)
    return made


def test_a_matter_takes_one_second_of_pressing(holding: Screen) -> None:
    holding.press(last(holding), 0.9)
    assert commands(holding) == []
    holding.advance(0.4)
    finger = holding.down(*last(holding).center)
    holding.advance(1.1)
    assert commands(holding) == ["confirm_zone"]
    assert holding.acts[0].arguments == (("zone", "E"),)
    holding.up(finger)
    assert commands(holding) == ["confirm_zone"]


def test_the_ring_fills_as_time_goes(holding: Screen) -> None:
    holding.down(*last(holding).center)
    holding.advance(0.5)
    assert last(holding)._ring.share == pytest.approx(0.5, abs=0.06)


def test_sliding_off_stops_the_ring(holding: Screen) -> None:
    button = last(holding)
    finger = holding.down(*button.center)
    holding.advance(0.7)
    holding.move(finger, button.center_x, button.top + 60)
    holding.move(finger, *button.center)
    holding.advance(1.5)
    assert commands(holding) == []
    assert button._ring.share == 0.0


def test_a_button_that_comes_to_mean_another_row_stops_the_press(holding: Screen) -> None:
    holding.down(*last(holding).center)
    holding.advance(0.7)
    holding.show(setting("ABCDE"))
    holding.advance(1.0)
    assert commands(holding) == []


def test_words_that_change_do_not_stop_a_press(holding: Screen) -> None:
    holding.down(*last(holding).center)
    holding.advance(0.7)
    shown = setting()
    holding.show(replace(shown, strip=replace(shown.strip, clock="10:43")))
    holding.advance(0.5)
    assert commands(holding) == ["confirm_zone"]


def test_a_tap_where_a_press_is_asked_for_is_answered_for_two_seconds(holding: Screen) -> None:
    button = last(holding)
    before = button._detail.words
    holding.press(button, 0.05)
    assert button._detail.words == "press and hold"
    holding.advance(1.5)
    holding.show(setting())  # a new snapshot does not wipe it
    assert button._detail.words == "press and hold"
    holding.advance(0.6)
    assert button._detail.words == before
    assert commands(holding) == []


def test_a_press_right_after_the_answer_counts(holding: Screen) -> None:
    holding.press(last(holding), 0.05)
    finger = holding.down(*last(holding).center)
    holding.advance(1.1)
    holding.up(finger)
    assert commands(holding) == ["confirm_zone"]


def test_the_answer_goes_when_the_button_comes_to_mean_another_row(holding: Screen) -> None:
    holding.press(last(holding), 0.05)
    holding.show(setting("ABCDE"))
    assert "press and hold" not in [text.words for text in last(holding).texts]


def test_sliding_off_is_not_answered(holding: Screen) -> None:
    button = last(holding)
    finger = holding.down(*button.center)
    holding.move(finger, button.center_x, button.top + 60)
    holding.up(finger)
    assert button._detail.words != "press and hold"


def test_the_ring_says_how_long_to_hold_where_it_has_room(holding: Screen) -> None:
    wide, narrow = last(holding), holding.board.rail.buttons[0]
    assert wide._ring_words.words == "hold\n1 s"
    assert (narrow.shown.hold_s, narrow._ring_words.words) == (0.0, "")


def test_nothing_below_an_open_sheet_can_be_touched(screens: Make) -> None:
    made = screens()
    snap, desk = scenes.scenes()["details"]
    made.show(show(WORDS, snap, plan(), desk))
    made.advance(DEBOUNCE_S + 0.1)
    # the rail's place for alarms lies under the sheet's own buttons: only those answer
    made.press(made.board.rail.alarms)
    assert commands(made) == ["back"]


def test_a_failing_callback_is_told_and_the_clock_goes_on(screens: Make) -> None:
    from kivy.clock import Clock

    from kiosk.screen import safely

    made, seen, count = screens(), [], []

    def bad(_dt: float) -> None:
        count.append(1)
        raise ValueError("a mistake of the test's own")

    safely.tell(seen.append)
    event = Clock.schedule_interval(safely.safely(bad), 0.05)
    made.advance(0.5)
    event.cancel()
    safely.forget()
    assert len(count) >= 5
    assert "a mistake of the test's own" in seen[0]
