"""Marks of seats and pins on the map, of our own, told apart by shape and not by colour.

Up = filled disc with a chevron, still to turn up = ring with a chevron, down = thin ring with a
dot, blocked = hatched, pin = square with a cross.
"""

from __future__ import annotations

import math

from kiosk.screen import theme
from kiosk.screen.widgets import fine

CLEAR = 1.14  # radius of the clear ground below a mark, of the seat's
_SHARE = {"down": 0.74, "blocked": 0.86}  # of a mark that is smaller than its seat


def radius(mark, r):
    """Radius of a mark at a seat of this radius."""
    return r * _SHARE.get(mark, 1.0)


def seat(mark, x, y, r, current):
    """The mark of a seat, on a clear ground: nothing of a path touches it."""
    if mark != "down":
        fine.color(theme.WHITE)
        fine.disc(x, y, r * CLEAR)
    if mark == "up":
        seat_up(x, y, r)
    elif mark == "turn":
        seat_turn(x, y, r, current)
    elif mark == "blocked":
        seat_blocked(x, y, r)
    else:
        seat_down(x, y, r, current)


def seat_up(x, y, r):
    """Turned up and confirmed."""
    fine.color(theme.INK)
    fine.disc(x, y, r)
    _chevron(x, y, r, theme.WHITE, 0.2)


def seat_turn(x, y, r, current):
    """Still to be turned up; heavier in the zone being set."""
    fine.color(theme.INK)
    fine.disc(x, y, r)
    fine.color(theme.WHITE)
    fine.disc(x, y, r - max(1.5, r * (0.17 if current else 0.1)))
    _chevron(x, y, r, theme.INK, 0.2 if current else 0.12)


def seat_down(x, y, r, current):
    """Left down."""
    ink = theme.INK if current else theme.EDGE
    r = radius("down", r)
    fine.color(ink)
    fine.disc(x, y, r)
    fine.color(theme.PAPER)
    fine.disc(x, y, r - max(1.2, r * 0.1))
    fine.color(ink)
    fine.disc(x, y, max(1.5, r * 0.17))


def seat_blocked(x, y, r):
    """Under a cut: must stay down.  More paper than ink, unlike a seat turned up."""
    r = radius("blocked", r)
    edge = max(1.2, r * 0.1)
    fine.color(theme.INK)
    fine.disc(x, y, r)
    fine.color(theme.PAPER)
    fine.disc(x, y, r - edge)
    fine.color(theme.INK)
    for share in _hatching(r / edge):
        half = (r * 0.9) * math.sqrt(1 - share * share)
        d, h = share * r * 0.9 / math.sqrt(2), half / math.sqrt(2)
        fine.stroke([(x + d - h, y - d - h), (x + d + h, y - d + h)], edge)


def _hatching(strokes):
    """Places of the strokes, as many as leave paper between them.  ``strokes``: in the radius."""
    if strokes > 7:
        return (-0.6, -0.2, 0.2, 0.6)
    return (-0.4, 0.4) if strokes > 5 else (0.0,)


def pin(x, y, r):
    """A locating pin."""
    fine.color(theme.WHITE)
    fine.box(x - r, y - r, 2 * r, 2 * r)
    fine.color(theme.INK)
    width = max(1.5, r * 0.24)
    fine.stroke([(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)], width, close=True)
    fine.stroke([(x - r, y), (x + r, y)], width)
    fine.stroke([(x, y - r), (x, y + r)], width)


def _chevron(x, y, r, rgba, width):
    fine.color(rgba)
    fine.stroke(
        [(x - 0.4 * r, y - 0.2 * r), (x, y + 0.24 * r), (x + 0.4 * r, y - 0.2 * r)], r * width
    )
