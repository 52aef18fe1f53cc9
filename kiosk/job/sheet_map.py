"""The cup map on paper, to scale: part, cutter's path, seats, pins, and where the part goes first.

Grid frame in mm on the table; the operator's side is at the bottom.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from kiosk.job.plan import CutPath, Plan, Seat, SeatState
from kiosk.job.sheet_marks import (
    band_grey,
    draw_centre_line,
    draw_pin,
    draw_push,
    draw_seat,
    draw_spot,
)
from kiosk.job.sheet_paper import CAP_MM, Paper, Point, width_mm

_LEFT_MM, _FOOT_MM, _HEAD_MM = 8.0, 5.5, 5.5  # room for row letters and column numbers, on paper
_AROUND = 0.25  # a part may show this share of the grid's size beyond the grid
_SAME_MM = 1.0  # seats this close in x or y stand in one line
_ARROWS_MM = (13.0, 9.0, 6.5)  # on paper; the first that covers the fewest marks
_ARROW_ROOM = 0.08  # of the grid's size: enough for the shortest arrow at the sheet's scales
_PIN_MM = 14.0  # half a pin's mark, on the table
_EDGE_MM = 6.0  # round everything, on the table
_STEPS = (1, 2, 5, 10, 20, 50, 100)

Box = tuple[float, float, float, float]  # left, bottom, right, top


@dataclass(frozen=True, slots=True)
class Window:
    """The piece of the table that is shown.  ``cut``: the part goes on beyond it."""

    left: float
    bottom: float
    right: float
    top: float
    cut: bool

    @property
    def wide(self) -> float:
        return self.right - self.left

    @property
    def high(self) -> float:
        return self.top - self.bottom

    def holds(self, at: Point) -> bool:
        return self.left <= at[0] <= self.right and self.bottom <= at[1] <= self.top


def window_of(plan: Plan) -> Window:
    """All seats, and part, pins and the governing place as far as they are near the grid."""
    half = plan.seat_diameter_mm / 2.0
    xs = [seat.x_mm for seat in plan.seats]
    ys = [seat.y_mm for seat in plan.seats]
    left, right = min(xs) - half, max(xs) + half
    bottom, top = min(ys) - half, max(ys) + half
    reach = _AROUND * max(right - left, top - bottom)
    boxes = [(*point, _EDGE_MM) for point in plan.outline]
    boxes += [(*point, _PIN_MM + _EDGE_MM) for point in plan.pins]
    px = [x + side for x, _, around in boxes for side in (-around, around)]
    py = [y + side for _, y, around in boxes for side in (-around, around)]
    cut = (
        min(px) < left - reach or max(px) > right + reach
        or min(py) < bottom - reach or max(py) > top + reach
    )  # fmt: skip
    for x, y in _first_arrow(plan, _ARROW_ROOM * max(right - left, top - bottom)):
        px += [x - _EDGE_MM, x + _EDGE_MM]
        py += [y - _EDGE_MM, y + _EDGE_MM]
    return Window(
        max(left - reach, min(left, *px)), max(bottom - reach, min(bottom, *py)),
        min(right + reach, max(right, *px)), min(top + reach, max(top, *py)), cut,
    )  # fmt: skip


def _first_arrow(plan: Plan, long_mm: float) -> list[Point]:
    """Both ends of an arrow to where the part goes first, which may lie beside part and grid."""
    spot, (dx, dy) = plan.governed_grid_mm, plan.governed_push or (0.0, 0.0)
    return [] if spot is None else [spot, (spot[0] - dx * long_mm, spot[1] - dy * long_mm)]


@dataclass(slots=True)
class _Labels:
    """Labels drawn so far, and marks that none may cover."""

    boxes: list[Box] = field(default_factory=list)

    def row(self, paper: Paper, labels: Sequence[tuple[Point, str]], bold: bool = False) -> None:
        """Labels side by side: all, or every second, fifth or tenth, so that they do not touch."""
        for step in _STEPS:
            boxes = [_box(at, words, bold) for at, words in labels[::step]]
            if not any(_touch(one, other) for one, other in pairwise(boxes)):
                break
        for at, words in labels[::step]:
            self.draw(paper, at, words, bold)

    def draw(self, paper: Paper, at: Point, words: str, bold: bool = False) -> bool:
        """One label; False and nothing drawn if it would touch what is there."""
        box = _box(at, words, bold)
        if any(_touch(box, other) for other in self.boxes):
            return False
        self.boxes.append(box)
        paper.box(box[0], box[1] - 0.3, box[2] - box[0], CAP_MM + 0.9, fill=1.0)
        paper.text(at, words, bold=bold, align="centre")
        return True


def _box(at: Point, words: str, bold: bool) -> Box:
    half = width_mm(words, CAP_MM, bold) / 2.0 + 0.6
    return at[0] - half, at[1] - 0.3, at[0] + half, at[1] + CAP_MM + 0.3


def _touch(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


class CupMap:
    """The map of one plan; its size on paper follows from the room given."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.window = window_of(plan)
        zones: dict[str, list[Seat]] = defaultdict(list)
        for seat in plan.seats:
            zones[seat.zone].append(seat)
        self.zones = zones
        self.rows = all(_spread([s.y_mm for s in seats]) <= _SAME_MM for seats in zones.values())
        self.shifted = self._shifted()

    def high_mm(self, room_mm: float) -> float:
        """Height at the full width."""
        return self._around_mm() + self.window.high * (room_mm - _LEFT_MM) / self.window.wide

    def scale(self, room_mm: float, high_mm: float) -> float:
        """Paper over table, within a room of this width and height."""
        inside = high_mm - self._around_mm()
        return min((room_mm - _LEFT_MM) / self.window.wide, inside / self.window.high)

    def draw(self, paper: Paper, corner: Point, room_mm: float, high_mm: float) -> None:
        """Draw it, centred, hanging from the upper left corner."""
        scale = self.scale(room_mm, high_mm)
        wide, high = self.window.wide * scale, self.window.high * scale
        left = corner[0] + (room_mm - _LEFT_MM - wide) / 2.0 + _LEFT_MM
        bottom = corner[1] - (_HEAD_MM if self.shifted else 0.0) - high
        _Drawing(self, paper, left, bottom, scale).draw()

    def _around_mm(self) -> float:
        return _FOOT_MM + (_HEAD_MM if self.shifted else 0.0)

    def _shifted(self) -> list[Seat]:
        """Seats of the first row whose columns stand elsewhere than the lowest row's."""
        if not self.rows:
            return []
        lowest = min(self.zones.values(), key=lambda seats: seats[0].y_mm)
        xs = [seat.x_mm for seat in lowest]
        for seats in self.zones.values():
            if any(min(abs(seat.x_mm - x) for x in xs) > _SAME_MM for seat in seats):
                return seats
        return []


@dataclass(slots=True)
class _Drawing:
    """The map at one place and scale: paper = corner + scale x (table - window's corner)."""

    map: CupMap
    paper: Paper
    left: float
    bottom: float
    scale: float

    def draw(self) -> None:
        window, plan = self.map.window, self.map.plan
        wide, high = window.wide * self.scale, window.high * self.scale
        self.paper.clip(self.left, self.bottom, wide, high)
        self._part()
        self._centre_lines()
        for seat in plan.seats:  # over the lines: what goes up must be read without doubt
            draw_seat(self.paper, seat.state, self._at((seat.x_mm, seat.y_mm)), self._radius())
        for pin in plan.pins:
            draw_pin(self.paper, self._at(pin), max(1.6, _PIN_MM * self.scale))
        self._first_to_go()
        self.paper.unclip()
        self.paper.box(self.left, self.bottom, wide, high, line=0.55, width_mm=0.25)
        self._label()

    def _at(self, point: Point) -> Point:
        window = self.map.window
        return (
            self.left + (point[0] - window.left) * self.scale,
            self.bottom + (point[1] - window.bottom) * self.scale,
        )

    def _loop(self, points: tuple[Point, ...], fill: float, width_mm: float) -> None:
        loop = [self._at(point) for point in points]
        self.paper.loop(loop, fill=fill, line=0.0, width_mm=width_mm)

    def _part(self) -> None:
        plan = self.map.plan
        self._loop(plan.outline, 0.93, 0.7)
        for opening in plan.openings:
            self._loop(opening, 1.0, 0.4)
        for path in sorted(plan.paths, key=lambda path: path.through):
            self._band(path, band_grey(path.through))

    def _band(self, path: CutPath, grey: float) -> None:
        """The cutter's width along its path; a bore is a disc."""
        points, wide = [self._at(point) for point in path.points], path.width_mm * self.scale
        if len(set(path.points)) == 1:
            self.paper.disc(points[0], wide / 2.0, fill=grey)
        else:
            self.paper.stroke(points, grey, wide)

    def _centre_lines(self) -> None:
        for path in self.map.plan.paths:
            points = [self._at(point) for point in path.points]
            if len(set(path.points)) > 1:
                draw_centre_line(self.paper, points, path.through)

    def _first_to_go(self) -> None:
        plan, window = self.map.plan, self.map.window
        spot, push = plan.governed_grid_mm, plan.governed_push
        if spot is None or not window.holds(spot):
            return
        at = self._at(spot)
        if push is None:
            draw_spot(self.paper, at)
            return
        arrows = []
        for long_mm in _ARROWS_MM:
            dx, dy = (share * long_mm / self.scale for share in push)
            arrows += [(spot, (spot[0] + dx, spot[1] + dy)), ((spot[0] - dx, spot[1] - dy), spot)]
        tail, tip = min(arrows, key=self._hidden)
        draw_push(self.paper, self._at(tail), self._at(tip))

    def _hidden(self, arrow: tuple[Point, Point]) -> tuple[bool, int]:
        """How bad a place for an arrow is: outside the map, then how many marks it covers."""
        (x0, y0), (x1, y1) = arrow
        along = [(x0 + (x1 - x0) * n / 8.0, y0 + (y1 - y0) * n / 8.0) for n in range(9)]
        reach = self.map.plan.outer_diameter_mm / 2.0
        covered = [
            seat for seat in self.map.plan.seats
            if any(math.dist(point, (seat.x_mm, seat.y_mm)) < reach for point in along)
        ]  # fmt: skip
        return not all(self.map.window.holds(point) for point in arrow), len(covered)

    # -- names -----------------------------------------------------------------------------

    def _label(self) -> None:
        labels = _Labels()
        if not self.map.rows:
            self._name_seats(labels)
            return
        middle = self.left - _LEFT_MM / 2.0
        ordered = sorted(self.map.zones.items(), key=lambda zone: zone[1][0].y_mm)
        heights = ((self._at((0.0, seats[0].y_mm))[1], name) for name, seats in ordered)
        named = [((middle, y - CAP_MM / 2.0), name) for y, name in heights]
        labels.row(self.paper, named, bold=True)
        lowest = min(self.map.zones.values(), key=lambda seats: seats[0].y_mm)
        self._number(labels, lowest, self.bottom - CAP_MM - 1.3)
        top = self.bottom + self.map.window.high * self.scale
        self._number(labels, self.map.shifted, top + 1.3)

    def _number(self, labels: _Labels, seats: list[Seat], y: float) -> None:
        ordered = sorted(seats, key=lambda seat: seat.x_mm)
        xs = ((self._at((seat.x_mm, 0.0))[0], seat) for seat in ordered)
        labels.row(self.paper, [((x, y), seat.name.removeprefix(seat.zone)) for x, seat in xs])

    def _name_seats(self, labels: _Labels) -> None:
        """Names beside the seats, as many as cover no mark; those that go up come first."""
        reach = self._radius()
        seats = sorted(self.map.plan.seats, key=lambda seat: seat.state is not SeatState.UP)
        spots = [(self._at((seat.x_mm, seat.y_mm)), seat.name) for seat in seats]
        labels.boxes += [(x - reach, y - reach, x + reach, y + reach) for (x, y), _ in spots]
        labels.boxes += self._outside()
        for (x, y), name in spots:
            aside = reach + width_mm(name) / 2.0 + 0.8
            beside = ((x, y - reach - CAP_MM - 0.8), (x, y + reach + 0.8),
                      (x + aside, y - CAP_MM / 2.0), (x - aside, y - CAP_MM / 2.0))  # fmt: skip
            any(labels.draw(self.paper, place, name) for place in beside)

    def _outside(self) -> list[Box]:
        """What is above the map's frame, beside it, and below the room for numbers."""
        window, far = self.map.window, 1000.0
        right = self.left + window.wide * self.scale
        top, low = self.bottom + window.high * self.scale, self.bottom - _FOOT_MM
        return [(-far, top, far, far), (-far, -far, far, low), (-far, -far, self.left, far),
                (right, -far, far, far)]  # fmt: skip

    def _radius(self) -> float:
        """Of a seat's mark on paper."""
        return max(self.map.plan.outer_diameter_mm / 2.0 * self.scale, 1.2)


def _spread(values: list[float]) -> float:
    return max(values) - min(values)
