"""The lower edge, where hands go: alarms and details at the left, the next step at the right.

Hands stay below what is being read; the place of each button never changes with the state.
"""

from __future__ import annotations

from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.show.shown import AlarmPlace, Button, Note, Rail
from kiosk.screen.widgets.marks import PriorityMark
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.text import Text
from kiosk.screen.widgets.touch_button import TouchButton

MOST_BUTTONS = 3


def _wide_mm(button):
    """Wider where a small line stands beside the ring."""
    if button.opens:
        return 28.0
    return 56.0 if button.hold_s and button.detail else theme.MATTER_MM


class AlarmButton(TouchButton):
    """The count of alarms, with the shape of the highest priority."""

    place = ObjectProperty(AlarmPlace())

    def __init__(self, **kwargs):
        self._sign = None
        super().__init__(**kwargs)
        self._sign = PriorityMark(size_hint=(None, None))
        self.add_widget(self._sign)
        self.bind(place=self._put)
        self._put()

    def _put(self, *_):
        self.shown = Button(words=self.place.words, opens="alarms")
        self._sign.priority = self.place.priority
        self._sign.hollow = bool(self.place.priority) and not self.place.unseen
        self._arrange()

    def _colour(self):
        super()._colour()
        if self._sign is not None:
            self._sign.ground = self.fill

    def _place_words(self, x, y, width, height):
        if self._sign is None:
            return
        side = theme.mm(7.5 if "\n" in self.place.words else 12.0)
        self._sign.opacity = 1.0 if self.place.priority else 0.0
        if not self.place.priority:
            super()._place_words(x, y, width, height)
            self._words.cap = theme.BODY_MM
            return
        self._sign.size = (side, side)
        self._sign.pos = ((self.x + self.width / 2) - side / 2, y + height - side)
        self._words.cap = theme.BODY_MM
        self._words.halign = "center"
        self._words.pos, self._words.size = (x, y), (width, height - side - theme.mm(1))


class NotePanel(Surface):
    """What to do now, in words; with the priority's shape and colour when it is an alarm."""

    note = ObjectProperty(Note())

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._mark = PriorityMark()
        self._title = Text(bold=True, cap=5.4, most_lines=1)
        self._text = Text(cap=theme.BODY_MM + 0.2)
        for child in (self._mark, self._title, self._text):
            self.add_widget(child)
        self.bind(note=self._set, pos=self._arrange, size=self._arrange)
        self._set()

    @property
    def texts(self):
        """Every block of words."""
        return [self._title, self._text]

    def _set(self, *_):
        note = self.note
        alarm = bool(note.priority)
        self.fill = theme.PRIORITY[note.priority] if alarm else theme.PAPER
        ink = theme.ON_PRIORITY[note.priority] if alarm else theme.INK
        self.edge = theme.INK if alarm else theme.EDGE
        self.edge_px = theme.thick() if alarm else theme.thin()
        self._mark.priority, self._mark.ground = note.priority, self.fill
        self._mark.opacity = 1.0 if alarm else 0.0
        self._title.words, self._text.words = note.title, note.text
        self._title.tone = self._text.tone = ink
        self._arrange()

    def _arrange(self, *_):
        pad = theme.mm(3.0)
        side = theme.mm(14.0) if self.note.priority else 0.0
        self._mark.size, self._mark.pos = (
            (side, side),
            (self.x + pad, (self.y + self.height / 2) - side / 2),
        )
        x = self.x + pad + (side + pad if side else 0)
        width, inner = (self.x + self.width) - x - pad, self.height - theme.mm(4)
        title = theme.mm(8.0)
        self._title.pos, self._title.size = (
            (x, (self.y + self.height) - theme.mm(2) - title),
            (width, title),
        )
        self._text.pos, self._text.size = (x, self.y + theme.mm(2)), (width, inner - title)


class RailBar(Widget):
    """Draws a ``Rail``; dispatches ``on_act`` for all its buttons."""

    shown = ObjectProperty(Rail())
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.alarms = AlarmButton()
        self.details = TouchButton()
        self.details._words.cap = theme.BODY_MM
        self.note = NotePanel()
        self.buttons = [TouchButton() for _ in range(MOST_BUTTONS)]
        for child in (self.alarms, self.details, self.note, *self.buttons):
            self.add_widget(child)
        for button in (self.alarms, self.details, *self.buttons):
            button.bind(on_act=lambda _, shown: self.dispatch("on_act", shown))
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)
        self._set()

    def on_act(self, button):
        """Override or bind."""

    def _set(self, *_):
        shown = self.shown
        self.alarms.place = shown.alarms
        self.details.shown = shown.details
        for at, button in enumerate(self.buttons):
            there = at < len(shown.buttons)
            button.opacity = 1.0 if there else 0.0
            button.shown = shown.buttons[at] if there else Button(enabled=False)
        self.note.opacity = 1.0 if shown.note else 0.0
        self.note.note = shown.note or Note()
        self.alarms.opacity = 1.0 if shown.alarms.words else 0.0
        self.details.opacity = 1.0 if shown.details.words else 0.0
        self._arrange()

    def _arrange(self, *_):
        gap, x = theme.mm(theme.GAP_MM), self.x
        for place in (self.alarms, self.details):
            place.pos, place.size = (x, self.y), (theme.mm(27.0), self.height)
            x += place.width + gap
        count, room = len(self.shown.buttons), (self.x + self.width) - x
        widths = self._widths(count, room, gap)
        if self.shown.note:
            wide = room - sum(widths) - gap * count
            self.note.pos, self.note.size = (x, self.y), (max(0.0, wide), self.height)
            x += wide + gap
        for button, wide in zip(self.buttons, (*widths, 0, 0, 0), strict=False):
            button.pos, button.size = (x, self.y), (wide, self.height)
            x += wide + gap

    def _widths(self, count, room, gap):
        """The last button takes what is left, unless a note does."""
        widths = [theme.mm(_wide_mm(button)) for button in self.shown.buttons]
        if widths and not self.shown.note:
            widths[-1] = room - sum(widths[:-1]) - gap * (count - 1)
        return widths
