"""A line with its sign: the step to do now is told from the others, without colour."""

from __future__ import annotations

from collections.abc import Callable

from screen_window import Screen

from kiosk.screen.show.shown import Row
from kiosk.screen.widgets.rows import RowLine


def test_only_the_step_to_do_now_is_bold_with_its_number_filled(
    screens: Callable[..., Screen],
) -> None:
    screens()
    line = RowLine()
    for present in (True, False, True):
        line.shown = Row("Wait for standstill", "2", present=present)
        assert (line._words.bold, line._number.filled) == (present, present)


def test_what_is_missing_is_bold_too(screens: Callable[..., Screen]) -> None:
    screens()
    line = RowLine()
    for mark, bold in (("no", True), ("bad", True), ("yes", False), ("wait", False)):
        line.shown = Row("Gauge value is old", mark)
        assert line._words.bold is bold
