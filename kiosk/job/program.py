"""An NC program as motion: moves, lengths, extents, times.

Says nothing of how a program is written; ``gcode`` reads one and ``gcode_write`` writes one.
Coordinates are mm from the zero of G54, the program's axes.  Feeds mm/min, speeds rev/min,
angles rad, times s.  Standard library only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

Xyz = tuple[float, float, float]

RAPID_MM_MIN = 20_000.0  # a router's rapid rate; common practice, no source


class MoveKind(StrEnum):
    """What a move does."""

    RAPID = "rapid"
    FEED = "feed"
    ARC = "arc"
    DRILL = "drill"  # a stroke at feed of a drilling cycle, in or out
    RETRACT_OFF = "retract off"  # to, from or at a place that only the machine knows: G28 G30 G53


CUTTING = frozenset({MoveKind.FEED, MoveKind.ARC, MoveKind.DRILL})


class Plane(StrEnum):
    """The plane of arcs and drilling cycles: G17, G18, G19."""

    XY = "XY"
    ZX = "ZX"
    YZ = "YZ"


# First axis, second axis, normal: counter-clockwise is from the first to the second as seen
# from the normal's positive end.  RS274/NGC (NISTIR 6556), section 4.3.6.1.
PLANE_AXES: dict[Plane, tuple[int, int, int]] = {
    Plane.XY: (0, 1, 2),
    Plane.ZX: (2, 0, 1),
    Plane.YZ: (1, 2, 0),
}


@dataclass(frozen=True, slots=True)
class Move:
    """One straight line, circular arc or helix of the tool tip, mm from the zero of G54.

    ``line`` is the line of the file, from 1.  ``tool`` is None before the first tool;
    ``feed_mm_min`` is None for what does not feed; ``spindle_rpm`` is the last S, None when there
    was none or it was S0; ``reversed_spindle``: since M4 it turns counter-clockwise, seen from
    above.  ``start_known`` is False for a rapid move before the program has placed
    every axis: its start is then taken as program zero, though the tip may be anywhere.
    ``centre`` (its normal coordinate is the start's) and ``sweep_rad`` (counter-clockwise
    positive, seen from the plane's normal) are None except for arcs.
    """

    kind: MoveKind
    start: Xyz
    end: Xyz
    line: int
    tool: int | None = None
    feed_mm_min: float | None = None
    spindle_rpm: float | None = None
    plane: Plane = Plane.XY
    centre: Xyz | None = None
    sweep_rad: float | None = None
    start_known: bool = field(default=True, compare=False)
    reversed_spindle: bool = False

    @property
    def cuts(self) -> bool:
        """True for feed moves, arcs and drilling strokes."""
        return self.kind in CUTTING

    @property
    def radius_mm(self) -> float | None:
        """Radius of an arc at its start; None for a line."""
        if self.centre is None:
            return None
        first, second, _ = PLANE_AXES[self.plane]
        return math.hypot(
            self.start[first] - self.centre[first], self.start[second] - self.centre[second]
        )

    @property
    def length_mm(self) -> float:
        """Length along the line, arc or helix; 0 for RETRACT_OFF, whose ends are not known."""
        if self.kind is MoveKind.RETRACT_OFF:
            return 0.0
        if self.centre is None or self.sweep_rad is None:
            return math.dist(self.start, self.end)
        first, second, normal = PLANE_AXES[self.plane]
        out = math.hypot(
            self.end[first] - self.centre[first], self.end[second] - self.centre[second]
        )
        mean_mm = 0.5 * ((self.radius_mm or 0.0) + out)  # equal but for rounding in the file
        return math.hypot(mean_mm * self.sweep_rad, self.end[normal] - self.start[normal])

    def seconds(self, rapid_mm_min: float = RAPID_MM_MIN) -> float:
        """Time at the programmed feed, or at the given rapid rate; no acceleration."""
        if self.kind is MoveKind.RETRACT_OFF:
            return 0.0
        rate = self.feed_mm_min if self.cuts else rapid_mm_min
        return 0.0 if not rate else 60.0 * self.length_mm / rate

    def points(self, chord_error_mm: float) -> list[Xyz]:
        """Points from start to end, both included, chords within ``chord_error_mm`` of an arc.

        Raises ValueError when ``chord_error_mm`` is not positive.
        """
        if not chord_error_mm > 0.0:
            raise ValueError("chord_error_mm must be more than 0")
        if self.centre is None or self.sweep_rad is None:
            return [self.start, self.end]
        steps = _steps(self.radius_mm or 0.0, self.sweep_rad, chord_error_mm)
        inner = [self._at(step / steps) for step in range(1, steps)]
        return [self.start, *inner, self.end]

    def extents(self) -> tuple[Xyz, Xyz]:
        """Least and greatest x, y, z of the move, with the quadrant points of an arc."""
        low = tuple(map(min, self.start, self.end))
        high = tuple(map(max, self.start, self.end))
        if self.sweep_rad is None:
            return (low[0], low[1], low[2]), (high[0], high[1], high[2])
        for point in self._quadrant_points():
            low, high = tuple(map(min, low, point)), tuple(map(max, high, point))
        return (low[0], low[1], low[2]), (high[0], high[1], high[2])

    def _angle_rad(self) -> float:
        first, second, _ = PLANE_AXES[self.plane]
        centre = self.centre or self.start
        return math.atan2(self.start[second] - centre[second], self.start[first] - centre[first])

    def _at(self, share: float) -> Xyz:
        """The point at a share of the sweep; radius and normal go evenly from start to end."""
        first, second, normal = PLANE_AXES[self.plane]
        centre = self.centre or self.start
        ends = (
            self.radius_mm or 0.0,
            math.dist((self.end[first], self.end[second]), (centre[first], centre[second])),
        )
        radius = ends[0] + share * (ends[1] - ends[0])
        angle = self._angle_rad() + share * (self.sweep_rad or 0.0)
        point = list(self.start)
        point[first] = centre[first] + radius * math.cos(angle)
        point[second] = centre[second] + radius * math.sin(angle)
        point[normal] += share * (self.end[normal] - self.start[normal])
        return (point[0], point[1], point[2])

    def _quadrant_points(self) -> list[Xyz]:
        """Points of the arc where an axis of its plane has a least or greatest value."""
        sweep = self.sweep_rad or 0.0
        begin = self._angle_rad()
        low, high = sorted((begin, begin + sweep))
        quarter = 0.5 * math.pi
        turns = range(math.ceil(low / quarter), math.floor(high / quarter) + 1)
        return [self._at((turn * quarter - begin) / sweep) for turn in turns] if sweep else []


def _steps(radius_mm: float, sweep_rad: float, chord_error_mm: float) -> int:
    """Chords for an arc: sagitta r (1 - cos(step / 2)) <= error, and no step over 45 degrees."""
    share = min(1.0, chord_error_mm / radius_mm) if radius_mm > 0.0 else 1.0
    step = min(0.25 * math.pi, 2.0 * math.acos(1.0 - share))
    return min(100_000, max(1, math.ceil(abs(sweep_rad) / max(step, 1e-9) - 1e-9)))


@dataclass(frozen=True, slots=True)
class Program:
    """A whole program, made by ``program_of``.

    ``tools`` are the numbers of the tools that cut, in order of use.  ``assumed`` says in a few
    words each what the file left open and how it was taken.  Extents and ``cut_length_mm`` are
    of cutting moves, start points included; None when nothing cuts.  ``seconds`` is at the
    programmed feeds and ``RAPID_MM_MIN``, with the dwells.  ``never_turned``: no M3 or M4 starts
    the spindle.  ``optional_lines`` start with ``/`` and change the cut; they were carried out.
    """

    moves: tuple[Move, ...]
    tools: tuple[int, ...]
    assumed: tuple[str, ...]
    cut_length_mm: float
    rapid_length_mm: float
    min_mm: Xyz | None
    max_mm: Xyz | None
    seconds: float
    dwell_s: float
    never_turned: bool = False
    optional_lines: tuple[int, ...] = ()

    def seconds_at(self, rapid_mm_min: float) -> float:
        """Time in s with another rapid rate."""
        return self.dwell_s + math.fsum(move.seconds(rapid_mm_min) for move in self.moves)


def program_of(
    moves: Iterable[Move], assumed: tuple[str, ...] = (), dwell_s: float = 0.0
) -> Program:
    """The Program of these moves, with its lengths, extents and time."""
    kept = tuple(moves)
    cutting = [move for move in kept if move.kind in CUTTING]
    rapids = [move for move in kept if move.kind is MoveKind.RAPID]
    low, high = _extents(cutting)
    return Program(
        moves=kept,
        tools=tuple(dict.fromkeys(move.tool for move in cutting if move.tool is not None)),
        assumed=assumed,
        cut_length_mm=math.fsum(move.length_mm for move in cutting),
        rapid_length_mm=math.fsum(move.length_mm for move in rapids),
        min_mm=low,
        max_mm=high,
        seconds=dwell_s + math.fsum(move.seconds() for move in kept),
        dwell_s=dwell_s,
    )


def _extents(cutting: list[Move]) -> tuple[Xyz | None, Xyz | None]:
    if not cutting:
        return None, None
    points = [point for move in cutting if move.centre is None for point in (move.start, move.end)]
    points += [point for move in cutting if move.centre is not None for point in move.extents()]
    columns = list(zip(*points, strict=True))
    low, high = [min(column) for column in columns], [max(column) for column in columns]
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])
