"""Locating pins, roller lifters and spoil boards: what they take, and what to say of them.

Pins stand in the grid frame.  A pin stands no higher than the part (common practice, no source),
so a cutter whose tip is below the part's top can meet it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import LinearRing, Polygon
from shapely import Point as ShapelyPoint

from kiosk.job.cuts import Cut
from kiosk.job.findings import finding
from kiosk.job.frames import FloatArray, Frame
from kiosk.job.job_file import Job, Point
from kiosk.job.plan import Finding
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import Site, Special
from kiosk.site.specials import PIN_DIAMETER_MM, PIN_KINDS

_NEAR_MM = 60.0  # a pin of the site this near to an edge is meant: common practice, no source
_ALONG_MM = 0.5  # of an edge on either side of a point, for its direction
_SQUARE = 0.2  # cosine; a pin at an edge stands square to it within about 11 degrees
_CLEAR_MM = 10.0  # a fixed pin nearer to a through-cut is at a cut edge: common practice, no source
_SAME_MM = 0.1
_POROUS = ("particleboard", "mdf", "softboard")  # pass air where raw: common practice, no source
_STANDS = {"pin": "a locating pin stands here", "pin_drawing_back": "a locating pin stands here",
           "roller_lifter": "a roller lifter sits here",
           "board": "a spoil board stands here"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin in the grid frame, mm.  ``own``: named by the job, so the part lies against it."""

    x_mm: float
    y_mm: float
    diameter_mm: float
    fixed: bool
    own: bool

    @property
    def words(self) -> str:
        return f"the pin at x {self.x_mm:.0f}, y {self.y_mm:.0f} mm"


def taken_seats(job: Job, site: Site) -> dict[str, str]:
    """Seats where no cup can go up, with the reason."""
    rows = (*site.specials, *job.pins)
    return {seat: _STANDS[row.kind] for row in rows if row.kind in _STANDS for seat in row.takes}


def pins_of(job: Job, site: Site) -> tuple[Pin, ...]:
    """Pins of the job and the site.  Raises ``BadInput`` for a seat that is not in the grid.

    Where the job names a pin that the site has too, the job's row counts.
    """
    seats = {seat.name: (seat.x_mm, seat.y_mm) for seat in site.seats}
    strange: list[Mistake] = []
    for number, row in enumerate(job.pins):
        if row.seat is not None and row.seat not in seats:
            text = f'seat "{row.seat}" is not in the grid of {site.file.name}: write a seat\'s name'
            strange.append(job.mistake(text, "pin", number, "seat"))
    if strange:
        raise BadInput(strange)
    found: dict[Point, Pin] = {}
    for rows, own in ((site.specials, False), (job.pins, True)):
        for row in rows:
            if row.kind in PIN_KINDS:
                pin = _pin(row, seats, own)
                found[round(pin.x_mm, 3), round(pin.y_mm, 3)] = pin
    return tuple(found.values())


def _pin(row: Special, seats: dict[str, Point], own: bool) -> Pin:
    at = seats[row.seat] if row.seat else (row.x_mm or 0.0, row.y_mm or 0.0)
    return Pin(*at, row.diameter_mm or PIN_DIAMETER_MM, row.kind == "pin", own)


def pin_findings(
    job: Job, site: Site, blank: Polygon, frame: Frame, cuts: Sequence[Cut]
) -> list[Finding]:
    """Pins under the cutter, at cut edges, and off the part."""
    pins = pins_of(job, site)
    if not pins:
        return []
    spots = frame.to_part(np.array([[pin.x_mm, pin.y_mm] for pin in pins]))
    low = _Segments.of([cut for cut in cuts if cut.lowest_mm < job.thickness_mm])
    skin_mm = 0.0 if job.program is None else job.program.skin_mm
    through = _Segments.of([cut for cut in cuts if not cut.rapid and cut.lowest_mm <= skin_mm])
    found = []
    for pin, spot in zip(pins, spots, strict=True):
        if pin.fixed:
            found += _cut_at(pin, spot, low, through)
    rim = Polygon(blank.exterior).exterior
    own = any(pin.own for pin in pins)
    off = [
        _off(pin, spot, blank, job.placement.pin_tolerance_mm)
        for pin, spot in zip(pins, spots, strict=True)
        if pin.own or (not own and _at_an_edge(pin, spot, rim))
    ]
    told = ", ".join(words for words in off if words)
    if told:
        found.append(finding("part_off_pins", f"The part {told}. Check placement and pins."))
    return found


def _at_an_edge(pin: Pin, spot: FloatArray, rim: LinearRing) -> bool:
    """Whether a pin of the site stands at an edge of the part: near it and square to it.

    One beyond a corner locates nothing, nor does one far inside or outside the part.
    """
    centre = ShapelyPoint(spot)
    if rim.distance(centre) - pin.diameter_mm / 2.0 > _NEAR_MM:
        return False
    along = rim.project(centre)
    here = rim.interpolate(along)
    towards = np.array([centre.x - here.x, centre.y - here.y])
    away = float(np.hypot(*towards))
    if away < _SAME_MM:
        return True
    for step in (-_ALONG_MM, _ALONG_MM):
        beside = rim.interpolate((along + step) % rim.length)
        edge = np.array([beside.x - here.x, beside.y - here.y])
        if abs(float(edge @ towards)) > _SQUARE * away * float(np.hypot(*edge)):
            return False
    return True


def _cut_at(pin: Pin, spot: FloatArray, low: _Segments, through: _Segments) -> list[Finding]:
    radius = pin.diameter_mm / 2.0
    gap, line = low.nearest(spot)
    if gap < radius:
        text = f"Line {line} runs the cutter over {pin.words}. Move the pin, or use one that draws "
        return [finding("pin_under_cutter", text + "back.")]
    gap, line = through.nearest(spot)
    if gap < radius + _CLEAR_MM:
        text = (
            f"Line {line} cuts the edge at {pin.words}, {gap - radius:.1f} mm from it, and the pin "
            "is fixed. Use a pin that draws back."
        )
        return [finding("fixed_pin_at_cut_edge", text)]
    return []


def _off(pin: Pin, spot: FloatArray, blank: Polygon, tolerance_mm: float) -> str:
    """How the part misses a pin; empty where it touches."""
    centre, solid = ShapelyPoint(spot), Polygon(blank.exterior)
    away = float(solid.exterior.distance(centre))
    gap = (-away if solid.covers(centre) else away) - pin.diameter_mm / 2.0
    if abs(gap) <= tolerance_mm:
        return ""
    return f"{'is off' if gap > 0.0 else 'overlaps'} {pin.words} by {abs(gap):.1f} mm"


@dataclass(frozen=True, slots=True, eq=False)
class _Segments:
    """Straight cuts as arrays (n, 2), with the radius of each cutter and its line."""

    start: FloatArray
    along: FloatArray
    radius: FloatArray
    lines: tuple[int, ...]

    @staticmethod
    def of(cuts: Sequence[Cut]) -> _Segments:
        start = np.array([cut.start[:2] for cut in cuts]).reshape(-1, 2)
        end = np.array([cut.end[:2] for cut in cuts]).reshape(-1, 2)
        radius = np.array([cut.tool.diameter_mm / 2.0 for cut in cuts])
        return _Segments(start, end - start, radius, tuple(cut.line for cut in cuts))

    def nearest(self, spot: FloatArray) -> tuple[float, int]:
        """Least distance of a point from what the cutters sweep, and the line; inf with none."""
        if not self.lines:
            return float("inf"), 0
        length = np.maximum((self.along**2).sum(axis=1), 1e-12)
        share = np.clip(((spot - self.start) * self.along).sum(axis=1) / length, 0.0, 1.0)
        away = np.hypot(*(spot - self.start - share[:, None] * self.along).T) - self.radius
        index = int(away.argmin())
        return float(away[index]), self.lines[index]


def fixture_findings(site: Site, blank: Polygon, frame: Frame) -> list[Finding]:
    """Roller lifters and spoil boards under the part."""
    spots = frame.to_part(np.array([[seat.x_mm, seat.y_mm] for seat in site.seats]))
    reach = site.cup.seat_diameter_mm / 2.0
    under = {
        seat.name
        for seat, spot in zip(site.seats, spots, strict=True)
        if blank.distance(ShapelyPoint(spot)) < reach
    }
    found = []
    lifters = [s.seat for s in site.specials if s.kind == "roller_lifter" and s.seat in under]
    if lifters:
        names = ", ".join(str(name) for name in lifters)
        text = f"Roller lifters under the part, {names}: see that they are down before the vacuum."
        found.append(finding("roller_lifters", text))
    for board in site.specials:
        if board.kind == "board" and under & set(board.seats):
            found += _board_findings(board, site.cup.lift_mm)
    return found


def _board_findings(board: Special, lift_mm: float) -> list[Finding]:
    name = f"The spoil board on {', '.join(board.seats[:6])}{' ...' if board.seats[6:] else ''}"
    found = []
    higher = (board.lift_mm or lift_mm) - lift_mm
    if abs(higher) > _SAME_MM:
        how = "higher" if higher > 0.0 else "lower"
        text = f"{name} is {abs(higher):.1f} mm {how} than the cups: level it, or keep clear of it."
        found.append(finding("board_height", text))
    if board.material in _POROUS and board.face == "raw":
        text = f"{name} is raw {board.material}, which passes air: seal its face with laminate."
        found.append(finding("board_porous", text))
    return found
