"""Set-up map: which seats go up, which stay down; then the part."""

from __future__ import annotations

from kivy.properties import NumericProperty, ObjectProperty

from kiosk.screen.show.shown import SetupShown
from kiosk.screen.views.view import View, layout

layout(__file__)

MAP_SHARE = 0.48  # of the width, beside the only warning


class SetupMap(View):
    """Draws a ``SetupShown``."""

    shown = ObjectProperty(SetupShown(), rebind=True)
    map_share = NumericProperty(1.62)
    beside = NumericProperty(0)  # share of the map beside the only warning, else 0

    def on_shown(self, *_):
        """Show the block that belongs to the step."""
        part, kept = self.shown.mode == "part", self.shown.mode == "kept"
        self.ids.zone.opacity = 0.0 if part or kept else 1.0
        self.ids.part.opacity = 1.0 if part else 0.0
        self.ids.kept.opacity = 1.0 if kept else 0.0
        self.ids.count.opacity = 0.0 if part else 1.0
        self.ids.zone.padding = self.ids.kept.padding = (0, 0, 0, self.ids.count.height)
        warned = bool(self.shown.warnings)
        self.map_share = 2.0 if warned else 1.62
        alone = len(self.shown.warnings) == 1
        self.beside = MAP_SHARE if alone else 0
        self.ids.map.opacity = 0.0 if warned and not alone else 1.0
        self.ids.warnings.opacity = 1.0 if warned else 0.0
        self.ids.warnings.columns = 1
        self.ids.warnings.lines = max(1, len(self.shown.warnings))
