"""The whole screen: strip, one view, rail, caution, and a sheet over them when one is open.

It is given a ``Shown`` and draws it; what is touched comes out as ``on_act``.  It keeps no truth.
"""

from __future__ import annotations

from kivy.clock import Clock
from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.screen import memory, theme
from kiosk.screen.show.shown import Overlay
from kiosk.screen.views.cut_watch import CutWatch
from kiosk.screen.views.dead_card import DeadCard
from kiosk.screen.views.hold_check import HoldCheck
from kiosk.screen.views.ready_board import ReadyBoard
from kiosk.screen.views.release_guide import ReleaseGuide
from kiosk.screen.views.setup_map import SetupMap
from kiosk.screen.views.sheet import Sheet
from kiosk.screen.views.stop_card import StopCard
from kiosk.screen.widgets.foot import FootBar
from kiosk.screen.widgets.panel import Surface
from kiosk.screen.widgets.rail import RailBar
from kiosk.screen.widgets.strip import StripBar
from kiosk.screen.widgets.touch_button import Touch

VIEWS = {
    "ready": ReadyBoard, "setup": SetupMap, "hold": HoldCheck, "watch": CutWatch,
    "stop": StopCard, "release": ReleaseGuide, "dead": DeadCard,
}  # fmt: skip
# view: height of the strip and capital height of the state word, mm
STRIPS = {"watch": (27.0, 17.5), "stop": (41.0, 19.0), "dead": (27.0, 17.5)}
STRIP = (17.0, 9.6)
TIDY_S = 1.0  # after what is new was drawn


class Board(Widget):
    """Draws a ``Shown``."""

    shown = ObjectProperty(None, allownone=True)
    __events__ = ("on_act", "on_finger")

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self._ground = Surface(fill=theme.GROUND, edge_px=0)
        self.strip, self.rail, self.foot = StripBar(), RailBar(), FootBar()
        self.sheet = Sheet()
        self.view, self.view_name = None, ""
        for child in (self._ground, self.strip, self.rail, self.foot):
            self.add_widget(child)
        for source in (self.rail, self.sheet):
            source.bind(on_act=self._act)
        self._tidy = Clock.create_trigger(lambda _: memory.give_back(), TIDY_S)
        self.bind(shown=self._set, pos=self._arrange, size=self._arrange)

    def on_act(self, button):
        """Override or bind."""

    def on_finger(self):
        """A finger came down anywhere; override or bind."""

    def _act(self, _source, button):
        self.dispatch("on_act", button)

    def _set(self, *_):
        shown = self.shown
        if shown is None:
            return
        if shown.view != self.view_name:
            self._change(shown.view)
        self.strip.shown, self.rail.shown, self.foot.shown = shown.strip, shown.rail, shown.foot
        self.view.shown = shown.body
        self._cover(shown.overlay)

    def _change(self, name):
        """Another view by itself: what a finger began on the old one does nothing."""
        if self.view is not None:
            self.remove_widget(self.view)
            Touch.hush()
            self._tidy()
        self.view, self.view_name = VIEWS[name](), name
        self.view.bind(on_act=self._act)
        self.add_widget(self.view, index=len(self.children) - 1)
        self._arrange()

    def _cover(self, overlay):
        there = self.sheet.parent is not None
        if overlay is None and there:
            self.remove_widget(self.sheet)
            self.sheet.shown = Overlay()
            self._arrange()
            self._tidy()
        elif overlay is not None:
            if not there:
                self.add_widget(self.sheet)
                self._arrange()
            self.sheet.shown = overlay

    def _arrange(self, *_):
        pad, gap = theme.mm(4.0), theme.mm(3.0)
        covered = self.sheet.parent is not None
        tall, word = STRIP if covered else STRIPS.get(self.view_name, STRIP)
        strip = theme.mm(tall)
        foot, rail = theme.mm(12.0), theme.mm(theme.TOUCH_MM)
        self._ground.pos, self._ground.size = self.pos, self.size
        self.strip.word_mm = word
        self.strip.pos, self.strip.size = (
            (self.x, (self.y + self.height) - strip),
            (self.width, strip),
        )
        self.foot.pos, self.foot.size = self.pos, (self.width, foot)
        self.rail.pos = (self.x + pad, self.y + foot + gap)
        self.rail.size = (self.width - 2 * pad, rail)
        low = self.y + foot + gap + rail + gap
        if self.view is not None:
            self.view.size_hint = (None, None)
            self.view.pos = (self.x + pad, low)
            self.view.size = (self.width - 2 * pad, (self.y + self.height) - strip - gap - low)
        self.sheet.size_hint = (None, None)
        self.sheet.pos = (self.x, self.y + foot)
        self.sheet.size = (self.width, (self.y + self.height) - strip - self.y - foot)

    def trace_columns(self):
        """Pixels of the trace in the present view; 0 when it has none."""
        instrument = getattr(self.view, "instrument", None)
        return instrument.trace_px if instrument is not None else 0

    # -- fingers are counted here, before any button sees them

    def on_touch_down(self, touch):
        Touch.down(touch)
        self.dispatch("on_finger")
        return super().on_touch_down(touch)

    def on_touch_up(self, touch):
        handled = super().on_touch_up(touch)
        if touch.grab_current is None:
            Touch.up(touch)
        return handled
