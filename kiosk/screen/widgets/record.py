"""The gauge's trace of one past cycle against the levels of its plan: drawn once, not live."""

from __future__ import annotations

from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.drawn import Record
from kiosk.screen.widgets import fine
from kiosk.screen.widgets.text import Text

LEFT_MM = 20.0
RIGHT_MM = 22.0
AXIS_MM = 6.0
WORD_MM = 5.0
MARKS = 2


class _Picture(fine.Fine):
    """Bands up to each level, then lowest to highest of each part of the time."""

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.record = Record()

    def paint(self, width, height):
        marks = {mark.weight: mark.level for mark in self.record.marks}
        limit = height * marks.get("limit", 0.0)
        start = max(limit, height * marks.get("level", 0.0))
        for low, high, tone in (
            (0, height, theme.WHITE), (0, start, theme.BETWEEN), (0, limit, theme.BELOW),
        ):  # fmt: skip
            fine.color(tone)
            fine.box(0, low, width, high - low)
        self._paint_trace(width, height)
        fine.color(theme.INK)
        for mark in self.record.marks:
            thick = theme.thick() * 1.2 if mark.weight == "limit" else theme.thin() * 1.4
            fine.box(0, height * mark.level - thick / 2, width, thick)
        edge = theme.thin()
        for box in ((0, 0, width, edge), (0, height - edge, width, edge),
                    (0, 0, edge, height), (width - edge, 0, edge, height)):  # fmt: skip
            fine.box(*box)

    def _paint_trace(self, width, height):
        columns = self.record.trace
        each, pen = width / max(1, len(columns)), theme.thin() * 1.5
        fine.color(theme.INK)
        for at, column in enumerate(columns):
            if column is not None:
                low, high = (level * height for level in column)
                fine.box(at * each, low - pen / 2, max(each, pen), high - low + pen)
        fine.color(theme.SOFT)
        for at, unknown in enumerate(self.record.unknown):
            if unknown:  # a strip at the foot: there were samples, none of them valid
                fine.box(at * each, 0, max(each, pen), theme.mm(2.0))


class RecordBox(Widget):
    """Draws a ``Record``; nothing without a scale."""

    shown = ObjectProperty(Record())

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._picture = _Picture()
        self._lefts = [Text(halign="right", cap=theme.SMALL_MM) for _ in range(MARKS)]
        self._rights = [Text(cap=theme.SMALL_MM) for _ in range(MARKS)]
        self._top = Text(halign="right", valign="top", tone=theme.SOFT, cap=theme.SMALL_MM)
        self._gauge = Text(tone=theme.SOFT, cap=theme.SMALL_MM)
        self._long = Text(halign="right", tone=theme.SOFT, cap=theme.SMALL_MM)
        for child in (self._picture, *self.texts):
            self.add_widget(child)
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [*self._lefts, *self._rights, self._top, self._gauge, self._long]

    def _set(self, *_):
        shown = self.shown
        self.opacity = 1.0 if shown.top else 0.0
        self._picture.record = shown
        self._picture.redraw()
        self._top.words, self._gauge.words, self._long.words = shown.top, shown.gauge, shown.long
        for at, (left, right) in enumerate(zip(self._lefts, self._rights, strict=True)):
            there = at < len(shown.marks)
            left.words = shown.marks[at].left if there else ""
            right.words = shown.marks[at].right if there else ""
        self._arrange()

    def _arrange(self, *_):
        left, right, axis = theme.mm(LEFT_MM), theme.mm(RIGHT_MM), theme.mm(AXIS_MM)
        wide, tall = max(0.0, self.width - left - right), max(0.0, self.height - axis)
        x, y, word = self.x + left, self.y + axis, theme.mm(WORD_MM)
        self._picture.pos, self._picture.size = (x, y), (wide, tall)
        self._top.pos, self._top.size = (self.x, y + tall - word), (left - theme.mm(2), word)
        floor = y
        for at, mark in enumerate(self.shown.marks):  # the limit stands first, below the start
            line = y + tall * mark.level
            low = max(floor, line - word) if mark.weight == "limit" else max(floor, line)
            floor = low + word
            self._lefts[at].pos, self._lefts[at].size = (self.x, low), (left - theme.mm(2), word)
            self._rights[at].pos = (x + wide + theme.mm(2), low)
            self._rights[at].size = (right - theme.mm(2), word)
        for text in (self._gauge, self._long):
            text.pos, text.size = (x, self.y), (wide, axis)
