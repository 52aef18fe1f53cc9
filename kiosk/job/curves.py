"""Curves as chords.  No chord is further than ``CHORD_MM`` from its curve, in mm.

A chord over a parameter step h of a curve c stays within h^2 / 8 max|c''| of it (the error of
linear interpolation); for a circle the sagitta r (1 - cos(t / 2)) is exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kiosk.job.job_file import Point

CHORD_MM = 0.005  # far inside the seal margin
MOST_CHORDS = 20_000  # of one curve: a circle of 400 m radius
MOST_POINTS = 1_000_000  # of one drawing


class TooLarge(ValueError):
    """A curve that no part has; the words say so."""


def _bounded(count: float) -> int:
    if not count <= MOST_CHORDS:
        raise TooLarge("a curve is hundreds of metres long: check the unit and the numbers")
    return math.ceil(count)


def arc_points(centre: Point, radius: float, start: float, sweep: float) -> list[Point]:
    """Points along a circular arc, ends included; mm and radians, counter-clockwise positive.

    Raises ``TooLarge``.
    """
    if radius <= CHORD_MM:
        count = 8
    else:
        step = 4.0 * math.asin(math.sqrt(CHORD_MM / (2.0 * radius)))  # 1 - cos t = 2 sin^2(t / 2)
        count = max(2, _bounded(abs(sweep) / step))
    turns = start + sweep * np.arange(count + 1) / count
    return [
        (centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)) for turn in turns
    ]


def bulged(rows: Sequence[tuple[float, float, float]], closed: bool) -> list[Point]:
    """A polyline of (x, y, bulge): bulge = tan(included angle / 4), counter-clockwise positive."""
    points: list[Point] = [rows[0][:2]] if rows else []
    ends = [*rows[1:], *rows[:1]] if closed else rows[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(rows, ends, strict=False):
        chord = math.hypot(x1 - x0, y1 - y0)
        if bulge and chord > 0.0:
            sweep = 4.0 * math.atan(bulge)
            rise = (1.0 / bulge - bulge) / 4.0  # centre's distance from the chord, in chords
            cx, cy = (x0 + x1) / 2.0 - (y1 - y0) * rise, (y0 + y1) / 2.0 + (x1 - x0) * rise
            radius, start = math.hypot(x0 - cx, y0 - cy), math.atan2(y0 - cy, x0 - cx)
            points += arc_points((cx, cy), radius, start, sweep)[1:-1]
        points.append((x1, y1))
    return points


def chords_of(bend: float, span: float = 1.0) -> int:
    """How many equal steps a span of the parameter needs when |c''| is at most ``bend`` mm.

    Raises ``TooLarge``.
    """
    return max(1, _bounded(span * math.sqrt(max(bend, 0.0) / (8.0 * CHORD_MM))))


def bezier_points(poles: Sequence[Point]) -> list[Point]:
    """Points along a Bezier curve of degree 2 or 3, ends included.

    |c''| is at most d (d - 1) times the largest second difference of the poles.
    """
    pole = np.array(poles, dtype=np.float64)
    degree = len(pole) - 1
    second = pole[:-2] - 2.0 * pole[1:-1] + pole[2:]
    bend = degree * (degree - 1) * float(np.hypot(second[:, 0], second[:, 1]).max())
    t = np.linspace(0.0, 1.0, chords_of(bend) + 1)[:, None]
    points = sum(
        math.comb(degree, i) * t**i * (1.0 - t) ** (degree - i) * pole[i] for i in range(degree + 1)
    )
    return [(float(x), float(y)) for x, y in np.asarray(points)]
