"""Hold check: is the hold enough, what is missing, why this minimum."""

from __future__ import annotations

from kivy.properties import NumericProperty, ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.shown import HoldShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class HoldCheck(View):
    """Draws a ``HoldShown``."""

    shown = ObjectProperty(HoldShown(), rebind=True)
    text_mm = NumericProperty(theme.BODY_MM)

    def on_shown(self, *_):
        """A time that runs is written large."""
        large = self.shown.tone == "go"
        self.text_mm = 7.0 if large else 4.3
