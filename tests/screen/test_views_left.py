"""What is taken off the screen is freed, so that a day of jobs takes no more memory than one."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from screen_plan import plan
from screen_scenes import DESK, snapshot
from screen_window import WORDS, Screen

from kiosk.screen.show import show
from kiosk.screen.views.board import TIDY_S


class Ring:
    """What only a collection frees."""

    def __init__(self) -> None:
        self.own = self


@pytest.fixture
def uncollected() -> Iterator[None]:
    """Only what the screen itself collects is collected."""
    gc.disable()
    yield
    gc.enable()


@pytest.mark.usefixtures("uncollected")
def test_a_view_that_was_left_is_freed_soon(screens: Callable[[], Screen]) -> None:
    screen = screens()
    screen.show(show(WORDS, snapshot("CUTTING"), plan(), DESK))
    left = weakref.ref(screen.board.view)
    screen.show(show(WORDS, snapshot("RELEASE"), plan(), DESK))
    assert left() is not screen.board.view
    screen.advance(TIDY_S + 0.2)
    assert left() is None


@pytest.mark.usefixtures("uncollected")
def test_what_a_sheet_showed_is_freed_when_it_is_closed(screens: Callable[[], Screen]) -> None:
    screen, open_desk = screens(), replace(DESK, overlay="permissives")
    screen.show(show(WORDS, snapshot("CHECKING"), plan(), open_desk))
    assert screen.board.sheet.parent is not None
    gc.collect()
    ring = Ring()
    left = weakref.ref(ring)
    del ring
    screen.show(show(WORDS, snapshot("CHECKING"), plan(), DESK))
    assert screen.board.sheet.parent is None
    assert left() is not None
    screen.advance(TIDY_S + 0.2)
    assert left() is None
