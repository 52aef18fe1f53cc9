"""A touch button that carries a row: a sign at the left, words and a detail."""

from __future__ import annotations

from kivy.properties import BooleanProperty, ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.shown import Button, Row
from kiosk.screen.widgets.marks import RowSign
from kiosk.screen.widgets.touch_button import TouchButton


class TileButton(TouchButton):
    """Draws ``row`` and its button."""

    row = ObjectProperty(Row(""))
    words_share = 0.46
    big = BooleanProperty(False)

    def __init__(self, **kwargs):
        self._sign = None
        super().__init__(**kwargs)
        self._sign = RowSign(size_hint=(None, None))
        self.add_widget(self._sign)
        self.bind(row=self._put, big=self._arrange)
        self._put()

    def _put(self, *_):
        self._sign.mark = self.row.mark
        self.shown = self.row.button or Button(words=self.row.words, enabled=False)
        self._arrange()

    def _colour(self):
        super()._colour()
        if self._sign is not None:
            self._sign.ground = self.fill

    def _place_words(self, x, y, width, height):
        if self._sign is None:
            return
        side = theme.mm(9.0) if self.row.mark else 0.0
        self._sign.size, self._sign.pos = (side, side), (x, (self.y + self.height / 2) - side / 2)
        if side:
            x, width = x + side + theme.mm(2.5), width - side - theme.mm(2.5)
        self._words.cap = theme.BODY_MM if side else 8.0 if self.big else 5.2
        super()._place_words(x, y, width, height)
        self._words.bold = self.row.mark not in ("warn", "yes")
        self._words.halign = self._detail.halign = "left" if side else "center"
        self._detail.cap = 4.4 if self.big else 3.6
