"""The instrument: a column of fixed scale, and beside it the last minute on the same scale.

The trace is drawn as lowest and highest value per column of pixels, each as wide and as high as
the pen, so that a steep fall is as thick as a level line.
"""

from __future__ import annotations

from kivy.graphics import Color, Mesh, Rectangle
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.drawn import Scale
from kiosk.screen.widgets.panel import hatch_texture, tile
from kiosk.screen.widgets.text import Text

MARKS = 3
TRACE_LEAST_MM = 8.0  # narrower, and there is no trace
TICKS = 7  # every ten seconds
HALF_LEAST_MM = 60.0  # narrower, and the middle of the axis has no word
TICK_LEAST_MM = 30.0  # narrower, and a trace has no ticks
LEFT_LEAST_MM = 10.0  # narrower, and the words at the left are left out
TONES = {"plain": theme.SLATE, "low": theme.SLATE, "lost": theme.FIRST, "none": theme.EDGE}


class Instrument(Widget):
    """Left words, trace, column, right words; the marks run across trace and column."""

    shown = ObjectProperty(Scale())
    left_mm = NumericProperty(17.0)
    right_mm = NumericProperty(30.0)
    column_mm = NumericProperty(13.0)
    word_mm = NumericProperty(theme.SMALL_MM + 0.1)
    axis_mm = NumericProperty(0.0)  # below the trace, for the words of its axis

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._bands = {}
        self._make_trace()
        self._make_column()
        self._make_marks()
        self._make_words()
        self.bind(shown=self.draw, pos=self.draw, size=self.draw)
        self.bind(left_mm=self.draw, right_mm=self.draw, column_mm=self.draw, word_mm=self.draw)
        self.bind(axis_mm=self.draw)

    # -- retained instructions, made once

    def _rect(self, rgba):
        with self.canvas:
            color = Color(*rgba)
            return color, Rectangle(size=(0, 0))

    def _make_trace(self):
        self._frame = self._rect(theme.EDGE)[1]
        self._above = self._rect(theme.WHITE)[1]
        self._between = self._rect(theme.BETWEEN)[1]
        self._below = self._rect(theme.BELOW)[1]
        with self.canvas:
            Color(*theme.EDGE)
            self._ticks = [Rectangle(size=(0, 0)) for _ in range(TICKS)]
            Color(*theme.INK)
            self._line = Mesh(mode="triangles")

    def _make_column(self):
        self._column_edge = self._rect(theme.INK)[1]
        self._column_above = self._rect(theme.WHITE)[1]
        self._column_between = self._rect(theme.BETWEEN)[1]
        self._column_below = self._rect(theme.BELOW)[1]
        self._column_unknown = self._rect((1, 1, 1, 1))[1]
        self._column_unknown.texture = hatch_texture(theme.EDGE, theme.WHITE)
        self._fill_color, self._fill = self._rect(theme.SLATE)

    def _make_marks(self):
        self._mark_rects = [self._rect(theme.INK) for _ in range(MARKS)]
        with self.canvas:
            Color(*theme.INK)
            self._pointer = Mesh(mode="triangles")

    def _make_words(self):
        self._lefts = [Text(halign="right") for _ in range(MARKS)]
        self._rights = [Text(halign="left") for _ in range(MARKS)]
        self._top = Text(halign="left", valign="top", tone=theme.SOFT)
        self._zero = Text(halign="left", valign="bottom", tone=theme.SOFT, words="0")
        self._window = Text(halign="right", valign="bottom", tone=theme.SOFT)
        self._axis = [Text(halign=side, tone=theme.SOFT) for side in ("left", "center", "right")]
        for text in self.texts:
            self.add_widget(text)

    @property
    def texts(self):
        """Every block of words."""
        return [*self._lefts, *self._rights, self._top, self._zero, self._window,
                *self._axis]  # fmt: skip

    @property
    def trace_px(self):
        """Width of the trace in pixels: how many columns it takes."""
        left, right = theme.mm(self.left_mm), theme.mm(self.right_mm)
        room = int(self.width - left - right - theme.mm(self.column_mm))
        return room if room >= theme.mm(TRACE_LEAST_MM) else 0

    # -- update in place

    def draw(self, *_):
        if self.width < 10 or self.height < 10:
            return
        self._lay()
        self._draw_bands()
        self._draw_trace()
        self._draw_level()
        self._draw_marks()
        self._draw_words()
        self._draw_axis()

    def _lay(self):
        self._x = self.x + theme.mm(self.left_mm)
        self._column_x = self._x + self.trace_px
        self._column_width = theme.mm(self.column_mm)
        axis = theme.mm(self.axis_mm)
        self._bottom, self._tall = self.y + axis, self.height - axis
        edge = theme.thin()
        self._frame.pos = (self._x, self._bottom)
        self._frame.size = (self.trace_px, self._tall)
        self._column_edge.pos = (self._column_x, self._bottom)
        self._column_edge.size = (self._column_width, self._tall)
        self._edge = edge

    def _y(self, level):
        inner = self._tall - 2 * self._edge
        return round(self._bottom + self._edge + inner * level)

    def _draw_bands(self):
        limit = self._level_of("limit", 0.0)
        start = max(limit, self._level_of("level", limit))
        edge, low, high = self._edge, self._y(limit), self._y(start)
        top, bottom = self._y(1.0), self._y(0.0)
        trace_width = max(0, self.trace_px - edge)
        for x, width, rects in (
            (self._x + edge, trace_width, (self._below, self._between, self._above)),
            (
                self._column_x + edge, self._column_width - 2 * edge,
                (self._column_below, self._column_between, self._column_above),
            ),
        ):  # fmt: skip
            for rect, y0, y1 in zip(rects, (bottom, low, high), (low, high, top), strict=True):
                rect.pos, rect.size = (x, y0), (max(0, width), max(0, y1 - y0))

    def _level_of(self, weight, default):
        return next((m.level for m in self.shown.marks if m.weight == weight), default)

    def _draw_trace(self):
        columns = self.shown.trace[-self.trace_px :] if self.trace_px else ()
        x0, pen = self._column_x - len(columns), max(2.0, theme.thin() * 1.5)
        vertices, indices = [], []
        for at, column in enumerate(columns):
            if column is None:
                continue
            left = max(self._x, x0 + at + 0.5 - pen / 2)
            right = min(self._column_x, left + pen)
            low, high = self._y(column[0]) - pen / 2, self._y(column[1]) + pen / 2
            first = len(vertices) // 4
            for x, y in ((left, low), (right, low), (right, high), (left, high)):
                vertices.extend((x, y, 0, 0))
            indices.extend(first + corner for corner in (0, 1, 2, 0, 2, 3))
        self._line.vertices, self._line.indices = vertices, indices

    def _draw_axis(self):
        """A tick for every ten seconds; below a wide trace its ends in words."""
        there = self.trace_px > theme.mm(TICK_LEAST_MM)
        wide, tall = theme.thin(), theme.mm(1.6)
        for at, tick in enumerate(self._ticks):
            x = self._x + (self.trace_px - wide) * at / (TICKS - 1)
            tick.pos = (round(x), self._bottom)
            tick.size = (wide, tall) if there else (0, 0)
        half = self.shown.half if self.trace_px > theme.mm(HALF_LEAST_MM) else ""
        words = (self.shown.ago, half, self.shown.now) if self.axis_mm else ("",) * 3
        for text, said in zip(self._axis, words, strict=True):
            text.words, text.cap = said, theme.SMALL_MM
            text.pos, text.size = (self._x, self.y), (self.trace_px, theme.mm(self.axis_mm))

    def _draw_level(self):
        edge, shown = self._edge, self.shown
        inner = self._column_width - 2 * edge
        unknown = shown.level is None
        self._column_unknown.pos = (self._column_x + edge, self._y(0.0))
        tall = self._y(1.0) - self._y(0.0)
        self._column_unknown.size = (inner, tall) if unknown else (0, 0)
        if unknown:
            tile(self._column_unknown, self._column_unknown.texture)
        self._fill_color.rgba = TONES[shown.tone]
        wide = inner * 0.56
        height = 0 if unknown else self._y(shown.level) - self._y(0.0)
        self._fill.pos = (self._column_x + edge + (inner - wide) / 2, self._y(0.0))
        self._fill.size = (wide, height)
        self._draw_pointer(unknown)

    def _draw_pointer(self, unknown):
        if unknown:
            self._pointer.vertices, self._pointer.indices = [], []
            return
        size = theme.mm(3.2)
        x, y = self._column_x + self._column_width, self._y(self.shown.level)
        self._pointer.vertices = [
            x - size * 0.4, y, 0, 0, x + size, y + size * 0.7, 0, 0, x + size, y - size * 0.7, 0, 0,
        ]  # fmt: skip
        self._pointer.indices = [0, 1, 2]

    def _draw_marks(self):
        over = theme.mm(1.5)
        for at, (color, rect) in enumerate(self._mark_rects):
            if at >= len(self.shown.marks):
                rect.size = (0, 0)
                continue
            mark = self.shown.marks[at]
            wide = {"limit": theme.thick() * 1.2, "level": theme.thin() * 1.4}.get(
                mark.weight, theme.thin()
            )
            color.rgba = theme.INK if mark.weight != "hint" else theme.SOFT
            rect.pos = (self._x - over, round(self._y(mark.level) - wide / 2))
            rect.size = (self.trace_px + self._column_width + 2 * over, round(max(1, wide)))

    def _draw_words(self):
        heights = self._word_levels()
        tall = theme.mm(self.word_mm * 1.45)
        for at in range(MARKS):
            left, right = self._lefts[at], self._rights[at]
            there = at < len(self.shown.marks)
            wide = self.left_mm > LEFT_LEAST_MM
            left.words = self.shown.marks[at].left if there and wide else ""
            right.words = self.shown.marks[at].right if there else ""
            if not there:
                continue
            for text in (left, right):
                text.cap = self.word_mm
                text.height, text.y = tall, heights[at]
            gap = theme.mm(2.2)
            left.x, left.width = self.x, theme.mm(self.left_mm) - gap
            right.x = self._column_x + self._column_width + theme.mm(4.6)
            right.width = (self.x + self.width) - right.x
        self._draw_ends(tall)

    def _word_levels(self):
        """Bottom of each mark's words: the limit's below its line, others above."""
        tall = theme.mm(self.word_mm * 1.45)
        marks = list(self.shown.marks)
        found = [0.0] * len(marks)
        floor = self._bottom
        for at in sorted(range(len(marks)), key=lambda k: marks[k].level):
            line = self._y(marks[at].level)
            wish = line - tall if marks[at].weight == "limit" and len(marks) > 1 else line
            if len(marks) == 1:
                wish = line
            found[at] = max(wish, floor)
            floor = found[at] + tall
        top = self._bottom + self._tall
        for at in sorted(range(len(marks)), key=lambda k: -marks[k].level):
            found[at] = min(found[at], top - tall)
            top = found[at]
        return found

    def _draw_ends(self, tall):
        x = self._column_x + self._column_width + theme.mm(4.6)
        highest = max((t.y + t.height for t in self._rights if t.words), default=self._bottom)
        lowest = min((t.y for t in self._rights if t.words), default=self._bottom + self._tall)
        for text, y in ((self._top, self._bottom + self._tall - tall), (self._zero, self._bottom)):
            text.pos, text.size, text.cap = (
                (x, y),
                (max(0, (self.x + self.width) - x), tall),
                theme.SMALL_MM,
            )
        self._top.words = self.shown.top if self._top.y >= highest else ""
        self._zero.words = "0" if self._zero.y + tall <= lowest else ""
        self._draw_window(tall)

    def _draw_window(self, tall):
        """How long the trace is: at its foot, outside, so that it covers nothing."""
        wide = self.left_mm > LEFT_LEAST_MM and self.trace_px > theme.mm(20)
        lowest = min((t.y for t in self._lefts if t.words), default=self._bottom + self._tall)
        free = lowest - self._bottom >= 2 * tall
        self._window.words = self.shown.window if wide and free and not self.axis_mm else ""
        gap = theme.mm(2.2)
        self._window.size = (max(0, theme.mm(self.left_mm) - gap), 2 * tall)
        self._window.pos = (self.x, self._bottom)
        self._window.cap = theme.SMALL_MM
