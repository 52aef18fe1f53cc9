"""The map of the grid: seats, part, cutter's path, pins, and where the part would go first."""

from __future__ import annotations

from itertools import pairwise

from kivy.graphics import Color, Rectangle
from kivy.properties import BooleanProperty, ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.drawn import CupMapShown
from kiosk.screen.widgets import fine, seats
from kiosk.screen.widgets.fine import Fine
from kiosk.screen.widgets.tags import beside, leader
from kiosk.screen.widgets.text import Text, line_px, width_px

TAG_PAD_MM = 0.7  # round the word of a tag
TAG_FREE = 0.5  # at least so far from a name of a row or column, in its heights
DARK = 2  # shade from which a band is dark


def _tag_px():
    return theme.font_px(theme.SMALL_MM)


def _tone(label):
    return theme.INK if label.current else theme.SOFT


class CupMap(Fine):
    """Draws a ``CupMapShown`` as large as its box allows."""

    shown = ObjectProperty(CupMapShown())
    names = BooleanProperty(True)

    def __init__(self, **kwargs):
        kwargs.setdefault("ground", theme.PAPER)
        super().__init__(**kwargs)
        self._labels, self._named, self._tags = [], [], []
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
            self._paint_paths()
            self._paint_seats()
            self._paint_lines()
            self._place_labels()
            self._paint_tags()

    def painted(self):
        self._draw_labels()

    # -- from mm on the grid to pixels

    def _fit(self, width, height):
        left, bottom, right, top = self.shown.extent
        named = self.names and self.shown.labels
        pad = theme.mm(4.0 if self.names and not named else 2.2)  # a pin may stand at the edge
        label = theme.mm(8.5) if named else 0.0
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

    def _paint_paths(self):
        """Below the seats: a path over a mark would make another mark of it."""
        for path in self.shown.paths:
            if len(path.points) > 1:
                self._paint_centre(path)

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
            seats.seat(seat.mark, x, y, r, seat.current)

    def _paint_lines(self):
        shown = self.shown
        fine.color(theme.INK)
        if len(shown.outline) >= 3:
            fine.stroke(self._all(shown.outline), theme.thin() * 1.6, close=True)
        for opening in shown.openings:
            fine.stroke(self._all(opening), theme.thin() * 1.4, close=True)
        for point in shown.pins:
            seats.pin(*self._at(point), self._pin_px())
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
        self._labels = []
        for label, low, px in self._named if self.shown.seats else ():
            self._word(label.words, low, px, label.current, _tone(label))
        for place in self._tags if self.shown.seats else ():
            self._word_in(place)

    def _place_labels(self):
        """Where each name stands, and where the tag of each loose piece is out of the way."""
        self._named, self._tags = [], []
        if not self.names:
            return
        pitch, taken = self._pitch_px(), self._seat_boxes()
        for label in self.shown.labels:
            px = theme.font_px(theme.BODY_MM if label.current else theme.SMALL_MM)
            width, height = width_px(label.words, px, label.current), line_px(px, label.current)
            if label.words.isdigit() and width > pitch * 0.9:
                continue
            x, y = self._at((label.x_mm, label.y_mm))
            low = (x - width / 2, y - height / 2)
            self._named.append((label, low, px))
            taken.append(
                (
                    low[0] - TAG_FREE * height,
                    low[1],
                    low[0] + width + TAG_FREE * height,
                    low[1] + height,
                )
            )
        for rings in self.shown.loose:
            self._tags.append(self._tag(self._box(rings[0]), [*taken, *self._tags]))

    def _tag(self, piece, taken):
        """A box for the word beside a loose piece, on no seat, name, part or other tag."""
        px, pad = _tag_px(), theme.mm(TAG_PAD_MM)
        size = (width_px(self.shown.loose_word, px, True) + 2 * pad, px * theme.CAP_SHARE + 2 * pad)
        part = [self._box(self.shown.outline)] if self.shown.outline else []
        return beside(piece, size, (0.0, 0.0, self.width, self.height), [*taken, *part], taken)

    def _paint_tags(self):
        """A white box with an edge, and a line to the piece: no name of a row or column."""
        for rings, place in zip(self.shown.loose, self._tags, strict=False):
            left, low, right, top = place
            fine.color(theme.INK)
            fine.stroke(list(leader(self._box(rings[0]), place)), theme.thin())
            fine.box(left, low, right - left, top - low)
            fine.color(theme.WHITE)
            edge = theme.thin()
            fine.box(left + edge, low + edge, right - left - 2 * edge, top - low - 2 * edge)

    def _box(self, points):
        drawn = self._all(points)
        xs, ys = [x for x, _ in drawn], [y for _, y in drawn]
        return min(xs), min(ys), max(xs), max(ys)

    def _seat_boxes(self):
        r = self.shown.seat_mm * self.scale / 2.0
        marks = [((s.x_mm, s.y_mm), seats.radius(s.mark, r)) for s in self.shown.seats]
        marks += [(pin, self._pin_px()) for pin in self.shown.pins]
        placed = [(*self._at(at), half) for at, half in marks]
        return [(x - half, y - half, x + half, y + half) for x, y, half in placed]

    def _pin_px(self):
        """Half the side of a pin's mark."""
        return max(theme.mm(1.7), self.shown.seat_mm * self.scale * 0.28)

    def _pitch_px(self):
        xs = sorted({round(seat.x_mm, 1) for seat in self.shown.seats})
        gaps = [b - a for a, b in pairwise(xs) if b - a > 1.0]
        return min(gaps, default=100.0) * self.scale

    def _word_in(self, place):
        """The word of a tag, its capitals in the middle."""
        px, pad = _tag_px(), theme.mm(TAG_PAD_MM)
        hangs = fine.words(self.shown.loose_word, px, True).height - px * theme.ASCENT_SHARE
        low = (place[0] + pad, place[1] + pad - hangs)
        self._word(self.shown.loose_word, low, px, True, theme.INK)

    def _word(self, words, low, px, bold, tone):
        """A word with its lower left corner at a place of this widget."""
        picture = fine.words(words, px, bold)
        pos = (round(self.x + low[0]), round(self.y + low[1]))
        rect = Rectangle(texture=picture, pos=pos, size=picture.size)
        for instruction in (Color(*tone), rect):
            self.canvas.add(instruction)
            self._labels.append(instruction)
