"""The marks of the cup map on paper, told apart by shape alone, in black and grey.

up = filled disc with a chevron, down = thin ring with a dot, blocked = hatched, pin = square with
a cross, and an arrow where the part would go first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from kiosk.job.plan import SeatState
from kiosk.job.sheet_paper import Paper, Point

_BLACK, _WHITE, _PALE = 0.0, 1.0, 0.45
_HATCH = (-0.66, -0.22, 0.22, 0.66)  # where the hatching lines cross the radius


def draw_seat(paper: Paper, state: SeatState, at: Point, radius: float) -> None:
    """The mark of a seat."""
    _SEATS[state](paper, at, radius)


def _up(paper: Paper, at: Point, radius: float) -> None:
    x, y = at
    paper.disc(at, radius, fill=0.1)
    half, low, high = 0.48 * radius, -0.24 * radius, 0.3 * radius
    points = [(x - half, y + low), (x, y + high), (x + half, y + low)]
    paper.stroke(points, _WHITE, max(0.35, 0.22 * radius))


def _down(paper: Paper, at: Point, radius: float) -> None:
    paper.disc(at, 0.78 * radius, fill=_WHITE, line=_PALE, width_mm=0.25)
    paper.disc(at, max(0.3, 0.14 * radius), fill=_PALE)


def _blocked(paper: Paper, at: Point, radius: float) -> None:
    r = 0.9 * radius
    paper.disc(at, r, fill=_WHITE, line=_BLACK, width_mm=0.35)
    for share in _HATCH:
        half = r * math.sqrt(1.0 - share * share) / math.sqrt(2.0)
        aside = share * r / math.sqrt(2.0)
        x, y = at[0] + aside, at[1] - aside
        paper.stroke([(x - half, y - half), (x + half, y + half)], _BLACK, max(0.25, 0.09 * r))


_SEATS = {SeatState.UP: _up, SeatState.DOWN: _down, SeatState.BLOCKED: _blocked}


def band_grey(through: bool) -> float:
    """Of the band that a cutter sweeps."""
    return 0.68 if through else 0.84


def draw_centre_line(paper: Paper, points: Sequence[Point], through: bool) -> None:
    """The cutter's path: a full line where it cuts through, else dashed."""
    if through:
        paper.stroke(points, _BLACK, 0.3)
    else:
        paper.stroke(points, _PALE, 0.2, dash_mm=0.8)


def draw_pin(paper: Paper, at: Point, half: float) -> None:
    """A locating pin."""
    x, y = at
    paper.box(x - half, y - half, 2 * half, 2 * half, fill=_WHITE, line=_BLACK, width_mm=0.45)
    paper.stroke([(x - half, y), (x + half, y)], _BLACK, 0.45)
    paper.stroke([(x, y - half), (x, y + half)], _BLACK, 0.45)


def draw_push(paper: Paper, tail: Point, tip: Point) -> None:
    """An arrow: where, and in which direction, the part would go first."""
    angle = math.atan2(tip[1] - tail[1], tip[0] - tail[0])
    barbs = [
        (tip[0] - 3.4 * math.cos(angle + turn), tip[1] - 3.4 * math.sin(angle + turn))
        for turn in (0.42, -0.42)
    ]
    neck = (tip[0] - 2.6 * math.cos(angle), tip[1] - 2.6 * math.sin(angle))
    paper.stroke([tail, tip], _WHITE, 2.4)
    paper.loop([tip, *barbs], fill=_WHITE, line=_WHITE, width_mm=1.4)
    paper.stroke([tail, neck], _BLACK, 1.0)
    paper.loop([tip, *barbs], fill=_BLACK)


def draw_spot(paper: Paper, at: Point) -> None:
    """A ring round a point: where the part would lift first."""
    paper.disc(at, 2.2, fill=None, line=_WHITE, width_mm=2.2)
    paper.disc(at, 2.2, fill=None, line=_BLACK, width_mm=0.9)
