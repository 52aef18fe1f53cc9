"""What is taken off the screen is freed, so that a day of jobs takes no more memory than one."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Callable, Iterator

import pytest
from screen_scenes import DESK, plan, snapshot
from screen_window import WORDS, Screen

from kiosk.screen.show import show
from kiosk.screen.views.board import TIDY_S


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
