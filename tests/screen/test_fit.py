"""Every word fits its place, every touch place is large enough, nothing lies on anything.

Sizes: 16 minutes of arc is the least capital height (ISO 9241-303; NUREG-0700 1.3.1-4 has the
formula): at 0.7 m that is 3.3 mm, and 20 minutes at 3 m are 17.5 mm.  Touch places: a standing
user's performance stops improving above 20 mm bare (Colle and Hiszem 2004); 25 mm is that and
gloves, our own allowance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
import screen_scenes as scenes
from book_scenes import book_scenes
from people_scenes import NAMES, people_scenes, signed
from screen_plan import plan
from screen_scenes import DESK, alarm, permissives, snapshot
from screen_window import WORDS, Screen, walk

from kiosk.interlock import alarms as alarm_rows
from kiosk.interlock import permissives as permissive_rows
from kiosk.interlock.codes import FORBIDS, REFUSALS
from kiosk.interlock.commands import RESET_CAUSES
from kiosk.interlock.states import Flag, State
from kiosk.screen import theme
from kiosk.screen.show import show
from kiosk.screen.widgets.keypad import KEY_GAP_MM, Key
from kiosk.screen.widgets.outlined import Outlined
from kiosk.screen.widgets.strip import StripBar
from kiosk.screen.widgets.text import TAIL_SHARE, Text
from kiosk.screen.widgets.touch_button import TouchButton

Make = Callable[..., Screen]
KEY_LEAST_MM = 20.0  # of a digit: where a standing user stops getting better, bare (above)
ROOMY = ("1280x800", "1024x600")
# What is drawn some hundred times: the harder of the two in the quick suite.
MANY = (pytest.param("1280x800", marks=pytest.mark.long), "1024x600")
NOTICES = (
    *(f"refused.{code}" for code in (*REFUSALS, "no_answer")),
    *(f"notice.{code}" for code in ("epoch", "reads_only", "ran_out", "fault")), "people.done",
)  # fmt: skip
SCENES = {**scenes.scenes(), **people_scenes(), **book_scenes()}


def height_mm(distance_m: float, minutes: float) -> float:
    """Capital height for a visual angle: 6.283 D M / 21600 (NUREG-0700 rev. 2, 1.3.1-4)."""
    return 6.283 * distance_m * 1000.0 * minutes / 21600.0


def test_the_least_height_is_sixteen_minutes_of_arc() -> None:
    assert round(height_mm(0.7, 16), 1) <= theme.SMALL_MM
    assert round(height_mm(0.7, 20), 1) <= theme.BODY_MM
    assert round(height_mm(3.0, 20), 1) <= theme.FAR_MM


def scene(name: str) -> object:
    snap, desk = SCENES[name]
    a_plan = scenes.plan_with_findings() if "warnings" in name else plan()
    return show(WORDS, snap, a_plan, desk)


def texts(screen: Screen) -> list[Text]:
    return [w for w in walk(screen.board) if isinstance(w, Text) and w.words]


def assert_fits(screen: Screen) -> None:
    """All but the job's own name and material in the strip, which a person may write at length."""
    strip = screen.board.strip
    for text in texts(screen):
        if text in (strip._job, strip._detail):
            continue
        assert not text.clipped, text.words
        assert text.cap_used >= theme.SMALL_MM - 1e-6, text.words


@pytest.mark.parametrize("size", [*ROOMY, pytest.param("7in", marks=pytest.mark.long)])
def test_every_scene_fits_lies_apart_and_can_be_touched(screens: Make, size: str) -> None:
    screen = screens(size)
    for name in SCENES:
        screen.lay(scene(name))
        assert_fits(screen)
        if size in ROOMY:
            assert_apart(screen, name)
            assert_touchable(screen, name)


def assert_apart(screen: Screen, name: str) -> None:
    """No words lie outside or on each other."""
    boxes = [box for text in texts(screen) if (box := ink_box(text)) is not None]
    if screen.board.sheet.parent is not None:
        boxes = [box for box in boxes if under(box[4], screen.board.sheet)]
    for at, one in enumerate(boxes):
        assert one[0] >= -1
        assert one[2] <= screen.width + 1
        for other in boxes[at + 1 :]:
            assert not overlap(one, other), (name, one[4].words, other[4].words)


def ink_box(text: Text) -> tuple[float, float, float, float, Text] | None:
    """Left, bottom, right, top of the letters, from the first capital to the last line."""
    if text._drawn is None:
        return None
    px, lines = text._drawn[0], text._drawn[1]
    x, y = text.to_window(*text._rect.pos)
    width, height = text._rect.size
    top = y + height - px * (theme.ASCENT_SHARE - theme.CAP_SHARE)
    bottom = top - px * theme.CAP_SHARE - (len(lines) - 1) * height / len(lines)
    return x, bottom, x + width, top, text


def under(widget: object, ancestor: object) -> bool:
    while widget is not None and widget is not getattr(widget, "parent", None):
        if widget is ancestor:
            return True
        widget = getattr(widget, "parent", None)
    return False


def overlap(one: tuple, other: tuple) -> bool:  # type: ignore[type-arg]
    across = min(one[2], other[2]) - max(one[0], other[0])
    up = min(one[3], other[3]) - max(one[1], other[1])
    return across > 1.0 and up > 1.0


def assert_touchable(screen: Screen, name: str) -> None:
    """Touch places are large and apart."""
    covered = screen.board.sheet.parent is not None
    places = [w for w in walk(screen.board) if isinstance(w, TouchButton) and w.shown.enabled]
    places = [p for p in places if p.width > 1 and (not covered or under(p, screen.board.sheet))]
    assert places, name
    mm = theme.scale()
    corners = {place: place.to_window(place.x, place.y) for place in places}
    for at, place in enumerate(places):
        least = KEY_LEAST_MM if isinstance(place, Key) else theme.TOUCH_MM
        assert min(place.width, place.height) / mm >= least - 0.25, place.shown.words
        if place.shown.hold_s:
            assert place.width / mm >= theme.MATTER_MM - 0.25, place.shown.words
        for other in places[at + 1 :]:
            (x1, y1), (x2, y2) = corners[place], corners[other]
            gap = max(
                max(x1, x2) - min(x1 + place.width, x2 + other.width),
                max(y1, y2) - min(y1 + place.height, y2 + other.height),
            )
            keys = isinstance(place, Key) and isinstance(other, Key)
            apart = KEY_GAP_MM if keys else theme.GAP_MM
            assert gap / mm >= apart - 0.4, (place.shown.words, other.shown.words)


@pytest.mark.parametrize("size", MANY)
def test_the_answer_to_a_tap_fits_on_every_button_to_be_pressed(screens: Make, size: str) -> None:
    screen, answered = screens(size), 0
    for name in SCENES:
        screen.lay(scene(name))
        held = [w for w in walk(screen.board) if isinstance(w, TouchButton) and w.shown.hold_s]
        for button in held:
            button._began = button.shown.act  # as after a touch
            button._answer_tap()
        answered += len(held)
        screen.lay(scene(name))
        for button in held:
            assert WORDS.say("press.hint") in (button._detail.words, button._words.words)
        assert_fits(screen)
        for button in held:
            button._hint_over()
    assert answered > 10


@pytest.mark.parametrize("size", ROOMY)
def test_the_edge_round_the_time_left_crosses_no_letter(screens: Make, size: str) -> None:
    """Above it a g hangs down; below it one more line may stand."""
    screen = screens(size)
    for name in ("cutting-near", "low-hold", "low-hold-reads-only"):
        screen.lay(scene(name))
        (box,) = [w for w in walk(screen.board.view) if isinstance(w, Outlined)]
        lines = [text for text in texts(screen) if text.words.startswith("falling ")]
        (low,) = [ink[1] - TAIL_SHARE * text._drawn[0] for text in lines if (ink := ink_box(text))]
        assert low >= box.to_window(box.x, box.top)[1], name


# -- every code, in the tightest place it can stand


@pytest.mark.parametrize("size", ROOMY)
def test_every_permissive_fits(screens: Make, size: str) -> None:
    screen = screens(size)
    for code in permissive_rows.CODES:
        snap = snapshot("CHECKING", permissives=permissives((code,)))
        screen.lay(show(WORDS, snap, plan(), DESK))
        assert_fits(screen)
    high = tuple(
        replace(row, value=2.38) if row.code == "hold_enough" else row
        for row in permissives(("hold_enough",))
    )
    for desk in (DESK, replace(DESK, overlay="permissives")):
        screen.lay(show(WORDS, snapshot("CHECKING", permissives=high), plan(), desk))
        assert_fits(screen)
    for missing in (permissive_rows.CODES, ()):
        snap = snapshot("CHECKING", permissives=permissives(missing))
        screen.lay(show(WORDS, snap, plan(), replace(DESK, overlay="permissives")))
        assert_fits(screen)


@pytest.mark.parametrize("size", MANY)
def test_every_alarm_fits_in_the_cut_on_the_stop_card_and_in_the_list(
    screens: Make, size: str
) -> None:
    screen = screens(size)
    reader = replace(DESK, reads_only=True)  # it has a line more to say
    for row in alarm_rows.ROWS:
        one = alarm(row.code, first=True, latched=True, value=0.98, limit=1.0, unit="ratio")
        for state, desk in (
            ("LOW HOLD", reader), ("HOLD LOST", reader),
            ("HOLD LOST", replace(DESK, overlay="alarms")),
        ):  # fmt: skip
            screen.lay(show(WORDS, snapshot(state, alarms=(one,)), plan(), desk))
            assert_fits(screen)


@pytest.mark.parametrize("size", MANY)
def test_every_refusal_fits_beside_every_state_word(screens: Make, size: str) -> None:
    screen = screens(size)
    for state in ("SELECT JOB", "CHECKING", "HOLD LOST", "LOW HOLD"):
        for key in NOTICES:
            desk = replace(DESK, notice=WORDS.say(key))
            falling = scenes.hold(56.8, -0.9, time_left_s=6.0)
            screen.lay(show(WORDS, snapshot(state, hold=falling), plan(), desk))
            assert_fits(screen)


@pytest.mark.parametrize("size", ROOMY)
@pytest.mark.parametrize("flags", [("SIMULATED",), ("ADVICE ONLY", "SIMULATED")])
def test_every_notice_fits_beside_whoever_is_signed_on(
    screens: Make, size: str, flags: tuple[str, ...]
) -> None:
    """Beside the widest state word and another; of the screen only the strip is laid anew."""
    screen = screens(size)
    strip, desk = screen.board.strip, replace(DESK, notice="x")
    for state in ("SELECT JOB", "CHECKING"):
        for role in (None, "operator", "setter", "supervisor"):
            shown = show(WORDS, signed(snapshot(state, flags=flags), role), plan(), desk)
            screen.lay(shown)
            for key in NOTICES:
                strip.shown = replace(shown.strip, notice=WORDS.say(key))
                strip._notice.fit()
                assert not strip._notice.clipped, (state, role, key)
                assert overlapping(strip) == []


def overlapping(strip: StripBar) -> list[str]:
    """Flags that begin before the notice ends."""
    end = strip._notice.x + strip._notice.width
    return [chip.text.words for chip in strip._chips if chip.text.words and chip.x < end]


def test_a_notice_leaves_of_who_is_signed_on_what_has_room(screens: Make) -> None:
    screen = screens("1280x800")
    for role, said, key in (
        ("operator", f"{NAMES[1]}, operator", "people.done"),
        ("operator", NAMES[1], "notice.reads_only"),
        (None, None, "notice.epoch"),
    ):
        snap = signed(snapshot("SELECT JOB"), role)
        screen.lay(show(WORDS, snap, plan(), replace(DESK, notice=WORDS.say(key))))
        words = [chip.text.words for chip in screen.board.strip._chips if chip.text.words]
        assert words == (["SIMULATED"] if said is None else ["SIMULATED", said])


@pytest.mark.parametrize("size", ROOMY)
def test_every_state_word_and_flag_fits(screens: Make, size: str) -> None:
    screen = screens(size)
    two_at_a_time = [
        (a.value, b.value) for a, b in zip(list(Flag)[::2], list(Flag)[1::2], strict=True)
    ]
    for state in State:
        for pair in two_at_a_time:
            snap = snapshot(state.value, flags=pair)
            screen.lay(show(WORDS, snap, plan(), DESK))
            strip = screen.board.strip
            for text in (strip._word, strip._clock, *(chip.text for chip in strip._chips)):
                assert not text.clipped, (state, text.words)


@pytest.mark.parametrize("size", ROOMY)
def test_every_reason_against_the_reset_and_every_cause_fits(screens: Make, size: str) -> None:
    screen = screens(size)
    for code in FORBIDS:
        snap = snapshot("HOLD LOST", forbids_reset=(code,), alarms=(alarm("A01"),))
        screen.lay(show(WORDS, snap, plan(), DESK))
        assert_fits(screen)
    two = snapshot("HOLD LOST", forbids_reset=("cycle_running", "standstill_unknown"))
    screen.lay(show(WORDS, two, plan(), DESK))
    assert_fits(screen)
    for cause in RESET_CAUSES:
        snap = snapshot("HOLD LOST", allowed=("reset",))
        screen.lay(show(WORDS, snap, plan(), replace(DESK, overlay="causes", cause=cause)))
        assert_fits(screen)


@pytest.mark.parametrize("size", MANY)
def test_every_caution_fits_with_its_full_text(screens: Make, size: str) -> None:
    screen = screens(size)
    for state in State:
        for page in (0, 1, 2):
            desk = replace(DESK, overlay="details", page=page)
            screen.lay(show(WORDS, snapshot(state.value), plan(), desk))
            assert_fits(screen)


@pytest.mark.parametrize("size", ROOMY)
def test_long_findings_and_refusals_can_be_read_whole(screens: Make, size: str) -> None:
    """As long as the planner's longest: two hundred letters."""
    screen = screens(size)
    long = (
        "The piece at x 418, y 191 mm, free after line 175, on 2 cups needs 219.9 kPa to start, "
        "more than the whole pressure of the air. Put more cups under it, cut lighter, or leave "
        "tabs on the part."
    )
    assert len(long) > 190
    findings = tuple(replace(finding, text=long) for finding in scenes.FINDINGS)
    snap, desk = SCENES["set-up-part-warnings"]
    screen.lay(show(WORDS, snap, replace(plan(), findings=findings), desk))
    assert_fits(screen)
    snap, desk = SCENES["set-up-part-warnings-one"]
    screen.lay(show(WORDS, snap, replace(plan(), findings=findings), desk))
    assert_fits(screen)
    screen.lay(show(WORDS, scenes.no_plan("SELECT JOB", refusal=long), None, DESK))
    assert_fits(screen)


def test_a_word_too_long_for_its_place_is_marked_and_ends_in_an_ellipsis(screens: Make) -> None:
    """The check of this file can fail: words that do not fit are found."""
    screen = screens()
    long = "Counterweightless " * 12
    screen.lay(show(WORDS, snapshot("SET UP", job_id=long), plan(), DESK))
    clipped = [text for text in texts(screen) if text.clipped]
    assert len(clipped) == 1
    assert clipped[0]._drawn[1][0].endswith("…")


# -- measured on the pixels: what must be read at three metres


@pytest.mark.parametrize("size", ROOMY)
@pytest.mark.parametrize("state", ["CUTTING", "LOW HOLD", "HOLD LOST", "NO PERMIT"])
def test_the_state_word_is_readable_at_three_metres(screens: Make, size: str, state: str) -> None:
    screen = screens(size)
    screen.show(show(WORDS, snapshot(state, hold=scenes.hold(66.0)), plan(), DESK))
    word = screen.board.strip._word
    assert drawn_height_mm(screen, word) >= height_mm(3.0, 20) - 0.35


@pytest.mark.parametrize("size", ROOMY)
def test_r_is_readable_at_three_metres_in_the_cut(screens: Make, size: str) -> None:
    screen = screens(size)
    screen.show(show(WORDS, snapshot("CUTTING", hold=scenes.hold(66.0)), plan(), DESK))
    (percent,) = [text for text in texts(screen) if text.words == "126"]
    assert drawn_height_mm(screen, percent) >= height_mm(3.0, 20)


def drawn_height_mm(screen: Screen, text: Text) -> float:
    """Height of the letters, counted in rows of pixels that differ from the ground."""
    data, wide = screen.pixels(), screen.width
    left, right = int(text._rect.pos[0]), int(text._rect.pos[0] + text._rect.size[0])
    low, high = int(text._rect.pos[1]), math.ceil(text._rect.pos[1] + text._rect.size[1])
    low, high = max(low, 0), min(high, screen.height)
    rows = 0
    for y in range(low, high):
        row = [sum(data[(y * wide + x) * 4 : (y * wide + x) * 4 + 3]) for x in range(left, right)]
        rows += max(row) - min(row) > 300
    return rows / theme.scale()
