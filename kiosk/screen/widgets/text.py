"""Words in a box: wrapped, made smaller down to a least height, and never silently cut.

``cap`` is the wished capital height in mm, ``least`` the smallest allowed.  When the words do not
fit even then, they end in an ellipsis and ``clipped`` is True.
"""

from __future__ import annotations

from functools import lru_cache

from kivy.clock import Clock
from kivy.core.text import Label as CoreLabel
from kivy.graphics import Color, Rectangle
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    NumericProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.safely import safely

STEP_MM = 0.1
TAIL_SHARE = 0.2  # how far letters such as g hang below the line, of the size


@lru_cache(maxsize=64)
def _font(px, bold):
    return CoreLabel(font_size=px, bold=bold)


@lru_cache(maxsize=8192)
def width_px(text, px, bold):
    """Width of one line of text."""
    return _font(px, bold).get_extents(text)[0]


@lru_cache(maxsize=64)
def line_px(px, bold):
    """Distance from line to line."""
    return _font(px, bold).get_extents("Hg")[1]


def wrap(text, width, px, bold):
    """Lines no wider than ``width`` where words allow it; newlines stay."""
    lines = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if line and width_px(longer, px, bold) > width:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return lines


class Text(Widget):
    """A block of words."""

    words = StringProperty("")
    cap = NumericProperty(theme.BODY_MM)
    least = NumericProperty(theme.SMALL_MM)
    bold = BooleanProperty(False)
    tone = ColorProperty(theme.INK)
    halign = OptionProperty("left", options=("left", "center", "right"))
    valign = OptionProperty("middle", options=("top", "middle", "bottom"))
    most_lines = NumericProperty(0)
    clipped = BooleanProperty(False)
    cap_used = NumericProperty(0.0)
    there = NumericProperty(0.001)  # 1 when there are words: for a size hint

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        with self.canvas:
            self._color = Color(*self.tone)
            self._rect = Rectangle(size=(0, 0))
        self._drawn = None
        self._trigger = Clock.create_trigger(safely(self.fit), -1)
        self.bind(size=self._trigger, pos=self._place, tone=self._tint, words=self._trigger)
        self.bind(
            cap=self._trigger, least=self._trigger, bold=self._trigger, halign=self._trigger,
            valign=self._place, most_lines=self._trigger,
        )  # fmt: skip
        self._trigger()

    def _tint(self, *_):
        self._color.rgba = self.tone

    def fit(self, *_):
        """Choose the size, break the lines, draw the texture."""
        self.there = 1.0 if self.words else 0.001
        if self.width < 2 or self.height < 2 or not self.words:
            self._rect.size, self._drawn, self.clipped = (0, 0), None, False
            return
        px, lines, self.clipped = self._best()
        key = (px, tuple(lines), self.bold, self.halign)
        if key != self._drawn:
            self._drawn = key
            self._draw(px, lines)
        self._place()

    def fits(self):
        """Whether the box as it is now takes the words, if only at their least size."""
        return not self._best()[2]

    def _best(self):
        cap = self.cap
        while True:
            px = theme.font_px(cap)
            lines = wrap(self.words, self.width, px, self.bold)
            if self._fits(px, lines):
                self.cap_used = cap
                return px, lines, False
            if cap <= self.least + 1e-6:
                self.cap_used = cap
                return px, self._shortened(px, lines), True
            cap = max(self.least, cap - STEP_MM)

    def _room(self, px):
        """How many lines of this size the box takes: the first counts from capital to tail."""
        first = px * (theme.CAP_SHARE + 0.04)
        if self.height + 1 < first:
            return 0
        tails = first + px * (TAIL_SHARE * 2 if self.valign == "middle" else TAIL_SHARE)
        room = 1 + max(0, int((self.height + 1 - tails) // line_px(px, self.bold)))
        return min(room, self.most_lines) if self.most_lines else room

    def _fits(self, px, lines):
        if len(lines) > self._room(px):
            return False
        return all(width_px(line, px, self.bold) <= self.width for line in lines)

    def _shortened(self, px, lines):
        room = max(1, self._room(px))
        kept = lines[:room]
        more = len(lines) > room
        return [self._ellipsis(px, line, more and line is kept[-1]) for line in kept]

    def _ellipsis(self, px, line, more):
        if not more and width_px(line, px, self.bold) <= self.width:
            return line
        while line and width_px(line + "…", px, self.bold) > self.width:
            line = line[:-1]
        return line.rstrip() + "…"

    def _draw(self, px, lines):
        label = CoreLabel(
            text="\n".join(lines) or " ", font_size=px, bold=self.bold, halign=self.halign
        )
        label.refresh()
        self._rect.texture = label.texture
        self._rect.size = label.texture.size

    def _place(self, *_):
        if self._drawn is None:
            return
        px, lines = self._drawn[0], self._drawn[1]
        width, height = self._rect.size
        share = {"left": 0.0, "center": 0.5, "right": 1.0}[self.halign]
        x = self.x + (self.width - width) * share
        head = px * (theme.ASCENT_SHARE - theme.CAP_SHARE)  # above the first capital
        body = (len(lines) - 1) * line_px(px, self.bold) + px * theme.CAP_SHARE
        top = {
            "top": (self.y + self.height),
            "middle": (self.y + self.height / 2) + body / 2.0,
            "bottom": self.y + body,
        }[self.valign]
        self._rect.pos = (round(x), round(top + head - height))

    def height_for(self, lines):
        """Pixels that so many lines of the wished size take."""
        px = theme.font_px(self.cap)
        return (lines - 1) * line_px(px, self.bold) + px * 0.95
