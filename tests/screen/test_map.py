"""Hatching and words on the map: plain geometry, and the pixels they make."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from screen_plan import plan
from screen_scenes import DESK, scenes, snapshot, zones
from screen_window import WORDS, Screen

from kiosk.job.plan import CutPath, Plan
from kiosk.screen.show import show
from kiosk.screen.widgets import fine
from kiosk.screen.widgets.tags import beside, leader

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
HOLE = [(20.0, 20.0), (80.0, 20.0), (80.0, 80.0), (20.0, 80.0)]


def length(strokes: list[list[tuple[float, float]]]) -> float:
    return sum(math.dist(*stroke) for stroke in strokes)


@pytest.mark.parametrize(("name", "there"), [("", False), ("-one", True), ("-read", True)])
def test_the_map_stands_beside_a_warning_but_not_among_two(
    screens: Callable[[str], Screen], name: str, there: bool
) -> None:
    screen = screens("1024x600")
    snap, desk = scenes()[f"set-up-part-warnings{name}"]
    screen.show(show(WORDS, snap, plan(), desk))
    a_map, (place, *_) = screen.board.view.ids.map, screen.board.view.ids.warnings.buttons
    assert bool(a_map.opacity) == there
    assert a_map.shown.seats
    assert a_map.shown.labels == ()  # they would lie on the part
    assert not there or a_map.x + a_map.width < place.x


def test_hatching_covers_the_area_that_it_should() -> None:
    """Strokes a level apart of g stand g / sqrt 2 apart: their length is area * sqrt 2 / g."""
    gap = 0.5
    assert length(fine.hatch([SQUARE], gap)) == pytest.approx(
        100 * 100 * math.sqrt(2) / gap, rel=0.01
    )
    ring = 100 * 100 - 60 * 60
    assert length(fine.hatch([SQUARE, HOLE], gap)) == pytest.approx(
        ring * math.sqrt(2) / gap, rel=0.01
    )


def test_no_stroke_of_the_hatching_lies_in_the_hole() -> None:
    for (x0, y0), (x1, y1) in fine.hatch([SQUARE, HOLE], 3.0):
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        assert not (20 < x < 80 and 20 < y < 80)


ROOM = (0.0, 0.0, 400.0, 300.0)
place = st.tuples(st.floats(0, 340), st.floats(0, 260)).map(
    lambda low: (low[0], low[1], low[0] + 40.0, low[1] + 30.0)
)


@given(place, st.lists(place, max_size=3))
def test_a_word_stands_in_the_room_and_on_nothing_where_there_is_a_place(
    thing: tuple[float, ...], others: list[tuple[float, ...]]
) -> None:
    left, low, right, top = beside(thing, (50.0, 12.0), ROOM, others)  # type: ignore[arg-type]
    assert (left, low) >= (0.0, 0.0)
    assert (right, top) <= (400.0, 300.0)
    assert (right - left, top - low) == pytest.approx((50.0, 12.0))
    assert not (left < thing[2] and thing[0] < right and low < thing[3] and thing[1] < top)


@given(place, st.lists(place, max_size=3))
def test_the_line_from_a_word_ends_at_its_thing(
    thing: tuple[float, ...], others: list[tuple[float, ...]]
) -> None:
    word = beside(thing, (50.0, 12.0), ROOM, others)  # type: ignore[arg-type]
    for (x, y), box in zip(leader(thing, word), (word, thing), strict=True):  # type: ignore[arg-type]
        assert box[0] <= x <= box[2]
        assert box[1] <= y <= box[3]
        assert x in (box[0], box[2]) or y in (box[1], box[3])


def test_a_word_stands_where_its_line_crosses_nothing() -> None:
    thing, wall = (100.0, 100.0, 140.0, 130.0), (0.0, 136.0, 400.0, 139.0)
    around = [(0.0, 0.0, 99.0, 300.0), (141.0, 0.0, 400.0, 300.0), (0.0, 0.0, 400.0, 99.0)]
    assert beside(thing, (40.0, 12.0), ROOM, [wall, *around])[1] >= 139.0
    free_below = [*around[:2], wall]
    assert beside(thing, (40.0, 12.0), ROOM, free_below, [wall])[3] < 100.0


def test_a_place_that_is_taken_is_passed_over() -> None:
    thing = (100.0, 100.0, 140.0, 130.0)
    above = beside(thing, (40.0, 12.0), ROOM, [])
    assert above[1] > 130.0
    assert beside(thing, (40.0, 12.0), ROOM, [above])[1] != above[1]


def mean(screen: Screen, at_mm: tuple[float, float], half_px: int = 3) -> float:
    """Lightness of the pixels round a place of the map, 0 to 255."""
    cup_map = screen.board.view.ids.map
    x, y = cup_map._at(at_mm)
    x0, y0 = cup_map.to_window(cup_map.x, cup_map.y)
    data, total, count = screen.pixels(), 0, 0
    for py in range(int(y0 + y) - half_px, int(y0 + y) + half_px + 1):
        for px in range(int(x0 + x) - half_px, int(x0 + x) + half_px + 1):
            total += sum(data[(py * screen.width + px) * 4 :][:3])
            count += 3
    return total / count


def setting(**more: object) -> object:
    snap = snapshot("SET UP", zones=zones("ABCDEF"), part_confirmed=False, allowed=())
    return show(WORDS, snap, replace(plan(), **more), DESK)  # type: ignore[arg-type]


def test_a_through_cut_near_the_minimum_is_darker_on_the_screen(
    screens: Callable[..., Screen],
) -> None:
    screen = screens()
    # the right-hand cut of 12 mm, beside its centre line
    lightness = []
    for severity in (0.1, 0.6, 0.8, 1.0):
        path = replace(plan().paths[0], severity=severity)
        screen.show(setting(paths=(path,), loose=(), outline=()))
        lightness.append(mean(screen, (1015.0, 480.0), 0))
    assert lightness[0] > lightness[1]
    assert lightness[1] > lightness[3] + 40
    assert lightness[2] > lightness[3] + 20


def test_a_loose_piece_is_hatched_and_named(screens: Callable[..., Screen]) -> None:
    screen = screens()
    screen.show(setting(loose=(), paths=()))
    plain_paper = mean(screen, (930.0, 300.0), 8)
    named = len(screen.board.view.ids.map._labels)
    screen.show(setting(paths=()))
    assert mean(screen, (930.0, 300.0), 8) < plain_paper - 25
    assert len(screen.board.view.ids.map._labels) == named + 2  # the word: a colour and a picture


def swept(plan: Plan, name: str) -> tuple[CutPath, ...]:
    """A pocket over one seat, in passes so close that they leave no paper between them."""
    seat = next(seat for seat in plan.seats if seat.name == name)
    half = plan.outer_diameter_mm * 0.6
    ends = [(seat.x_mm - half, seat.x_mm + half), (seat.x_mm + half, seat.x_mm - half)]
    points = [(x, seat.y_mm + dy) for dy in range(-44, 45) for x in ends[dy % 2]]
    return (CutPath(1, 8.0, False, tuple(points), 1.0),)


def mark_of(screen: Screen, name: str) -> list[int]:
    """The lightness of the pixels in the middle of a seat's mark."""
    seat = next(seat for seat in plan().seats if seat.name == name)
    return [mean(screen, (seat.x_mm + dx, seat.y_mm + dy), 0)  # type: ignore[misc]
            for dx in range(-24, 25, 8) for dy in range(-24, 25, 8)]  # fmt: skip


@pytest.mark.parametrize("name", ["D6", "D5"])  # blocked, up
def test_a_path_never_changes_the_mark_of_a_seat(screens: Callable[..., Screen], name: str) -> None:
    screen = screens()
    screen.show(setting(paths=()))
    plain = mark_of(screen, name)
    screen.show(setting(paths=swept(plan(), name)))
    assert mark_of(screen, name) == plain
    seat = next(seat for seat in plan().seats if seat.name == name)
    beside_px = mean(screen, (seat.x_mm + 42.5, seat.y_mm), 0)
    assert beside_px < 120  # the pocket itself is drawn, round the mark
