"""Words that get an outline when they matter more than the rest."""

from __future__ import annotations

from kivy.properties import BooleanProperty, NumericProperty, StringProperty

from kiosk.screen import theme
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.text import Text


class Outlined(Surface):
    """One line; ``near`` makes it bold, with an edge round it."""

    words = StringProperty("")
    near = BooleanProperty(False)
    cap = NumericProperty(theme.BODY_MM)
    there = NumericProperty(0.001)  # 1 when there are words: for a size hint

    def __init__(self, **kwargs):
        super().__init__(edge_px=0, fill=theme.GROUND, **kwargs)
        self.edge = theme.INK
        self._text = Text(most_lines=1)
        self.add_widget(self._text)
        self.bind(words=self._set, near=self._set, cap=self._set)
        self.bind(pos=self._arrange, size=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [self._text]

    def _set(self, *_):
        self.there = 1.0 if self.words else 0.001
        near = self.near and bool(self.words)
        self.fill, self.edge_px = (theme.WHITE, theme.thick()) if near else (theme.GROUND, 0)
        self._text.words, self._text.cap, self._text.bold = self.words, self.cap, near
        self._arrange()

    def _arrange(self, *_):
        pad = theme.mm(2.0) if self.edge_px else 0.0
        self._text.pos, self._text.size = (
            (self.x + pad, self.y),
            (self.width - 2 * pad, self.height),
        )
