"""What every view is: a box that is given ``shown`` and says ``on_act`` for what is touched."""

from __future__ import annotations

from pathlib import Path

from kivy.factory import Factory
from kivy.lang import Builder
from kivy.uix.boxlayout import BoxLayout

from kiosk.screen.widgets.cup_map import CupMap
from kiosk.screen.widgets.instrument import Instrument
from kiosk.screen.widgets.outlined import Outlined
from kiosk.screen.widgets.panel import Panel
from kiosk.screen.widgets.rows import Grid, Rows
from kiosk.screen.widgets.text import Text

for _kind in (CupMap, Grid, Instrument, Outlined, Panel, Rows, Text):
    Factory.register(_kind.__name__, cls=_kind)


def layout(python_file):
    """Load the layout that stands beside a view."""
    Builder.load_file(str(Path(python_file).with_suffix(".kv")))


class View(BoxLayout):
    """A view.  ``shown`` is a property of each view, born empty."""

    __events__ = ("on_act",)

    def on_act(self, button):
        """Override or bind."""

    @property
    def instrument(self):
        """The view's instrument, if it has one."""
        return next((child for child in self.walk() if isinstance(child, Instrument)), None)
