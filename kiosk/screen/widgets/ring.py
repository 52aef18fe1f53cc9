"""The ring of a button that is pressed: it fills as time goes."""

from __future__ import annotations

import math

from kivy.graphics import Color, Mesh
from kivy.uix.widget import Widget

from kiosk.screen import theme


class Ring(Widget):
    """A ring that fills clockwise from the top; ``share`` 0..1."""

    SEGMENTS = 60

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        self.share = 0.0
        self.thick_share = 0.3  # how thick the filled part is, of the radius
        self.ink = theme.INK
        with self.canvas:
            self._back_color = Color(*theme.EDGE)
            self._back = Mesh(mode="triangle_strip")
            self._front_color = Color(*theme.INK)
            self._front = Mesh(mode="triangle_strip")
        self.bind(pos=self.draw, size=self.draw)

    def set(self, share, ink, rest):
        """Show this much of the ring in ``ink``, the rest thin."""
        self.share = share
        self._front_color.rgba, self._back_color.rgba = ink, rest
        self.draw()

    def draw(self, *_):
        """Update both rings in place."""
        radius = min(self.width, self.height) / 2.0
        thin = max(1.5, radius * 0.1)
        self._arc(self._back, radius, thin, 1.0)
        self._arc(self._front, radius, radius * self.thick_share, self.share)

    def _arc(self, mesh, radius, width, share):
        steps = max(1, round(self.SEGMENTS * share)) if share > 0 else 0
        vertices = []
        for k in range(steps + 1 if steps else 0):
            angle = math.pi / 2 - 2 * math.pi * share * k / steps
            for r in (radius, radius - width):
                x, y = (
                    (self.x + self.width / 2) + r * math.cos(angle),
                    (self.y + self.height / 2) + r * math.sin(angle),
                )
                vertices.extend((x, y, 0, 0))
        mesh.vertices = vertices
        mesh.indices = list(range(len(vertices) // 4))
