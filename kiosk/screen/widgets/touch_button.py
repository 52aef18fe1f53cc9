"""The one button class: stands between the program and the drawing library's touch handling.

One finger only; a tap acts on lift-off inside, a press acts when its ring is full; sliding off,
a second finger, a change of what the button would do, or its going away cancels.  For 300 ms after
an act, and after the screen changed by itself, nothing is accepted.  A tap where a press is asked
for is answered: for a moment the button says what to do.
"""

from __future__ import annotations

from typing import ClassVar

from kivy.clock import Clock
from kivy.properties import ObjectProperty

from kiosk.screen import theme
from kiosk.screen.safely import safely
from kiosk.screen.show.shown import Button
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.ring import Ring
from kiosk.screen.widgets.text import Text

DEBOUNCE_S = 0.3
SPOILED = "holdpoint.spoiled"  # mark on a finger that was not alone
HINT_S = 2.0  # how long a tap on a button to be pressed is answered
WIDE_MM = 60.0  # from here on the ring has room for its longer words
TOO_LONG_S = 5.0  # a tap longer than this is a hand or a sheet leaning on the screen


class Touch:
    """What all buttons of a screen share: the fingers that are down, and the quiet time."""

    fingers: ClassVar[dict] = {}
    quiet_until_s = 0.0
    ring_words = ""  # what stands in the ring, from the catalogue
    wide_ring_words = ""  # the same on a wide button
    hint_words = ""  # the answer to a tap where a press is asked for

    @classmethod
    def speak(cls, words):
        """Take the words of all buttons from the catalogue."""
        cls.ring_words, cls.hint_words = words.say("press.ring"), words.say("press.hint")
        cls.wide_ring_words = words.say("press.ring_wide")

    @classmethod
    def now(cls):
        """The drawing clock's time."""
        return Clock.time()

    @classmethod
    def hush(cls, for_s=DEBOUNCE_S):
        """Accept nothing for a moment."""
        cls.quiet_until_s = cls.now() + for_s

    @classmethod
    def down(cls, touch):
        """A finger came down anywhere: with a second one, all that are down count for nothing."""
        cls.fingers[touch.uid] = touch
        if len(cls.fingers) > 1:
            for finger in cls.fingers.values():
                finger.ud[SPOILED] = True

    @classmethod
    def up(cls, touch):
        """A finger was lifted."""
        cls.fingers.pop(touch.uid, None)

    @classmethod
    def reset(cls):
        """Forget all fingers."""
        cls.fingers, cls.quiet_until_s = {}, 0.0


class TouchButton(Surface):
    """Draws a ``Button`` and calls ``on_act(button)`` when it was really meant."""

    shown = ObjectProperty(Button())
    quiet_s = DEBOUNCE_S  # after an act
    words_share = 0.5  # of the height, when there is a detail below
    __events__ = ("on_act",)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._finger = None
        self._began = None
        self._began_s = 0.0
        self._grow = None
        self._hint = None
        self._ring = Ring(size_hint=(None, None))
        self._ring_words = Text(halign="center", bold=True)
        self._words = Text(bold=True, cap=5.0, halign="center")
        self._detail = Text(cap=theme.SMALL_MM + 0.3, halign="center")
        for child in (self._ring, self._ring_words, self._words, self._detail):
            self.add_widget(child)
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)
        self._set()

    def on_act(self, button):
        """Override or bind."""

    # -- looks

    def _set(self, *_):
        button = self.shown
        if button.act != self._began:
            self._hint_over()
        self._words.words, self._detail.words = self._said()
        if self._finger is not None and button.act != self._began:
            self._cancel()
        self._colour()
        self._arrange()

    def _said(self):
        """Words and small line; for a moment the answer to a tap, where there is room for it."""
        words, detail = self.shown.words, self.shown.detail
        if self._hint is None:
            return words, detail
        room = detail or self.width > theme.mm(WIDE_MM)
        return (words, Touch.hint_words) if room else (Touch.hint_words, "")

    def _colour(self):
        enabled, pressed = self.shown.enabled, self._finger is not None
        main = self.shown.weight == "main"
        self.fill = theme.PAPER if not enabled else theme.BELOW if pressed else theme.WHITE
        self.edge = theme.INK if enabled else theme.EDGE
        self.edge_px = (theme.thick() * (1.4 if main else 1.0)) if enabled else theme.thin()
        tone = theme.INK if enabled else theme.SOFT
        self._words.tone = self._detail.tone = self._ring_words.tone = tone
        if not pressed:
            self._ring.set(0.0, theme.INK, tone)

    def _arrange(self, *_):
        pad, narrow = theme.mm(2.0), self.width <= theme.mm(38)
        ring = theme.mm(self._ring_mm())
        self._ring.opacity = self._ring_words.opacity = 1.0 if ring else 0.0
        self._ring.size = (ring, ring)
        x, y, width, height = (
            self.x + pad,
            self.y + pad,
            self.width - 2 * pad,
            self.height - 2 * pad,
        )
        if ring and not narrow:
            self._ring.pos = (x + theme.mm(1), (self.y + self.height / 2) - ring / 2)
            x, width = x + ring + theme.mm(3), width - ring - theme.mm(4)
        elif ring:
            self._ring.pos = ((self.x + self.width / 2) - ring / 2, y)
            y, height = y + ring + theme.mm(0.5), height - ring - theme.mm(0.5)
        self._ring_words.size, self._ring_words.pos = self._ring.size, self._ring.pos
        self._place_words(x, y, width, height)

    def _ring_mm(self):
        """Diameter of the ring, 0 without one; as large as the button's width lets it be."""
        wide, middle = self.width > theme.mm(WIDE_MM), self.width > theme.mm(38)
        words = Touch.wide_ring_words if wide else Touch.ring_words if middle else ""
        self._ring_words.words = words if self.shown.hold_s else ""
        self._ring.thick_share = 0.18 if wide else 0.3
        self._ring_words.cap = theme.SMALL_MM if wide else theme.BODY_MM
        if not self.shown.hold_s:
            return 0.0
        return 18.0 if wide else 12.0 if middle else 8.0

    def _place_words(self, x, y, width, height):
        share = self.words_share if self._detail.words else 1.0
        low = height * (1 - share) + (
            theme.mm(0.3 * self._words.cap) if self._detail.words else 0.0
        )
        self._words.pos, self._words.size = (x, y + low), (width, height - low)
        self._words.valign = "bottom" if self._detail.words else "middle"
        self._detail.valign = "top"
        self._detail.pos, self._detail.size = (x, y), (width, height * (1 - share) - theme.mm(0.5))
        halign = "left" if self.shown.hold_s and self.width > theme.mm(38) else "center"
        self._words.halign = self._detail.halign = halign

    @property
    def texts(self):
        """The blocks of words, for the test that nothing is cut."""
        return [self._words, self._detail, self._ring_words]

    # -- touch

    def on_touch_down(self, touch):
        if not self.collide_point(*touch.pos) or self.opacity == 0:
            return False
        if not self._may_begin(touch):
            return True
        touch.grab(self)
        self._finger, self._began, self._began_s = touch, self.shown.act, Touch.now()
        self._colour()
        if self.shown.hold_s:
            self._grow = Clock.schedule_interval(safely(self._step), 1 / 30.0)
        return True

    def _may_begin(self, touch):
        if touch.is_mouse_scrolling or getattr(touch, "button", None) not in (None, "", "left"):
            return False
        one = self._finger is None and SPOILED not in touch.ud
        return one and self.shown.enabled and Touch.now() >= Touch.quiet_until_s

    def on_touch_move(self, touch):
        if touch.grab_current is not self or touch is not self._finger:
            return False
        if not self.collide_point(*touch.pos) or SPOILED in touch.ud:
            self._cancel()
        return True

    def on_touch_up(self, touch):
        if touch.grab_current is not self:
            return False
        touch.ungrab(self)
        if touch is self._finger:
            inside = self.collide_point(*touch.pos)
            held_s = Touch.now() - self._began_s
            tap = not self.shown.hold_s and held_s <= TOO_LONG_S
            meant = inside and self._still_meant()
            self._cancel()
            if meant and self.shown.hold_s:
                self._answer_tap()
            elif meant and tap:
                self._act()
        return True

    def _answer_tap(self):
        self._hint_over()
        self._hint = Clock.schedule_once(safely(self._hint_over), HINT_S)
        self._set()

    def _hint_over(self, *_):
        if self._hint is not None:
            self._hint.cancel()
            self._hint = None
            self._set()

    def _step(self, _dt):
        if self._finger is None:
            return False
        share = (Touch.now() - self._began_s) / self.shown.hold_s
        self._ring.set(min(1.0, share), theme.INK, theme.INK)
        if not self._still_meant():
            self._cancel()
        elif share >= 1.0:
            self._cancel()
            self._act()
        return None

    def _still_meant(self):
        """Checked again at the end: same act, enabled, on the screen, one finger."""
        there = self.get_parent_window() is not None and self.opacity > 0
        alone = self._finger is not None and SPOILED not in self._finger.ud
        return there and alone and self.shown.enabled and self.shown.act == self._began

    def _cancel(self):
        self._finger = None
        if self._grow is not None:
            self._grow.cancel()
            self._grow = None
        self._colour()

    def _act(self):
        Touch.hush(self.quiet_s)
        self.dispatch("on_act", self.shown)
