"""Shown when the watching process does not answer: nothing on the screen is current."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen.show.shown import DeadShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class DeadCard(View):
    """Draws a ``DeadShown``."""

    shown = ObjectProperty(DeadShown(), rebind=True)
