"""Signs of our own, told apart by shape and not by colour alone.

Priorities: octagon 1, triangle 2, square 3.  Rows: tick, cross, open ring, triangle, number.
"""

from __future__ import annotations

import math

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.widgets import fine
from kiosk.screen.widgets.fine import Fine
from kiosk.screen.widgets.text import Text


class _Sign(Fine):
    """A square sign in the middle of its box."""

    def paint(self, width, height):
        side = min(width, height)
        self.sign(width / 2.0, height / 2.0, side / 2.0)

    def sign(self, x, y, r):
        """Draw round the middle, ``r`` is half the side."""


class PriorityShape(_Sign):
    """The shape of an alarm priority; 0 is a quiet ring.  ``hollow``: seen already."""

    priority = NumericProperty(0)
    hollow = BooleanProperty(False)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.bind(priority=self.redraw, hollow=self.redraw)

    def sign(self, x, y, r):
        edge = max(1.5, r * 0.09)
        if not self.priority:
            fine.color(theme.EDGE)
            fine.disc(x, y, r * 0.62)
            fine.color(self.ground)
            fine.disc(x, y, r * 0.62 - edge)
            return
        points = _outline(self.priority, x, y, r)
        fine.color(theme.WHITE if self.hollow else theme.PRIORITY[self.priority])
        fine.polygon(points)
        fine.color(theme.PRIORITY[self.priority] if self._colour_edge() else theme.INK)
        fine.stroke(points, edge * (2.0 if self.hollow else 1.0), close=True)

    def _colour_edge(self):
        return self.hollow and self.priority != 2  # yellow alone is no edge on paper


def _outline(priority, x, y, r):
    if priority == 1:
        return fine.corners(8, x, y, r * 0.94, math.pi / 8)
    if priority == 2:
        return fine.corners(3, x, y - r * 0.22, r * 1.06, math.pi / 2)
    return fine.corners(4, x, y, r * 1.12, math.pi / 4)


class PriorityMark(Widget):
    """Shape and number of a priority."""

    priority = NumericProperty(0)
    hollow = BooleanProperty(False)
    ground = ColorProperty(theme.GROUND)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._shape = PriorityShape(ground=self.ground)
        self._number = Text(bold=True, halign="center", least=theme.SMALL_MM)
        self.add_widget(self._shape)
        self.add_widget(self._number)
        self.bind(
            priority=self._set, hollow=self._set, ground=self._set, pos=self._set, size=self._set
        )
        self._set()

    def _set(self, *_):
        shape, number = self._shape, self._number
        shape.priority, shape.hollow, shape.ground = self.priority, self.hollow, self.ground
        number.words = str(self.priority) if self.priority else ""
        plain = self.hollow or not self.priority
        number.tone = theme.INK if plain else theme.ON_PRIORITY[self.priority]
        number.cap = max(theme.SMALL_MM, self.height / theme.mm(1) * 0.42)
        low = -0.11 if self.priority == 2 else 0.0
        for child in (shape, number):
            child.size, child.pos = self.size, self.pos
        number.y = self.y + self.height * low


class RowSign(_Sign):
    """yes: tick; no: cross; wait: open ring; ask: arrow head; warn: triangle; bad: barred ring."""

    mark = StringProperty("")

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.bind(mark=self.redraw)

    def sign(self, x, y, r):
        draw = getattr(self, f"_{self.mark}", None)
        if draw is not None:
            draw(x, y, r)

    def _yes(self, x, y, r):
        fine.color(theme.INK)
        points = [(x - 0.55 * r, y), (x - 0.15 * r, y - 0.42 * r), (x + 0.6 * r, y + 0.5 * r)]
        fine.stroke(points, r * 0.24)

    def _picked(self, x, y, r):
        fine.color(theme.INK)
        fine.disc(x, y, r * 0.72)
        fine.color(self.ground)
        points = [(x - 0.34 * r, y), (x - 0.1 * r, y - 0.26 * r), (x + 0.36 * r, y + 0.3 * r)]
        fine.stroke(points, r * 0.18)

    def _no(self, x, y, r):
        fine.color(theme.INK)
        fine.box(x - 0.75 * r, y - 0.75 * r, 1.5 * r, 1.5 * r)
        fine.color(theme.WHITE)
        d = 0.38 * r
        fine.stroke([(x - d, y - d), (x + d, y + d)], r * 0.22)
        fine.stroke([(x - d, y + d), (x + d, y - d)], r * 0.22)

    def _wait(self, x, y, r):
        self._ring(x, y, r * 0.62, r * 0.16, theme.INK)

    def _pick(self, x, y, r):
        self._ring(x, y, r * 0.72, r * 0.12, theme.INK)

    def _ask(self, x, y, r):
        fine.color(theme.INK)
        fine.polygon(fine.corners(3, x - 0.15 * r, y, r * 0.66))

    def _bad(self, x, y, r):
        self._ring(x, y, r * 0.66, r * 0.16, theme.INK)
        fine.color(theme.INK)
        fine.stroke([(x - 0.44 * r, y - 0.44 * r), (x + 0.44 * r, y + 0.44 * r)], r * 0.16)

    def _warn(self, x, y, r):
        points = fine.corners(3, x, y - r * 0.2, r * 1.0, math.pi / 2)
        fine.color(theme.SECOND)
        fine.polygon(points)
        fine.color(theme.INK)
        fine.stroke(points, r * 0.12, close=True)
        fine.stroke([(x, y + 0.3 * r), (x, y - 0.18 * r)], r * 0.17)
        fine.disc(x, y - 0.46 * r, r * 0.11)

    def _ring(self, x, y, radius, width, rgba):
        fine.color(rgba)
        fine.disc(x, y, radius)
        fine.color(self.ground)
        fine.disc(x, y, radius - width)


class NumberSign(Widget):
    """A step's number in a ring; the first one filled."""

    number = StringProperty("1")
    filled = BooleanProperty(False)
    ground = ColorProperty(theme.GROUND)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._disc = _Disc(ground=self.ground)
        self._text = Text(bold=True, halign="center")
        self.add_widget(self._disc)
        self.add_widget(self._text)
        self.bind(
            number=self._set, filled=self._set, pos=self._set, size=self._set, ground=self._set
        )
        self._set()

    def _set(self, *_):
        self._disc.filled, self._disc.ground = self.filled, self.ground
        self._text.words = self.number
        self._text.cap = theme.SMALL_MM if len(self.number) > 1 else theme.BODY_MM
        self._text.tone = theme.WHITE if self.filled else theme.INK
        for child in (self._disc, self._text):
            child.size, child.pos = self.size, self.pos


class _Disc(_Sign):
    filled = BooleanProperty(False)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.bind(filled=self.redraw)

    def sign(self, x, y, r):
        fine.color(theme.INK)
        fine.disc(x, y, r * 0.96)
        if not self.filled:
            fine.color(self.ground)
            fine.disc(x, y, r * 0.96 - max(1.5, r * 0.1))


class StateSign(_Sign):
    """What the contacts stand for: a gate, its bar down or raised; shapes when something is wrong.

    ``tone``: plain (bar down) | permit (bar raised) | low (triangle) | lost (octagon) | dead.
    """

    tone = StringProperty("plain")
    ink = ColorProperty(theme.WHITE)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.bind(tone=self.redraw, ink=self.redraw)

    def sign(self, x, y, r):
        getattr(self, f"_{self.tone}", self._plain)(x, y, r)

    def _plain(self, x, y, r):
        self._posts(x, y, r)
        fine.stroke([(x - 0.62 * r, y + 0.22 * r), (x + 0.8 * r, y + 0.22 * r)], r * 0.3)

    def _permit(self, x, y, r):
        self._posts(x, y, r)
        fine.stroke([(x - 0.62 * r, y + 0.1 * r), (x + 0.3 * r, y + 0.82 * r)], r * 0.3)

    def _posts(self, x, y, r):
        """A gate post on its foot, and the rest at the far side."""
        fine.color(self.ink)
        fine.box(x - 0.79 * r, y - 0.85 * r, 0.34 * r, 1.2 * r)
        fine.box(x - 0.95 * r, y - 0.85 * r, 0.66 * r, 0.2 * r)
        fine.box(x + 0.62 * r, y - 0.85 * r, 0.2 * r, 0.74 * r)

    def _low(self, x, y, r):
        fine.color(theme.INK)
        fine.polygon(fine.corners(3, x, y - r * 0.2, r * 1.08, math.pi / 2))
        fine.color(theme.SECOND)
        fine.box(x - 0.09 * r, y - 0.2 * r, 0.18 * r, 0.6 * r)
        fine.box(x - 0.09 * r, y - 0.5 * r, 0.18 * r, 0.18 * r)

    def _lost(self, x, y, r):
        fine.color(theme.WHITE)
        fine.polygon(fine.corners(8, x, y, r * 0.94, math.pi / 8))
        fine.color(theme.FIRST)
        d = 0.4 * r
        fine.stroke([(x - d, y - d), (x + d, y + d)], r * 0.24)
        fine.stroke([(x - d, y + d), (x + d, y - d)], r * 0.24)

    def _dead(self, x, y, r):
        fine.color(self.ink)
        fine.stroke([(x - 0.8 * r, y), (x - 0.25 * r, y)], r * 0.2)
        fine.stroke([(x + 0.25 * r, y), (x + 0.8 * r, y)], r * 0.2)
        fine.stroke([(x - 0.12 * r, y - 0.5 * r), (x - 0.02 * r, y + 0.5 * r)], r * 0.14)
        fine.stroke([(x + 0.1 * r, y - 0.5 * r), (x + 0.2 * r, y + 0.5 * r)], r * 0.14)


class CautionSign(_Sign):
    """A triangle with a bar and a dot, in ink: the alarm colours are not used for cautions."""

    def sign(self, x, y, r):
        points = fine.corners(3, x, y - r * 0.2, r * 1.08, math.pi / 2)
        fine.color(theme.WHITE)
        fine.polygon(points)
        fine.color(theme.INK)
        fine.stroke(points, r * 0.16, close=True)
        fine.stroke([(x, y + 0.32 * r), (x, y - 0.16 * r)], r * 0.18)
        fine.disc(x, y - 0.46 * r, r * 0.12)
