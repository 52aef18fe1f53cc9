"""The fixed strip: state word with its sign, job, flags, clock, and where in the round we are."""

from __future__ import annotations

from itertools import product

from kivy.graphics import Color, Rectangle
from kivy.properties import NumericProperty, ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.shown import Flag, Strip
from kiosk.screen.widgets.marks import StateSign
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.text import Text, width_px

# tone: fill, words, quiet words
TONES = {
    "plain": (theme.SLATE, theme.WHITE, theme.rgba("#C9CED2")),
    "permit": (theme.WHITE, theme.INK, theme.SOFT),
    "low": (theme.SECOND, theme.INK, theme.INK),
    "lost": (theme.FIRST, theme.WHITE, theme.WHITE),
    "dead": (theme.INK, theme.WHITE, theme.WHITE),
}
FLAGS = 5  # four of the machine, and who is signed on
ROUTE = 5
TALL_MM = 18.0  # a higher strip is for reading from afar


class Chip(Surface):
    """A flag in a box."""

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.fill, self.edge_px = theme.WHITE, theme.thin() * 1.4
        self.edge = theme.INK
        self.text = Text(bold=True, halign="center", cap=theme.SMALL_MM)
        self.add_widget(self.text)
        self.bind(pos=self._set, size=self._set)

    def _set(self, *_):
        self.text.pos, self.text.size = self.pos, self.size

    def say(self, flag):
        """Show a flag; an abnormal one in the colour of priority 2; nothing when empty."""
        words = flag.words
        self.fill = theme.SECOND if flag.abnormal else theme.WHITE
        self.opacity = 1.0 if words else 0.0
        self.text.words = words
        px = theme.font_px(theme.SMALL_MM)
        self.width = width_px(words, px, True) + theme.mm(3.2) if words else 0


class Route(Widget):
    """Small squares: the steps of one round, filled up to where we are."""

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.step, self.ink, self.ground = -1, theme.WHITE, theme.SLATE
        self._squares = []
        with self.canvas:
            for _ in range(ROUTE):
                outer_color, outer = Color(*self.ink), Rectangle()
                inner_color, inner = Color(*self.ground), Rectangle()
                self._squares.append((outer_color, outer, inner_color, inner))
        self.bind(pos=self.draw, size=self.draw)

    def set(self, step, ink, ground):
        """Where we are, in these colours."""
        self.step, self.ink, self.ground = step, ink, ground
        self.draw()

    def draw(self, *_):
        """Update the squares in place."""
        gap = theme.mm(1.0)
        side = min(self.height, (self.width - gap * (ROUTE - 1)) / ROUTE)
        x = (self.x + self.width) - side * ROUTE - gap * (ROUTE - 1)
        edge = max(1.0, theme.mm(0.35))
        for at, (outer_color, outer, inner_color, inner) in enumerate(self._squares):
            there = self.step >= 0
            small = side if at == self.step else side * 0.62
            left, low = (
                round(x + at * (side + gap) + (side - small) / 2),
                round((self.y + self.height / 2) - small / 2),
            )
            outer_color.rgba = self.ink
            outer.pos, outer.size = (left, low), (small, small) if there else (0, 0)
            hollow = there and at > self.step
            inner_color.rgba = self.ground
            inner.pos = (left + edge, low + edge)
            inner.size = (small - 2 * edge, small - 2 * edge) if hollow else (0, 0)


class StripBar(Surface):
    """Draws a ``Strip``.  ``word_mm``: capital height of the state word."""

    shown = ObjectProperty(Strip())
    word_mm = NumericProperty(9.5)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.edge_px = 0
        self._sign = StateSign()
        self._word = Text(bold=True, least=6.0, most_lines=1)
        self._line = Text(bold=True, cap=6.5, most_lines=2)
        self._job = Text(bold=True, cap=theme.BODY_MM + 0.4, most_lines=1)
        self._detail = Text(cap=theme.SMALL_MM + 0.2, most_lines=1)
        self._notice = Text(bold=True, cap=theme.BODY_MM)
        self._clock = Text(cap=theme.BODY_MM + 0.4, halign="right", most_lines=1)
        self._route = Route()
        self._chips = [Chip() for _ in range(FLAGS)]
        for child in (self._sign, *self.texts[:6], self._route, *self._chips):
            self.add_widget(child)
        with self.canvas.after:
            self._rule_color, self._rule = Color(*theme.INK), Rectangle()
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange, word_mm=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [
            self._word, self._line, self._job, self._detail, self._notice, self._clock,
            *(chip.text for chip in self._chips),
        ]  # fmt: skip

    def _set(self, *_):
        shown = self.shown
        fill, ink, quiet = TONES[shown.tone]
        self.fill = fill
        self._sign.tone, self._sign.ground, self._sign.ink = shown.tone, fill, ink
        self._word.words, self._line.words = shown.word, shown.line
        self._notice.words = shown.notice
        self._clock.words = shown.clock
        for text, tone in (
            (self._word, ink), (self._line, ink), (self._job, ink), (self._detail, quiet),
            (self._notice, ink), (self._clock, quiet),
        ):  # fmt: skip
            text.tone = tone
        self._route.set(shown.step, ink, fill)
        self._arrange()

    def _persons(self):
        """Who is signed on, at length and shorter: a notice beside it must have room.

        Only in a low strip, which is read from near.
        """
        shown = self.shown
        if self.height > theme.mm(TALL_MM):
            return ("",)
        first = shown.name if shown.name and len(shown.flags) > 1 else shown.person
        return tuple(dict.fromkeys((first, shown.name, ""))) if shown.notice else (first,)

    def _say_chips(self, person):
        """The flags, and who is signed on."""
        shown, person = self.shown, (Flag(person),) if person else ()
        flags = (*shown.flags[: FLAGS - 1], *person, *[Flag()] * FLAGS)
        for chip, flag in zip(self._chips, flags, strict=False):
            chip.say(flag)

    def _arrange(self, *_):
        pad, shown = theme.mm(4.0), self.shown
        self._say_chips(self._persons()[0])
        tall = self.height > theme.mm(TALL_MM)
        line = theme.mm(13.0) if shown.line else 0.0
        head, low = self.height - line, self.y + line
        side = head * (0.56 if tall else 0.6)
        self._sign.size = (side, side)
        self._sign.pos = (self.x + pad, low + (head - side) / 2)
        self._word.cap = self.word_mm
        wide = width_px(shown.word, theme.font_px(self.word_mm), True) + 2
        self._word.size, self._word.pos = (wide, head), (self._sign.right + pad * 0.8, low)
        x = self._word.right + pad * 1.4
        self._job.words = self._job_words(tall)
        self._detail.words = "" if tall or shown.notice else shown.job_detail
        if line:
            self._under(line)
            self._clock_and_route(x, low, head)
        elif tall:
            self._block(x, low, head)
        else:
            self._one_row(x, low, head)
        self._rule.pos, self._rule.size = self.pos, (self.width, theme.thick())
        self._rule_color.rgba = theme.INK if shown.tone in ("permit", "low") else (0, 0, 0, 0)

    def _job_words(self, tall):
        if tall:
            return self.shown.job_id
        return "" if self.shown.notice else self.shown.job

    def _under(self, line):
        """Below the head of a stop: what was asked; job and flags at the right."""
        pad = theme.mm(4.0)
        y, tall = self.y + theme.mm(2), line - theme.mm(2)
        right = self._flags((self.x + self.width) - pad, y + tall / 2, tall / 2, 1)
        job = width_px(self._job.words, theme.font_px(self._job.cap), True) + 2
        self._job.pos, self._job.size = (right - job, y), (job, tall)
        self._line.pos = (self.x + pad, y)
        self._line.size = (max(0.0, right - job - theme.mm(3) - self.x - pad), tall)
        self._notice.size = (0, 0)

    def _clock_and_route(self, x, low, head):
        """Clock above route, at the right edge."""
        right, middle = (self.x + self.width) - theme.mm(4.0), low + head / 2
        wide, half = min(theme.mm(22.0), right - x), min(head / 2, theme.mm(8.0))
        self._clock.size, self._clock.pos = (wide, half), (right - wide, middle)
        self._route.size = (wide, theme.mm(3.2))
        self._route.pos = (right - wide, middle - half * 0.62)
        return right - wide - theme.mm(4.0)

    def _block(self, x, low, head):
        """Beside a tall word: job and clock above, flags and route below."""
        right = self._clock_and_route(x, low, head)
        middle, half = low + head / 2, min(head / 2, theme.mm(9.0))
        self._job.pos, self._job.size = (x, middle), (max(0.0, right - x), half)
        self._job.halign = "right"
        self._flags(right, middle - half * 0.5, half, 1)
        self._notice.size = (0, 0)

    def _one_row(self, x, low, head):
        end, middle = self._clock_and_route(x, low, head), low + head / 2
        half = min(head / 2, theme.mm(8.0))
        self._notice.x, self._notice.y, self._notice.height = x, low, head
        for lines, person in product((2, 0), self._persons()):
            self._notice.most_lines = lines  # rather a shorter name than a third line
            self._say_chips(person)
            right = self._flags(end, middle, half, 2)
            width = self._notice.width = max(0.0, right - x)
            if self._notice.fits():
                break
        if width_px(self._job.words, theme.font_px(theme.SMALL_MM), True) > width:
            self._job.words = self.shown.job_id or self._job.words
        self._job.halign, self._job.most_lines = "left", 1 if self._detail.words else 2
        for text in (self._job, self._detail):
            text.x, text.width = x, width
        self._job.height = self._detail.height = half
        if not self._detail.words:
            self._job.pos, self._job.height = (x, low), head
            return
        self._job.y, self._detail.y = middle - theme.mm(0.3), middle - half - theme.mm(0.3)

    def _flags(self, right, middle, half, deep):
        """Flags, up to ``deep`` above each other, from the right; returns where they begin."""
        there = [chip for chip in self._chips if chip.text.words]
        tall, gap = min(theme.mm(6.6), half * (1.0 if deep == 2 else 1.6)), theme.mm(1.0)
        tall -= gap / 2 if deep == 2 else 0
        for start in range(0, len(there), deep):
            column = there[start : start + deep]
            wide = max(chip.width for chip in column)
            for at, chip in enumerate(column):
                low = middle - tall / 2
                if len(column) == 2:
                    low = middle + gap / 2 if at == 0 else middle - tall - gap / 2
                chip.size, chip.pos = (wide, tall), (right - wide, low)
            right -= wide + theme.mm(2)
        return right - (theme.mm(2) if there else 0)
