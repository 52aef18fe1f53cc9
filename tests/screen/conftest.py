"""Fixtures of the screen's tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from screen_window import Screen


@pytest.fixture
def screens() -> Iterator[Callable[[str], Screen]]:
    """Make a screen of a named size; all are taken away afterwards."""
    made: list[Screen] = []

    def make(size: str = "1280x800") -> Screen:
        for old in made:
            old.close()
        made.append(Screen(size))
        return made[-1]

    yield make
    for screen in made:
        screen.close()
