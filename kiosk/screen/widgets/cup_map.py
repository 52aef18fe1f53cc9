"""The map of the grid: seats, part, cutter's path, pins, and where the part would go first.

Marks of our own: up = filled disc with a chevron, still to turn up = ring with a chevron,
down = thin ring with a dot, under a cut = hatched, pin = square with a cross.
"""

from __future__ import annotations

import math
from itertools import pairwise

from kivy.graphics import Color, Rectangle
from kivy.properties import BooleanProperty, ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.drawn import CupMapShown
from kiosk.screen.widgets import fine
from kiosk.screen.widgets.fine import Fine
from kiosk.screen.widgets.tags import beside
from kiosk.screen.widgets.text import Text, line_px, width_px

DARK = 2  # shade from which a band is dark


def seat_up(x, y, r):
    """Turned up and confirmed."""
    fine.color(theme.INK)
    fine.disc(x, y, r)
    _chevron(x, y, r, theme.WHITE, 0.2)


def seat_turn(x, y, r, current):
    """Still to be turned up; heavier in the zone being set."""
    fine.color(theme.INK)
    fine.disc(x, y, r)
    fine.color(theme.WHITE)
    fine.disc(x, y, r - max(1.5, r * (0.17 if current else 0.1)))
    _chevron(x, y, r, theme.INK, 0.2 if current else 0.12)


def seat_down(x, y, r, current):
    """Left down."""
    ink = theme.INK if current else theme.EDGE
    r *= 0.74
    fine.color(ink)
    fine.disc(x, y, r)
    fine.color(theme.PAPER)
    fine.disc(x, y, r - max(1.2, r * 0.1))
    fine.color(ink)
    fine.disc(x, y, max(1.5, r * 0.17))


def seat_blocked(x, y, r):
    """Under a cut: must stay down."""
    r *= 0.86
    fine.color(theme.INK)
    fine.disc(x, y, r)
    fine.color(theme.PAPER)
    fine.disc(x, y, r - max(1.2, r * 0.1))
    fine.color(theme.INK)
    for share in (-0.6, -0.2, 0.2, 0.6):
        half = (r * 0.9) * math.sqrt(1 - share * share)
        d, h = share * r * 0.9 / math.sqrt(2), half / math.sqrt(2)
        fine.stroke([(x + d - h, y - d - h), (x + d + h, y - d + h)], max(1.2, r * 0.1))


def pin(x, y, r):
    """A locating pin."""
    fine.color(theme.WHITE)
    fine.box(x - r, y - r, 2 * r, 2 * r)
    fine.color(theme.INK)
    width = max(1.5, r * 0.24)
    fine.stroke([(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)], width, close=True)
    fine.stroke([(x - r, y), (x + r, y)], width)
    fine.stroke([(x, y - r), (x, y + r)], width)


def _chevron(x, y, r, rgba, width):
    fine.color(rgba)
    fine.stroke(
        [(x - 0.4 * r, y - 0.2 * r), (x, y + 0.24 * r), (x + 0.4 * r, y - 0.2 * r)], r * width
    )


class CupMap(Fine):
    """Draws a ``CupMapShown`` as large as its box allows."""

    shown = ObjectProperty(CupMapShown())
    names = BooleanProperty(True)

    def __init__(self, **kwargs):
        kwargs.setdefault("ground", theme.PAPER)
        super().__init__(**kwargs)
        self._labels, self._named = [], []
        self._empty = Text(halign="center", tone=theme.SOFT)
        self.add_widget(self._empty)
        self.bind(shown=self.redraw, names=self.redraw)

    @property
    def texts(self):
        """Every block of words."""
        return [self._empty]

    def paint(self, width, height):
        shown = self.shown
        fine.color(theme.EDGE)
        edge = theme.thin()
        for x, y, w, h in (
            (0, 0, width, edge), (0, height - edge, width, edge),
            (0, 0, edge, height), (width - edge, 0, edge, height),
        ):  # fmt: skip
            fine.box(x, y, w, h)
        self._empty.words, self._empty.pos, self._empty.size = shown.empty, self.pos, self.size
        if shown.seats:
            self._fit(width, height)
            self._paint_part()
            self._paint_seats()
            self._paint_lines()

    def painted(self):
        self._draw_labels()

    # -- from mm on the grid to pixels

    def _fit(self, width, height):
        left, bottom, right, top = self.shown.extent
        pad = theme.mm(2.2)
        label = theme.mm(8.5) if self.names else 0.0
        room_x, room_y = width - 2 * pad - label, height - 2 * pad - label
        self.scale = min(room_x / (right - left), room_y / (top - bottom))
        self._dx = pad + label + (room_x - self.scale * (right - left)) / 2 - self.scale * left
        self._dy = pad + label + (room_y - self.scale * (top - bottom)) / 2 - self.scale * bottom

    def _at(self, point):
        return self._dx + self.scale * point[0], self._dy + self.scale * point[1]

    def _all(self, points):
        return [self._at(point) for point in points]

    # -- layers

    def _paint_part(self):
        """The blank as white paper; what a through-cut takes as a band of the cutter's width."""
        outline = self._all(self.shown.outline)
        if len(outline) >= 3:
            fine.color(theme.WHITE)
            fine.area(outline)
            for opening in self.shown.openings:
                fine.color(theme.PAPER)
                fine.area(self._all(opening))
        self._paint_loose()
        for path in self.shown.paths:
            if path.through and len(path.points) > 1:
                fine.color(theme.SHADES[path.shade])
                fine.stroke(self._all(path.points), max(2.0, path.width_mm * self.scale))

    def _paint_loose(self):
        """A piece that nothing holds, hatched the other way than a seat under a cut."""
        for rings in self.shown.loose:
            drawn = [self._all(ring) for ring in rings]
            fine.color(theme.INK)
            for ends in fine.hatch(drawn, theme.mm(1.3)):
                fine.stroke(ends, theme.thin() * 0.8)
            fine.stroke(drawn[0], theme.thin(), close=True)

    def _paint_seats(self):
        r = self.shown.seat_mm * self.scale / 2.0
        ring = self.shown.band is None
        for seat in self.shown.seats:
            x, y = self._at((seat.x_mm, seat.y_mm))
            if seat.current and ring:
                fine.color(theme.ASK)
                fine.disc(x, y, r * 1.32)
                fine.color(theme.WHITE)
                fine.disc(x, y, r * 1.32 - theme.thick())
            if seat.mark == "up":
                seat_up(x, y, r)
            elif seat.mark == "turn":
                seat_turn(x, y, r, seat.current)
            elif seat.mark == "blocked":
                seat_blocked(x, y, r)
            else:
                seat_down(x, y, r, seat.current)

    def _paint_lines(self):
        shown = self.shown
        for path in shown.paths:
            if len(path.points) > 1:
                self._paint_centre(path)
        fine.color(theme.INK)
        if len(shown.outline) >= 3:
            fine.stroke(self._all(shown.outline), theme.thin() * 1.6, close=True)
        for opening in shown.openings:
            fine.stroke(self._all(opening), theme.thin() * 1.4, close=True)
        for point in shown.pins:
            pin(*self._at(point), max(theme.mm(1.7), shown.seat_mm * self.scale * 0.28))
        if shown.band is not None:
            self._paint_band(shown.band)
        if shown.push is not None:
            self._paint_push(shown.push)

    def _paint_centre(self, path):
        """Where the cutter's centre goes: the nearer to the minimum, the wider and darker."""
        if path.through and path.shade >= DARK:
            return  # its band is dark from edge to edge
        fine.color(theme.INK if path.through or path.shade >= DARK else theme.EDGE)
        width = theme.thin() * (1.0 if path.through else 0.7 + 0.35 * path.shade)
        fine.stroke(self._all(path.points), width)

    def _paint_band(self, band):
        left, bottom = self._at(band[:2])
        right, top = self._at(band[2:])
        fine.color(theme.ASK)
        points = [(left, bottom), (right, bottom), (right, top), (left, top)]
        fine.stroke(points, theme.thick(), close=True)

    def _paint_push(self, push):
        x, y = self._at(push.at)
        along = push.along or (0.0, 1.0)
        length, head = theme.mm(14.0), theme.mm(4.2)
        tip = (x + along[0] * length, y + along[1] * length)
        side = (-along[1], along[0])
        wings = [
            (
                tip[0] - along[0] * head + side[0] * head * 0.7 * sign,
                tip[1] - along[1] * head + side[1] * head * 0.7 * sign,
            )
            for sign in (1, -1)
        ]
        for rgba, more in ((theme.WHITE, theme.thick() * 2.0), (theme.INK, 0.0)):
            fine.color(rgba)
            width = theme.thick() * 1.6 + more
            fine.stroke([(x, y), tip], width)
            fine.stroke([wings[0], tip, wings[1]], width)
            fine.disc(x, y, theme.mm(2.4) + more / 2)
        fine.color(theme.WHITE)
        fine.disc(x, y, theme.mm(1.2))

    # -- names of rows and columns

    def _draw_labels(self):
        for instruction in self._labels:
            self.canvas.remove(instruction)
        self._labels, self._named = [], []
        if not (self.names and self.shown.seats):
            return
        pitch = self._pitch_px()
        for label in self.shown.labels:
            self._label(label, pitch)
        self._draw_loose()

    def _draw_loose(self):
        """The word beside each loose piece, where it covers no seat and no name."""
        px = theme.font_px(theme.SMALL_MM)
        size = (width_px(self.shown.loose_word, px, True), line_px(px, True))
        free = theme.mm(3.0)
        taken = [
            (left - free, low, right + free, top)
            for left, low, right, top in (*self._seat_boxes(), *self._named)
        ]
        room = (0.0, 0.0, self.width, self.height)
        for rings in self.shown.loose:
            place = beside(self._box(rings[0]), size, room, taken)
            taken.append(place)
            self._word(self.shown.loose_word, place[:2], px, True, theme.INK)

    def _box(self, points):
        drawn = self._all(points)
        xs, ys = [x for x, _ in drawn], [y for _, y in drawn]
        return min(xs), min(ys), max(xs), max(ys)

    def _seat_boxes(self):
        r = self.shown.seat_mm * self.scale / 2.0
        places = [*((seat.x_mm, seat.y_mm) for seat in self.shown.seats), *self.shown.pins]
        found = [(x - r, y - r, x + r, y + r) for x, y in self._all(places)]
        return [*found, self._box(self.shown.outline)] if self.shown.outline else found

    def _pitch_px(self):
        xs = sorted({round(seat.x_mm, 1) for seat in self.shown.seats})
        gaps = [b - a for a, b in pairwise(xs) if b - a > 1.0]
        return min(gaps, default=100.0) * self.scale

    def _label(self, label, pitch):
        cap = theme.SMALL_MM if not label.current else theme.BODY_MM
        px = theme.font_px(cap)
        width = width_px(label.words, px, label.current)
        if label.words.isdigit() and width > pitch * 0.9:
            return
        x, y = self._at((label.x_mm, label.y_mm))
        height = line_px(px, label.current)
        low = (x - width / 2, y - height / 2)
        self._named.append((*low, low[0] + width, low[1] + height))
        self._word(label.words, low, px, label.current, theme.INK if label.current else theme.SOFT)

    def _word(self, words, low, px, bold, tone):
        """A word with its lower left corner at a place of this widget."""
        picture = fine.words(words, px, bold)
        pos = (round(self.x + low[0]), round(self.y + low[1]))
        rect = Rectangle(texture=picture, pos=pos, size=picture.size)
        for instruction in (Color(*tone), rect):
            self.canvas.add(instruction)
            self._labels.append(instruction)
