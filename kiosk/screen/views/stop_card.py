"""Stop card: what to do in order, the live value, what came first."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen.show.shown import StopShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class StopCard(View):
    """Draws a ``StopShown``."""

    shown = ObjectProperty(StopShown(), rebind=True)
