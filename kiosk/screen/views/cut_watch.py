"""Cut watch: R, one column and the last minute, readable at three metres."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen.show.shown import WatchShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class CutWatch(View):
    """Draws a ``WatchShown``."""

    shown = ObjectProperty(WatchShown(), rebind=True)
