"""Plain surfaces: a sheet with an edge, and a hatched one for what is not known."""

from __future__ import annotations

from kivy.graphics import Color, Rectangle
from kivy.graphics.texture import Texture
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from kiosk.screen import theme

_HATCH = {}


def hatch_texture(ink=theme.EDGE, ground=theme.PAPER, side=16, width=3):
    """A repeating diagonal hatch."""
    key = (tuple(ink), tuple(ground), side, width)
    if key not in _HATCH:
        texture = Texture.create(size=(side, side), colorfmt="rgba")
        pixels = bytearray()
        for row in range(side):
            for column in range(side):
                dark = (row + column) % side < width
                pixels.extend(round(share * 255) for share in (ink if dark else ground))
        texture.blit_buffer(bytes(pixels), colorfmt="rgba", bufferfmt="ubyte")
        texture.wrap = "repeat"
        _HATCH[key] = texture
    return _HATCH[key]


def tile(rectangle, texture):
    """Repeat a texture over a rectangle at its own size."""
    across, up = rectangle.size[0] / texture.width, rectangle.size[1] / texture.height
    rectangle.tex_coords = (0, 0, across, 0, across, up, 0, up)


class Surface(Widget):
    """Draws fill and edge; no children of its own.  ``edge_px`` 0: no edge."""

    fill = ColorProperty(theme.PAPER)
    edge = ColorProperty(theme.EDGE)
    edge_px = NumericProperty(1.0)
    hatched = BooleanProperty(False)

    def __init__(self, **kwargs):
        super().__init__(**kwargs)
        with self.canvas.before:
            self._edge_color = Color(*self.edge)
            self._outer = Rectangle()
            self._fill_color = Color(*self.fill)
            self._inner = Rectangle()
        self.bind(
            pos=self._lay, size=self._lay, fill=self._lay, edge=self._lay, edge_px=self._lay,
            hatched=self._lay,
        )  # fmt: skip
        self._lay()

    def _lay(self, *_):
        px = self.edge_px
        self._edge_color.rgba = self.edge
        self._outer.pos, self._outer.size = self.pos, self.size
        self._inner.pos = (self.x + px, self.y + px)
        self._inner.size = (max(0, self.width - 2 * px), max(0, self.height - 2 * px))
        if self.hatched:
            self._fill_color.rgba = (1, 1, 1, 1)
            self._inner.texture = hatch_texture()
            tile(self._inner, self._inner.texture)
        else:
            self._fill_color.rgba = self.fill
            self._inner.texture = None


class Panel(Surface, BoxLayout):
    """A surface that holds others."""
