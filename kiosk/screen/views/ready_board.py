"""Ready board: where we are, and which job is next."""

from __future__ import annotations

from kivy.properties import ObjectProperty

from kiosk.screen import theme
from kiosk.screen.show.shown import ReadyShown
from kiosk.screen.views.view import View, layout

layout(__file__)


class ReadyBoard(View):
    """Draws a ``ReadyShown``."""

    shown = ObjectProperty(ReadyShown(), rebind=True)

    @property
    def beside(self):
        """True when refusals or bad files stand beside the jobs."""
        return bool(self.shown.refused or self.shown.unusable) and not self.shown.busy

    def on_shown(self, *_):
        """Give the side its place only when there is something in it."""
        side, jobs = self.ids.side, self.ids.jobs
        side.size_hint_x = 0.8 if self.beside else 0.001
        self.ids.both.spacing = theme.mm(6.0) if self.beside else 0
        side.opacity = 1.0 if self.beside else 0.0
        jobs.columns = 2 if self.beside else 3
        jobs.lines = max(1, -(-len(self.shown.jobs) // jobs.columns))
        jobs.big = jobs.lines == 1
        self.ids.refusal.height = theme.mm(62.0) if self.shown.refused else 0
        self.ids.refusal.opacity = 1.0 if self.shown.refused else 0.0
        self.ids.busy.shown = self.shown.rows if self.shown.busy else ()
