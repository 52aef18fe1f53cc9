"""Which seats can hold the part, and why the others cannot.

A cup counts only when its outer ring and the seal margin lie wholly on solid material of one kept
piece; a through-cut there at any line of the program would vent the table.  Part frame, mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kiosk.job.footprint import edge_cup, round_cup
from kiosk.job.frames import Frame
from kiosk.job.freed import Part
from kiosk.job.job_file import Job
from kiosk.job.pieces import Piece
from kiosk.job.pins import taken_seats
from kiosk.job.plan import Seat, SeatState, Zone
from kiosk.job.through import ThroughCuts
from kiosk.mistakes import BadInput
from kiosk.site import GridSeat, Site


@dataclass(frozen=True, slots=True)
class Place:
    """A seat seen from the part.  ``piece``: index of the kept piece it can hold, else None.

    ``why`` says why it cannot hold; ``clear`` is True when no part of it is under the blank.
    """

    seat: GridSeat
    x_mm: float
    y_mm: float
    seal_radius_mm: float
    piece: int | None
    why: str
    clear: bool


@dataclass(frozen=True, slots=True)
class Seating:
    """All seats, those that go up, and asked-for ones that cannot."""

    places: tuple[Place, ...]
    up: frozenset[str]
    refused: dict[str, str]

    def raised(self, part: Part | None = None) -> list[Place]:
        """Places that go up; only those under the pieces of one part when it is named."""
        return [place for place in self.under(part) if place.seat.name in self.up]

    def spare(self, part: Part | None = None) -> list[Place]:
        """Places that could go up under it and do not."""
        return [place for place in self.under(part) if place.seat.name not in self.up]

    def under(self, part: Part | None = None) -> list[Place]:
        """Places that can hold a part (None: the blank), up or not."""
        return [
            place
            for place in self.places
            if place.piece is not None and (part is None or place.piece in part.pieces)
        ]


def seat_cups(
    job: Job, site: Site, blank: Polygon, pieces: Sequence[Piece], through: ThroughCuts
) -> Seating:
    """Judge every seat.  Raises ``BadInput`` when the job names a seat that is not there."""
    judge = _Judge(job, site, blank, pieces, through)
    places = tuple(judge.place(seat) for seat in site.seats)
    usable = {place.seat.name: place for place in places if place.piece is not None}
    if job.cups_up is None:
        return Seating(places, frozenset(usable), {})
    by_name = {place.seat.name: place for place in places}
    strange = [name for name in job.cups_up if name not in by_name]
    if strange:
        first, last = site.seats[0].name, site.seats[-1].name
        raise BadInput(
            job.mistake(
                f'seat "{name}" is not in the grid of {site.file.name} ({first} to {last}): '
                "write a seat's name",
                "cups_up",
                job.cups_up.index(name),
            )
            for name in strange
        )
    refused = {
        name: by_name[name].why or "not under the part"
        for name in job.cups_up
        if name not in usable
    }
    return Seating(places, frozenset(job.cups_up) & usable.keys(), refused)


class _Judge:
    def __init__(
        self, job: Job, site: Site, blank: Polygon, pieces: Sequence[Piece], through: ThroughCuts
    ) -> None:
        self.frame = Frame(job.placement)
        self.cup = site.cup
        self.edge_cups = {s.seat: s for s in site.specials if s.kind == "edge_cup"}
        self.taken = taken_seats(job, site)
        self.blank = blank
        self.solid = Polygon(blank.exterior)
        self.pieces = pieces
        self.through = through

    def place(self, seat: GridSeat) -> Place:
        x_mm, y_mm = (float(n) for n in self.frame.to_part(np.array([[seat.x_mm, seat.y_mm]]))[0])
        special = self.edge_cups.get(seat.name)
        if special is None:
            seal, outer = self.cup.seal_diameter_mm, self.cup.outer_diameter_mm
            seen = round_cup((x_mm, y_mm), seal, outer)
        else:
            seen = edge_cup((x_mm, y_mm), special, self.frame.placement.angle_deg)
        need = seen.rim_mm + self.cup.seal_margin_mm
        clear = self.solid.distance(seen.shape) >= seen.rim_mm and not seen.shape.within(self.solid)
        piece = next(
            (i for i, p in enumerate(self.pieces) if _inside(p.shape, seen.shape, need)), None
        )
        why = "" if clear else self._why(seat, seen.shape, need, piece)
        usable = piece if not why and not clear else None
        hold_x, hold_y = seen.hold
        return Place(seat, hold_x, hold_y, seen.seal_radius_mm, usable, why, clear)

    def _why(self, seat: GridSeat, shape: BaseGeometry, need: float, piece: int | None) -> str:
        """Words for why a seat under the blank cannot hold; empty when it can."""
        cuts = self.through.meeting(shape, need)
        own = None if piece is None else self.pieces[piece]
        freed = None if own is None else own.freed_line
        objections = (
            (seat.name in self.taken, self.taken.get(seat.name, "")),
            (bool(cuts), f"under a through-cut, line {cuts[0].line if cuts else 0}"),
            (not _inside(self.solid, shape, need), "not wholly under the blank"),
            (not _inside(self.blank, shape, need), "over an opening"),
            (own is None, "no solid material over it"),
            (own is not None and not own.kept, f"under an offcut that comes free at line {freed}"),
        )
        return next((words for stands, words in objections if stands), "")


def _inside(solid: Polygon, shape: BaseGeometry, need_mm: float) -> bool:
    """True when a shape and a border of this width lie wholly in the solid: exact, by distance."""
    return bool(solid.covers(shape)) and float(solid.boundary.distance(shape)) >= need_mm


def seats_shown(seating: Seating) -> tuple[Seat, ...]:
    """The seats of the map, in the order of the grid."""
    return tuple(
        Seat(p.seat.name, p.seat.zone, p.seat.x_mm, p.seat.y_mm, _state(seating, p), p.why)
        for p in seating.places
    )


def _state(seating: Seating, place: Place) -> SeatState:
    if place.seat.name in seating.up:
        return SeatState.UP
    return SeatState.BLOCKED if place.why else SeatState.DOWN


def zones_of(seats: Sequence[Seat]) -> tuple[Zone, ...]:
    """One zone for each row or ring letter, in the order of the grid."""
    names = dict.fromkeys(seat.zone for seat in seats)
    return tuple(
        Zone(
            name,
            tuple(s.name for s in seats if s.zone == name and s.state is SeatState.UP),
            tuple(s.name for s in seats if s.zone == name and s.state is not SeatState.UP),
        )
        for name in names
    )
