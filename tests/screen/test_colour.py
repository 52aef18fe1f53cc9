"""Contrast, and states that differ without colour."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations

import pytest
import screen_scenes as scenes
from screen_plan import plan
from screen_scenes import DESK, snapshot
from screen_window import WORDS, Screen, walk

from kiosk.screen import theme
from kiosk.screen.show import show
from kiosk.screen.widgets import seats
from kiosk.screen.widgets.fine import Fine
from kiosk.screen.widgets.marks import PriorityMark, StateSign
from kiosk.screen.widgets.outlined import Outlined
from kiosk.screen.widgets.strip import TONES

Make = Callable[..., Screen]


def luminance(rgba: tuple[float, ...]) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgba[:3]]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_known_ratios() -> None:
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey with 4.5:1 on white
    assert contrast((0, 0, 0), (1, 1, 1)) == pytest.approx(21.0)
    assert contrast(theme.rgba("#767676"), (1, 1, 1)) == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize(
    ("words", "ground"),
    [
        (theme.INK, theme.GROUND), (theme.INK, theme.PAPER), (theme.INK, theme.WHITE),
        (theme.INK, theme.BELOW), (theme.INK, theme.SECOND), (theme.WHITE, theme.FIRST),
        (theme.WHITE, theme.THIRD),
        *[(ink, fill) for fill, ink, _ in TONES.values()],
        *[(quiet, fill) for fill, _, quiet in TONES.values()],
    ],
)  # fmt: skip
def test_words_have_seven_to_one(words: theme.Rgba, ground: theme.Rgba) -> None:
    # WCAG 2.2, 1.4.6 (enhanced)
    assert contrast(words, ground) >= 7.0


def test_quiet_words_have_six_to_one_and_edges_three() -> None:
    # WCAG 2.2, 1.4.3 asks for 4.5 and 1.4.11 for 3
    assert contrast(theme.SOFT, theme.GROUND) >= 6.0
    assert contrast(theme.SOFT, theme.PAPER) >= 6.0
    assert contrast(theme.EDGE, theme.GROUND) >= 3.0


def test_alarm_colours_are_used_for_nothing_else() -> None:
    own = {theme.FIRST, theme.SECOND, theme.THIRD}
    others = {value for name, value in vars(theme).items()
              if name.isupper() and isinstance(value, tuple) and len(value) == 4}  # fmt: skip
    assert len(own) == 3
    assert not own & (others - own)


def grey(data: bytes, wide: int, box: tuple[int, int, int, int]) -> list[float]:
    """Luminance of each pixel in left, bottom, right, top."""
    left, bottom, right, top = box
    table = [c / 255.0 for c in range(256)]
    found = []
    for y in range(bottom, top):
        for x in range(left, right):
            at = (y * wide + x) * 4
            found.append(luminance((table[data[at]], table[data[at + 1]], table[data[at + 2]])))
    return found


def differ(one: list[float], other: list[float]) -> float:
    """Share of pixels whose greys differ by more than a quarter of the scale."""
    changed = sum(1 for a, b in zip(one, other, strict=True) if abs(a - b) > 0.25)
    return changed / len(one)


def pictures(screen: Screen, widgets: dict[str, object], side: int) -> dict[str, list[float]]:
    """The grey picture of each widget, drawn at one place after the other."""
    from kivy.core.window import Window

    found = {}
    for name, widget in widgets.items():
        widget.size_hint = (None, None)  # type: ignore[attr-defined]
        widget.size, widget.pos = (side, side), (100, 100)  # type: ignore[attr-defined]
        Window.add_widget(widget)
        screen.frame(3)
        found[name] = grey(screen.pixels(), screen.width, (100, 100, 100 + side, 100 + side))
        Window.remove_widget(widget)
    return found


class OneSeat(Fine):
    """One mark of a seat."""

    def __init__(self, mark: str) -> None:
        self.mark = mark
        super().__init__(ground=theme.PAPER)

    def paint(self, width: float, height: float) -> None:
        x, y, r = width / 2, height / 2, width * 0.4
        if self.mark == "pin":
            seats.pin(x, y, r * 0.7)
        else:
            seats.seat(self.mark, x, y, r, True)


def test_seats_differ_in_grey(screens: Make) -> None:
    screen = screens()
    marks = {name: OneSeat(name) for name in ("up", "turn", "down", "blocked", "pin")}
    found = pictures(screen, marks, 48)
    for one, other in combinations(found, 2):
        assert differ(found[one], found[other]) > 0.06, (one, other)


@pytest.mark.parametrize("side", [16, 24, 36, 48, 96])
def test_a_blocked_seat_is_more_paper_than_ink_and_one_that_is_up_is_not(
    screens: Make, side: int
) -> None:
    found = pictures(screens(), {name: OneSeat(name) for name in ("up", "blocked")}, side)
    radius = 0.4 * side * 0.8  # well inside both marks; the smallest seat is 2 mm wide
    places = [(at % side + 0.5 - side / 2, at // side + 0.5 - side / 2) for at in range(side**2)]
    middle = [at for at, place in enumerate(places) if math.hypot(*place) < radius]
    dark = {name: sum(pixels[at] < 0.2 for at in middle) / len(middle)
            for name, pixels in found.items()}  # fmt: skip
    assert dark["blocked"] < 0.5
    assert dark["up"] > 0.7


def test_priorities_differ_in_grey(screens: Make) -> None:
    screen = screens()
    marks = {str(n): PriorityMark(priority=n) for n in (1, 2, 3)}
    found = pictures(screen, marks, 80)
    for one, other in combinations(found, 2):
        assert differ(found[one], found[other]) > 0.06, (one, other)


def test_the_signs_of_the_states_differ_in_grey(screens: Make) -> None:
    screen = screens()
    signs = {}
    for tone, (fill, ink, _) in TONES.items():
        signs[tone] = StateSign(tone=tone, ground=fill, ink=ink)
    found = pictures(screen, signs, 80)
    for one, other in combinations(found, 2):
        assert differ(found[one], found[other]) > 0.06, (one, other)


def test_permit_and_no_permit_differ_by_brightness_at_a_distance(screens: Make) -> None:
    """The strip is dark before the permit and bright with it, whatever the words say."""
    screen = screens()
    means = {}
    for name in ("ready", "permit", "hold-lost"):
        snap, desk = scenes.scenes()[name]
        screen.show(show(WORDS, snap, plan(), desk))
        strip = screen.board.strip
        box = (0, int(strip.y) + 10, 20, int(strip.y + strip.height) - 10)
        row = grey(screen.pixels(), screen.width, box)
        means[name] = sum(row) / len(row)
    assert means["permit"] - means["ready"] > 0.6
    assert means["permit"] - means["hold-lost"] > 0.6


def test_little_time_left_has_an_outline_and_no_colour(screens: Make) -> None:
    screen = screens()
    edges, colours = {}, {}
    for time_left_s in (6.4, 90.0):
        falling = scenes.hold(72.0, -1.9, time_left_s=time_left_s)
        screen.show(show(WORDS, snapshot("CUTTING", hold=falling), plan(), DESK))
        (line,) = [w for w in walk(screen.board) if isinstance(w, Outlined)]
        left, low = (round(at) for at in line.to_window(*line.pos))
        side = (left, low + 2, left + 2, low + round(line.height) - 2)
        edges[time_left_s] = max(grey(screen.pixels(), screen.width, side))
        colours[time_left_s] = {theme.FIRST, theme.SECOND} & {tuple(line.fill), tuple(line.edge)}
    assert edges[6.4] < 0.05
    assert edges[90.0] > 0.4
    assert colours == {6.4: set(), 90.0: set()}


def test_normal_cutting_has_no_saturated_colour(screens: Make) -> None:
    """Grey unless abnormal: high-performance HMI practice (ISA-101)."""
    screen = screens()
    screen.show(show(WORDS, snapshot("CUTTING"), plan(), DESK))
    data = screen.pixels()
    spread = 0
    for at in range(0, len(data), 4 * 7):
        red, green, blue = data[at], data[at + 1], data[at + 2]
        spread = max(spread, max(red, green, blue) - min(red, green, blue))
    assert spread < 24
