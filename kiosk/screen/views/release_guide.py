"""Release guide: when the part may be let go, at the machine's own control."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen.show.shown import ReleaseShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class ReleaseGuide(View):
    """Draws a ``ReleaseShown``."""

    shown = ObjectProperty(ReleaseShown(), rebind=True)
