"""Curves as chords.  No chord is further than ``CHORD_MM`` from its curve, in mm.

A chord over a parameter step h of a curve c stays within h^2 / 8 max|c''| of it (the error of
linear interpolation); for a circle the sagitta r (1 - cos(t / 2)) is exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from kiosk.job.job_file import Point

CHORD_MM = 0.005  # far inside the seal margin
MOST_CHORDS = 20_000  # of one curve: a circle of 400 m radius
_PARTS = 16
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


def flattened(
    points_of: Callable[[Iterable[float]], Iterable[Any]], own: Sequence[float], error: float
) -> list[Any]:
    """Points of a curve from ``own[0]`` to ``own[-1]``, its knots, in the curve's own unit.

    Spans between knots are halved until their middle is within ``error`` of the chord; each begins
    with 16 parts, so that a bend on both sides of a middle is not taken for straight.  Raises
    ``TooLarge``.
    """
    spans = [np.linspace(low, high, _PARTS, endpoint=False) for low, high in pairwise(own)]
    params = np.concatenate([*spans, [own[-1]]])
    while True:
        _bounded(len(params))
        middles = 0.5 * (params[1:] + params[:-1])
        points = list(points_of(params))
        far = _away(points, list(points_of(middles))) >= error
        if not far.any():
            return points
        params = np.sort(np.concatenate([params, middles[far]]))


def _away(points: list[Any], middles: list[Any]) -> np.ndarray:
    """How far each middle is from the chord around it."""
    spots, inner = (np.array([tuple(p) for p in found], dtype=float) for found in (points, middles))
    chord, out = spots[1:] - spots[:-1], inner - spots[:-1]
    length2 = np.maximum((chord * chord).sum(axis=1), 1e-300)
    share = np.clip((out * chord).sum(axis=1) / length2, 0.0, 1.0)
    away: np.ndarray = np.linalg.norm(out - share[:, None] * chord, axis=1)
    return away
