"""The seats of a grid, from ``[grid]``: rows, staggered rows, rings, or a plain list.

Frame: mm, x right, y away from the operator.  A seat is named by its row letter and its column
number; the row or ring letter is the zone it is set and confirmed with.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from kiosk.site.types import GridSeat
from kiosk.toml_lines import Table

PATTERNS = ("rows", "staggered", "rings", "list")
MOST_SEATS = 2000
_REACH_MM = 50_000.0  # no router table is longer
_NAME = re.compile(r"([A-Z]{1,2})([1-9][0-9]{0,2})")


def letters(index: int) -> str:
    """Row letters: 0 is A, 25 is Z, 26 is AA."""
    first, second = divmod(index, 26)
    return (chr(64 + first) if first else "") + chr(65 + second)


def read_seats(grid: Table) -> tuple[str, tuple[GridSeat, ...]]:
    """The pattern's name and its seats, in order of rows and columns."""
    pattern = grid.choice("pattern", PATTERNS)
    seats = _READERS[pattern](grid)
    grid.done()
    if len(seats) > MOST_SEATS:
        grid.wrong(f"the grid has {len(seats)} seats: at most {MOST_SEATS} are possible")
        seats = seats[:MOST_SEATS]
    return pattern, seats


def _read_rows(grid: Table, shift: float = 0.0) -> tuple[GridSeat, ...]:
    pitch_x, pitch_y = grid.vector("pitch_mm", 2, 5.0, 2000.0)
    count = grid.vector("count", 2, 1, 702)
    origin_x, origin_y = grid.vector("origin_mm", 2, -_REACH_MM, _REACH_MM, (0.0, 0.0))
    if any(n != int(n) for n in count):
        grid.wrong("count must be whole numbers: write [columns, rows]", "count")
    columns, rows = (int(n) for n in count)
    if columns * rows > MOST_SEATS:
        grid.wrong(f"count gives {columns * rows} seats: at most {MOST_SEATS} fit", "count")
        return ()
    return tuple(
        GridSeat(
            f"{letters(row)}{column + 1}",
            origin_x + pitch_x * (column + (shift if row % 2 else 0.0)),
            origin_y + pitch_y * row,
            letters(row),
        )
        for row in range(rows)
        for column in range(columns)
    )


def _read_staggered(grid: Table) -> tuple[GridSeat, ...]:
    return _read_rows(grid, shift=0.5)


def _read_rings(grid: Table) -> tuple[GridSeat, ...]:
    centre_x, centre_y = grid.vector("centre_mm", 2, -_REACH_MM, _REACH_MM)
    seats: list[GridSeat] = []
    for index, ring in enumerate(grid.rows("ring", required=True)):
        radius = ring.number("radius_mm", 0.0, 5000.0)
        count = ring.whole("count", 1, 400)
        start = ring.number("start_deg", -360.0, 360.0, 0.0)
        ring.done()
        zone = letters(index)
        for place in range(count):
            turn = math.radians(start + 360.0 * place / count)
            x_mm = centre_x + radius * math.cos(turn)
            y_mm = centre_y + radius * math.sin(turn)
            seats.append(GridSeat(f"{zone}{place + 1}", x_mm, y_mm, zone))
    return tuple(seats)


def _read_list(grid: Table) -> tuple[GridSeat, ...]:
    seats: dict[str, GridSeat] = {}
    for row in grid.rows("seat", required=True):
        name = row.text("name", longest=8)
        x_mm = row.number("x_mm", -_REACH_MM, _REACH_MM)
        y_mm = row.number("y_mm", -_REACH_MM, _REACH_MM)
        row.done()
        match = _NAME.fullmatch(name)
        if match is None:
            row.wrong(f'seat name "{name}": write capital letters and a number, "A1"', "name")
        elif name in seats:
            row.wrong(f'seat "{name}" stands here a second time: give each its own name', "name")
        else:
            seats[name] = GridSeat(name, x_mm, y_mm, match.group(1))
    return tuple(seats.values())


_READERS: dict[str, Callable[[Table], tuple[GridSeat, ...]]] = {
    "rows": _read_rows,
    "staggered": _read_staggered,
    "rings": _read_rings,
    "list": _read_list,
}


def refuse_crowding(grid: Table, seats: tuple[GridSeat, ...], outer_mm: float) -> None:
    """Two cups may not stand in one another: names the closest pair that would."""
    nearest = min(
        (
            (math.hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm), a.name, b.name)
            for i, a in enumerate(seats)
            for b in seats[i + 1 :]
        ),
        default=None,
    )
    if nearest is not None and nearest[0] < outer_mm:
        gap, first, second = nearest
        grid.wrong(
            f"seats {first} and {second} are {gap:.1f} mm apart, less than a cup "
            f"({outer_mm:.1f} mm): mend the grid or the cup's outer_diameter_mm"
        )
