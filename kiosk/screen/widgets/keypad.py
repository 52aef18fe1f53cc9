"""Digits for one finger, beside who signs on and how many were typed.

Keys are at least 20 mm high with 3 mm between them, less than other touch places: a key is one of
many alike, is undone by the next, and the block must fit the smallest panel.  They stand as on a
telephone (ITU-T E.161).
"""

from __future__ import annotations

from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.shown import Button, Keypad
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.text import Text
from kiosk.screen.widgets.touch_button import TouchButton

ACROSS, DOWN = 3, 4
KEY_MM = 27.0  # width; the height is what the sheet has, at least 20 mm
KEY_GAP_MM = 3.0


class Key(TouchButton):
    """Takes the next touch sooner: digits follow each other quickly."""

    quiet_s = 0.06


class KeypadBox(Widget):
    """Draws a ``Keypad`` in its own box: words at the left, keys at the right."""

    shown = ObjectProperty(Keypad())
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._who = Text(bold=True, cap=7.0, most_lines=2)
        self._field = Surface(fill=theme.WHITE, edge=theme.INK)
        self._dots = Text(bold=True, cap=9.0, most_lines=1)
        self._said = Text(cap=theme.BODY_MM, valign="top")
        self.keys = [Key() for _ in range(ACROSS * DOWN)]
        for child in (self._who, self._field, self._dots, self._said, *self.keys):
            self.add_widget(child)
        for key in self.keys:
            key.bind(on_act=lambda _, shown: self.dispatch("on_act", shown))
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)

    def on_act(self, button):
        """Override or bind."""

    @property
    def texts(self):
        """Every block of words."""
        return [self._who, self._dots, self._said]

    @property
    def words_px(self):
        """Width beside the keys."""
        keys = ACROSS * theme.mm(KEY_MM) + (ACROSS - 1) * theme.mm(KEY_GAP_MM)
        return self.width - keys - theme.mm(theme.GAP_MM + 2)

    def _set(self, *_):
        shown = self.shown
        self._who.words, self._dots.words, self._said.words = shown.who, shown.dots, shown.said
        for at, key in enumerate(self.keys):
            there = at < len(shown.keys) and bool(shown.keys[at].words)
            key.opacity = 1.0 if there else 0.0
            key.shown = shown.keys[at] if there else Button(enabled=False)
            key._words.cap = 8.0 if len(key.shown.words) == 1 else theme.BODY_MM
        self._arrange()

    def _arrange(self, *_):
        wide, gap, there = theme.mm(KEY_MM), theme.mm(KEY_GAP_MM), bool(self.shown.keys)
        tall = (self.height - (DOWN - 1) * gap) / DOWN
        left = self.x + self.width - ACROSS * wide - (ACROSS - 1) * gap
        top = self.y + self.height
        for at, key in enumerate(self.keys):
            row, column = divmod(at, ACROSS)
            key.size = (wide, tall) if there and key.opacity else (0, 0)
            key.pos = (left + column * (wide + gap), top - (row + 1) * tall - row * gap)
        self._arrange_words(top - theme.mm(9), self.words_px)

    def _arrange_words(self, top, room):
        """Name, field and the small line, below the title; nothing of it without a keypad."""
        edge = theme.thick() if self.shown.keys else 0
        self._field.opacity = float(bool(self.shown.keys))
        self._field.edge_px = edge
        heights = (theme.mm(17), theme.mm(16), theme.mm(14))
        y = top
        for box, tall in zip((self._who, self._field, self._said), heights, strict=True):
            y -= tall
            box.pos, box.size = (self.x, y), (room, tall)
            y -= theme.mm(2)
        pad = theme.mm(3)
        self._dots.pos = (self._field.x + pad, self._field.y)
        self._dots.size = (max(0.0, room - 2 * pad), self._field.height)
