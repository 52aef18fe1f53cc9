"""A picture drawn at twice its size and shown at half: smooth edges without multisampling.

It is drawn again only when something in it changes, so it costs one rectangle a frame.
"""

from __future__ import annotations

import math

from kivy.clock import Clock
from kivy.core.text import Label as CoreLabel
from kivy.graphics import ClearBuffers, ClearColor, Color, Ellipse, Fbo, Line, Mesh, Rectangle
from kivy.graphics.tesselator import TYPE_POLYGONS, WINDING_ODD, Tesselator
from kivy.properties import ColorProperty
from kivy.uix.widget import Widget

from kiosk.screen import theme
from kiosk.screen.safely import safely

TIMES = 2
MOST_POINTS = 1000  # a thick line silently ends near 4,680 points
SEGMENTS = 48


class Fine(Widget):
    """``paint`` draws in pixels from the lower left corner, on ``ground``."""

    ground = ColorProperty(theme.GROUND)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        with self.canvas:
            Color(1, 1, 1, 1)
            self._rect = Rectangle()
        self._fbo = None
        self.redraw = Clock.create_trigger(safely(self._paint), -1)
        self.bind(size=self.redraw, ground=self.redraw, pos=self._move)
        self.redraw()

    def _move(self, *_):
        self._rect.pos = (round(self.x), round(self.y))

    def _paint(self, *_):
        size = (max(1, round(self.width)), max(1, round(self.height)))
        big = (size[0] * TIMES, size[1] * TIMES)
        if self._fbo is None or tuple(self._fbo.size) != big:
            self._fbo = Fbo(size=big)
            self._fbo.texture.mag_filter = self._fbo.texture.min_filter = "linear"
        self._fbo.clear()
        with self._fbo:
            ClearColor(*self.ground)
            ClearBuffers()
            self.paint(*size)
        self._fbo.draw()
        self._rect.texture = self._fbo.texture
        self._rect.size = size
        self.painted()
        self._move()
        self.canvas.ask_update()

    def paint(self, width, height):
        """Draw with the functions below."""

    def painted(self):
        """What else depends on the picture, outside of it."""


def color(rgba):
    """The colour of what is drawn next."""
    Color(*rgba)


def box(x, y, width, height):
    """A filled box."""
    Rectangle(pos=(x * TIMES, y * TIMES), size=(width * TIMES, height * TIMES))


def disc(x, y, radius):
    """A filled disc."""
    r = radius * TIMES
    Ellipse(pos=(x * TIMES - r, y * TIMES - r), size=(2 * r, 2 * r), segments=SEGMENTS)


def stroke(points, width, close=False):
    """A line through points, ``width`` pixels wide."""
    flat = [value * TIMES for point in points for value in point]
    step = MOST_POINTS * 2
    for start in range(0, max(1, len(flat) - 2), step):
        part = flat[start : start + step + 2]
        if len(part) >= 4:
            Line(
                points=part, width=width * TIMES / 2.0, close=close and len(flat) <= step,
                cap="round", joint="round",
            )  # fmt: skip


def dashed(start, end, width, on, off):
    """A dashed straight line."""
    length = math.dist(start, end)
    if length <= 0:
        return
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    at = 0.0
    while at < length:
        to = min(length, at + on)
        points = [(start[0] + along[0] * t, start[1] + along[1] * t) for t in (at, to)]
        flat = [value * TIMES for point in points for value in point]
        Line(points=flat, width=width * TIMES / 2.0, cap="none")
        at += on + off


def polygon(points):
    """A filled convex polygon."""
    vertices = []
    for x, y in points:
        vertices.extend((x * TIMES, y * TIMES, 0, 0))
    Mesh(vertices=vertices, indices=list(range(len(points))), mode="triangle_fan")


def corners(count, x, y, radius, turn=0.0):
    """Corners of a regular polygon."""
    angles = [turn + 2 * math.pi * k / count for k in range(count)]
    return [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles]


def area(points):
    """A filled polygon that may be concave."""
    tess = Tesselator()
    tess.add_contour([value * TIMES for point in points for value in point])
    if not tess.tesselate(WINDING_ODD, TYPE_POLYGONS):
        return
    for vertices, indices in tess.meshes:
        Mesh(vertices=vertices, indices=indices, mode="triangle_fan")


def words(text, px, bold):
    """A texture of one line of text."""
    label = CoreLabel(text=text, font_size=px, bold=bold)
    label.refresh()
    return label.texture


def hatch(rings, gap):
    """Strokes from upper left to lower right, ``gap`` pixels apart, inside the first ring and
    outside of the others."""
    levels = [x + y for x, y in rings[0]]
    found = []
    level = min(levels) + gap / 2
    while level < max(levels):
        crossings = sorted(x for ring in rings for x in _crossings(ring, level))
        found += [
            [(x0, level - x0), (x1, level - x1)]
            for x0, x1 in zip(crossings[::2], crossings[1::2], strict=False)
        ]
        level += gap
    return found


def _crossings(points, level):
    """x where the outline meets the line x + y = level."""
    found = []
    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True):
        a, b = x0 + y0 - level, x1 + y1 - level
        if (a < 0) != (b < 0):
            found.append(x0 + (x1 - x0) * a / (a - b))
    return found
