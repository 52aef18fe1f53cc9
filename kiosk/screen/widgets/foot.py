"""The caution of the step, and what the panel is not: on every screen."""

from __future__ import annotations

from kivy.graphics import Color, Rectangle
from kivy.properties import ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.shown import Foot
from kiosk.screen.widgets.marks import CautionSign
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.text import Text, width_px


class FootBar(Surface):
    """Draws a ``Foot``."""

    shown = ObjectProperty(Foot())

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.edge_px, self.fill = 0, theme.PAPER
        self._sign = CautionSign(ground=theme.PAPER)
        self._signal = Text(bold=True, cap=theme.SMALL_MM + 0.2, most_lines=1)
        self._text = Text(cap=3.8)
        self._aid = Text(cap=theme.SMALL_MM, tone=theme.SOFT, halign="right")
        for child in (self._sign, *self.texts):
            self.add_widget(child)
        with self.canvas.after:
            Color(*theme.EDGE)
            self._rule, self._split = Rectangle(), Rectangle()
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [self._signal, self._text, self._aid]

    def _set(self, *_):
        self._signal.words, self._text.words = self.shown.signal, self.shown.text
        self._aid.words = self.shown.aid
        self._arrange()

    def _arrange(self, *_):
        pad, side = theme.mm(4.0), min(self.height - theme.mm(2), theme.mm(9.0))
        self._sign.size, self._sign.pos = (
            (side, side),
            (self.x + pad, (self.y + self.height / 2) - side / 2),
        )
        x = self._sign.right + theme.mm(2)
        wide = width_px(self.shown.signal, theme.font_px(theme.SMALL_MM + 0.2), True) + 2
        self._signal.pos, self._signal.size = (x, self.y), (wide, self.height)
        x += wide + theme.mm(4.0)
        lines = self.shown.aid.split("\n")
        px = theme.font_px(theme.SMALL_MM)
        aid = max(width_px(line, px, False) for line in lines) + 2
        self._aid.pos, self._aid.size = (
            ((self.x + self.width) - pad - aid, self.y),
            (aid, self.height),
        )
        self._text.pos = (x, self.y)
        self._text.size = (max(0.0, self._aid.x - theme.mm(4) - x), self.height)
        self._rule.pos, self._rule.size = (self.x, (self.y + self.height) - 1), (self.width, 1)
        self._split.pos = (self._aid.x - theme.mm(2), self.y + theme.mm(2))
        self._split.size = (1, self.height - theme.mm(4))
