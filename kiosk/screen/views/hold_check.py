"""Hold check: is the hold enough, what is missing, why this minimum."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen.show.shown import HoldShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class HoldCheck(View):
    """Draws a ``HoldShown``."""

    shown = ObjectProperty(HoldShown(), rebind=True)
