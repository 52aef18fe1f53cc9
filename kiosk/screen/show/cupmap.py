"""The map: every seat with what it is now, the part, the cutter's path, and the push.

Marks are our own: up = filled disc with a chevron, still to turn up = ring with a chevron,
down = thin ring with a dot, under a cut = hatched, pin = square with a cross.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict

from kiosk.interlock.snapshot import Snapshot
from kiosk.job.plan import Plan, Seat, SeatState
from kiosk.screen.show import numbers
from kiosk.screen.show.drawn import CupMapShown, Label, PathShown, Point, Push, SeatMark
from kiosk.words import Words

_ARROW_ROOM_MM = 110.0  # on the map, for the arrow of the push
_PICTURE_ASPECT = 1.3  # width to height of the map beside the instrument
SHADES = (0.5, 0.75, 0.95)  # shares of the minimum from which a path is drawn darker
_SAME_MM = 1.0  # seats this close in x or y stand in one line

Extent = tuple[float, float, float, float]  # left, bottom, right, top
Outline = tuple[Point, ...]


def zone_kind(plan: Plan | None, zone: str) -> str:
    """row, ring or block: what the seats of a zone look like."""
    if plan is None:
        return "row"
    seats = [seat for seat in plan.seats if seat.zone == zone]
    if not seats or _spread([seat.y_mm for seat in seats]) <= _SAME_MM:
        return "row"
    x, y = _centre(plan.seats)
    radii = [math.hypot(seat.x_mm - x, seat.y_mm - y) for seat in seats]
    return "ring" if _spread(radii) <= _SAME_MM else "block"


def zone_title(words: Words, plan: Plan | None, zone: str) -> str:
    """The name of a zone as a person says it: "Row E"."""
    return numbers.tied(words.say(f"zone.{zone_kind(plan, zone)}", name=zone))


def zones_title(words: Words, plan: Plan | None, zones: tuple[str, ...]) -> str:
    """The name of zones next to each other, all of one kind: "Rows D to H"."""
    if len(zones) == 1:
        return zone_title(words, plan, zones[0])
    name = "setup.and" if len(zones) == 2 else "setup.to"
    names = words.say(name, first=zones[0], last=zones[-1])
    return numbers.tied(words.say(f"zone.{zone_kind(plan, zones[0])}s", names=names))


def seat_number(name: str) -> str:
    """The number of a seat within its row: "10" of "E10"."""
    found = re.search(r"\d+$", name)
    return found.group() if found else name


def cup_map(
    words: Words,
    plan: Plan | None,
    snapshot: Snapshot,
    current: tuple[str, ...] = (),
    push: bool = False,
) -> CupMapShown:
    """The map for this moment.  ``current``: the zones being set."""
    if plan is None:
        return CupMapShown(empty=words.say("setup.no_plan"))
    extent = _near_part(plan) if push else _extent(plan)
    seats = [seat for seat in plan.seats if _inside(seat, extent)]
    confirmed = {zone.name for zone in snapshot.zones if zone.confirmed or zone.kept}
    return CupMapShown(
        extent=extent,
        seat_mm=plan.outer_diameter_mm,
        seats=tuple(_mark(seat, seat.zone in confirmed, seat.zone in current) for seat in seats),
        labels=_labels(plan, current),
        outline=plan.outline,
        openings=plan.openings,
        paths=_paths(plan),
        pins=plan.pins,
        band=_band(plan, current) if current else None,
        push=_push(plan) if push else None,
        loose=tuple((outline, *_inside_of(outline, plan.keeps)) for outline in plan.loose),
        loose_word=words.say("map.loose"),
    )


def _paths(plan: Plan) -> tuple[PathShown, ...]:
    """The cutter's path, what needs most drawn last: it lies on top of the passes above it."""
    ordered = sorted(plan.paths, key=lambda path: path.severity or 0.0)
    return tuple(PathShown(p.points, p.width_mm, p.through, shade(p.severity)) for p in ordered)


def _inside_of(outline: Outline, keeps: tuple[Outline, ...]) -> list[Outline]:
    """The kept pieces that a loose frame goes round."""
    return [keep for keep in keeps if _bounds_hold(_bounds(outline), _bounds(keep))]


def _bounds(points: Outline) -> Extent:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _bounds_hold(outer: Extent, inner: Extent) -> bool:
    low = outer[0] < inner[0] and outer[1] < inner[1]
    return low and inner[2] < outer[2] and inner[3] < outer[3]


def shade(severity: float | None) -> int:
    """0 to 3 by the share of the job's minimum that a cut needs."""
    return 0 if severity is None else sum(severity >= limit for limit in SHADES)


def _mark(seat: Seat, confirmed: bool, current: bool) -> SeatMark:
    mark = {SeatState.DOWN: "down", SeatState.BLOCKED: "blocked"}.get(seat.state)
    if mark is None:
        mark = "up" if confirmed else "turn"
    return SeatMark(seat.x_mm, seat.y_mm, mark, current)


def _push(plan: Plan) -> Push | None:
    if plan.governed_grid_mm is None:
        return None
    return Push(plan.governed_grid_mm, plan.governed_push)


def _spread(values: list[float]) -> float:
    return max(values) - min(values)


def _centre(seats: tuple[Seat, ...]) -> Point:
    xs, ys = [seat.x_mm for seat in seats], [seat.y_mm for seat in seats]
    return (max(xs) + min(xs)) / 2.0, (max(ys) + min(ys)) / 2.0


def _extent(plan: Plan) -> Extent:
    """Seats, part and pins, with half a seat round them."""
    half = plan.seat_diameter_mm / 2.0
    xs = [s.x_mm - half for s in plan.seats] + [s.x_mm + half for s in plan.seats]
    ys = [s.y_mm - half for s in plan.seats] + [s.y_mm + half for s in plan.seats]
    xs += [x for x, _ in (*plan.outline, *plan.pins)]
    ys += [y for _, y in (*plan.outline, *plan.pins)]
    return min(xs), min(ys), max(xs), max(ys)


def _near_part(plan: Plan) -> Extent:
    """The part, the pins, where the push goes, and most of a seat round them."""
    points = [*plan.outline, *plan.pins]
    if len(plan.outline) < 3:
        return _extent(plan)
    if plan.governed_grid_mm is not None:
        (x, y), (dx, dy) = plan.governed_grid_mm, plan.governed_push or (0.0, 0.0)
        points.append((x + dx * _ARROW_ROOM_MM, y + dy * _ARROW_ROOM_MM))
    half = plan.seat_diameter_mm * 0.75
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return _taller(plan, (min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half))


def _taller(plan: Plan, extent: Extent) -> Extent:
    """A wide picture grows upwards and downwards, as far as there is grid to show."""
    left, bottom, right, top = extent
    _, least, _, most = _extent(plan)
    for _ in range(2):  # what one side cannot take, the other may
        more = max(0.0, ((right - left) / _PICTURE_ASPECT - (top - bottom)) / 2.0)
        bottom = min(bottom, max(least, bottom - more))
        top = max(top, min(most, top + more))
    return left, bottom, right, top


def _inside(seat: Seat, extent: Extent) -> bool:
    left, bottom, right, top = extent
    return left <= seat.x_mm <= right and bottom <= seat.y_mm <= top


def _band(plan: Plan, zones: tuple[str, ...]) -> Extent | None:
    """The box round rows; None for rings or blocks, whose seats are marked one by one."""
    seats = [seat for seat in plan.seats if seat.zone in zones]
    if not seats or any(zone_kind(plan, zone) != "row" for zone in zones):
        return None
    half = plan.seat_diameter_mm / 2.0
    xs, ys = [seat.x_mm for seat in seats], [seat.y_mm for seat in seats]
    return min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half


def _labels(plan: Plan, current: tuple[str, ...]) -> tuple[Label, ...]:
    left, bottom = _extent(plan)[:2]
    zones: dict[str, list[Seat]] = defaultdict(list)
    for seat in plan.seats:
        zones[seat.zone].append(seat)
    rows = [_row_label(plan, name, seats, left, name in current) for name, seats in zones.items()]
    numbers = _column_labels(plan, bottom)
    if not numbers:
        numbers = [_beside(s, plan.seat_diameter_mm) for name in current for s in zones[name]]
    return (*rows, *numbers)


def _beside(seat: Seat, seat_mm: float) -> Label:
    """A seat's own number above it, where no columns can be named."""
    return Label(seat_number(seat.name), seat.x_mm, seat.y_mm + seat_mm * 0.62, True)


def _row_label(plan: Plan, name: str, seats: list[Seat], left: float, current: bool) -> Label:
    """A row is named at the left edge, a ring or block beside its leftmost seat."""
    first = min(seats, key=lambda seat: seat.x_mm)
    half = plan.seat_diameter_mm * 0.6
    x = left - half if zone_kind(plan, name) == "row" else first.x_mm - half * 1.4
    return Label(name, x, first.y_mm, current)


def _column_labels(plan: Plan, bottom: float) -> list[Label]:
    """Numbers below the grid, where all seats of one number stand in one line."""
    columns: dict[str, list[Seat]] = defaultdict(list)
    for seat in plan.seats:
        columns[seat_number(seat.name)].append(seat)
    y = bottom - plan.seat_diameter_mm * 0.48
    return [
        Label(number, seats[0].x_mm, y)
        for number, seats in columns.items()
        if number.isdigit() and _spread([seat.x_mm for seat in seats]) <= _SAME_MM
    ]
