"""Lines with a sign in front: steps, conditions, what is waited for."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.shown import Row
from kiosk.screen.widgets.marks import NumberSign, RowSign
from kiosk.screen.widgets.text import Text, width_px
from kiosk.screen.widgets.tile import TileButton


class RowLine(Widget):
    """One line: sign, words, and a detail at the right or below."""

    shown = ObjectProperty(Row(""))
    cap = NumericProperty(theme.BODY_MM)
    detail_mm = NumericProperty(0.0)
    ground = ColorProperty(theme.GROUND)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._sign = RowSign()
        self._number = NumberSign()
        self._words = Text()
        self._detail = Text(tone=theme.SOFT, cap=theme.SMALL_MM, valign="top")
        for child in (self._sign, self._number, *self.texts):
            self.add_widget(child)
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange, cap=self._set)
        self.bind(ground=self._set, detail_mm=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [self._words, self._detail]

    def _set(self, *_):
        row = self.shown
        number = row.mark.isdigit()
        self._sign.opacity, self._number.opacity = float(not number), float(number)
        self._sign.mark, self._sign.ground = "" if number else row.mark, self.ground
        self._number.number, self._number.ground = row.mark if number else "", self.ground
        self._number.filled = row.present
        self._words.words, self._words.cap = row.words, self.cap
        self._words.bold = row.present or row.mark in ("no", "bad")
        self._detail.words = row.detail
        self._arrange()

    def _arrange(self, *_):
        side = min(self.height * 0.94, theme.mm(self.cap * 2.2))
        for sign in (self._sign, self._number):
            sign.size, sign.pos = (side, side), (self.x, (self.y + self.height / 2) - side / 2)
        x = self.x + side + theme.mm(2.4)
        room = (self.x + self.width) - x
        if self.detail_mm:
            wide = width_px(self.shown.detail, theme.font_px(theme.SMALL_MM), False) + theme.mm(1)
            detail = min(theme.mm(self.detail_mm), wide) if self.shown.detail else 0.0
            self._words.pos, self._words.size = (x, self.y), (room - detail, self.height)
            self._detail.halign, self._detail.valign = "right", "middle"
            self._detail.pos, self._detail.size = (
                ((self.x + self.width) - detail, self.y),
                (detail, self.height),
            )
            return
        share = 0.42 if self.shown.detail else 1.0
        self._words.pos = (x, self.y + self.height * (1 - share))
        self._words.size = (room, self.height * share)
        self._detail.pos, self._detail.size = (x, self.y), (room, self.height * (1 - share))


class Rows(Widget):
    """Rows below each other, in one or more columns; made once for each place, then updated."""

    shown = ObjectProperty(())
    cap = NumericProperty(theme.BODY_MM)
    row_mm = NumericProperty(9.0)
    columns = NumericProperty(1)
    detail_mm = NumericProperty(0.0)
    ground = ColorProperty(theme.GROUND)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._lines = []
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange, columns=self._arrange)
        self.bind(cap=self._set, row_mm=self._arrange, detail_mm=self._set, ground=self._set)

    def _set(self, *_):
        while len(self._lines) < len(self.shown):
            line = RowLine()
            self._lines.append(line)
            self.add_widget(line)
        for at, line in enumerate(self._lines):
            there = at < len(self.shown)
            line.opacity = 1.0 if there else 0.0
            line.cap, line.detail_mm, line.ground = self.cap, self.detail_mm, self.ground
            line.shown = self.shown[at] if there else Row("")
        self._arrange()

    def _arrange(self, *_):
        if not self.shown:
            return
        per_column = -(-len(self.shown) // self.columns)
        gap = theme.mm(5.0)
        wide = (self.width - gap * (self.columns - 1)) / self.columns
        tall = min(theme.mm(self.row_mm), self.height / per_column)
        for at, line in enumerate(self._lines[: len(self.shown)]):
            column, row = divmod(at, per_column)
            line.size = (wide, tall)
            line.pos = (self.x + column * (wide + gap), (self.y + self.height) - tall * (row + 1))


class Grid(Widget):
    """Touch buttons in a grid, made once for each place, then updated; dispatches ``on_act``."""

    shown = ObjectProperty(())
    columns = NumericProperty(2)
    lines = NumericProperty(2)
    big = BooleanProperty(False)
    words_share = NumericProperty(TileButton.words_share)
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.buttons = []
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)
        self.bind(columns=self._arrange, lines=self._arrange, big=self._arrange)

    def on_act(self, button):
        """Override or bind."""

    def _set(self, *_):
        while len(self.buttons) < len(self.shown):
            button = TileButton()
            button.words_share = self.words_share
            button.bind(on_act=lambda _, shown: self.dispatch("on_act", shown))
            self.buttons.append(button)
            self.add_widget(button)
        for at, button in enumerate(self.buttons):
            there = at < len(self.shown)
            button.opacity = 1.0 if there else 0.0
            if there:
                button.row = self.shown[at]
            else:
                button.size = (0, 0)
        self._arrange()

    def _arrange(self, *_):
        gap = theme.mm(theme.GAP_MM)
        wide = (self.width - gap * (self.columns - 1)) / self.columns
        below = theme.mm(theme.GAP_MM / 2)  # so that the rail's buttons are a gap away
        tall = (self.height - below - gap * (self.lines - 1)) / self.lines
        for at, button in enumerate(self.buttons[: len(self.shown)]):
            line, column = divmod(at, int(self.columns))
            button.size, button.big = (wide, tall), self.big
            button.pos = (
                self.x + column * (wide + gap),
                (self.y + self.height) - tall * (line + 1) - gap * line,
            )
