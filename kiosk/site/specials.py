"""What stands on the grid beside ordinary cups, from ``[[special]]`` rows."""

from __future__ import annotations

from kiosk.site.types import GridSeat, Special
from kiosk.toml_lines import Table

SPECIAL_KINDS = ("pin", "pin_drawing_back", "edge_cup", "roller_lifter", "spacer_disc", "board")
PIN_KINDS = ("pin", "pin_drawing_back")
BOARD_MATERIALS = ("particleboard", "mdf", "softboard", "plywood", "solid wood", "plastic",
                   "metal")  # fmt: skip
BOARD_FACES = ("raw", "laminate")
OUTER_ALLOWANCE_MM = 4.0  # of a lip outside its seal, common practice, no source
PIN_DIAMETER_MM = 8.0  # where none is stated: common practice, no source
_REACH_MM = 50_000.0


def read_specials(whole: Table, seats: tuple[GridSeat, ...]) -> tuple[Special, ...]:
    """All rows.  Two things on one seat are a mistake."""
    names = {seat.name for seat in seats}
    found: list[Special] = []
    taken: dict[str, str] = {}
    for row in whole.rows("special"):
        special = _read_special(row, names)
        for seat in special.takes:
            if seat in taken:
                key = "seats" if special.kind == "board" else "seat"
                text = f'seat "{seat}" has a {taken[seat]} already: one thing stands on a seat'
                row.wrong(text, key)
            taken[seat] = special.kind
        found.append(special)
    return tuple(found)


def _read_special(row: Table, names: set[str]) -> Special:
    kind = row.choice("kind", SPECIAL_KINDS)
    if kind in PIN_KINDS:
        special = read_pin(row, kind, names)
    elif kind == "board":
        special = _read_board(row, names)
    elif kind == "edge_cup":
        special = _read_edge_cup(row, names)
    else:
        special = Special(kind, _seat(row, names))
    row.done()
    return special


def _seat(row: Table, names: set[str]) -> str:
    seat: str = row.text("seat", longest=8)
    if seat and seat not in names:
        row.wrong(f'seat "{seat}" is not in the grid: write the name of a seat', "seat")
    return seat


def read_pin(row: Table, kind: str, names: set[str] | None) -> Special:
    """A pin on a seat or at a place of the grid.  ``names`` None: any seat may be named."""
    diameter = row.number("diameter_mm", 1.0, 100.0, PIN_DIAMETER_MM)
    if not row.has("seat"):
        row.known.append("seat")
        x_mm, y_mm = (row.number(key, -_REACH_MM, _REACH_MM) for key in ("x_mm", "y_mm"))
        return Special(kind, x_mm=x_mm, y_mm=y_mm, diameter_mm=diameter)
    seat = row.text("seat", longest=8) if names is None else _seat(row, names)
    row.known += ["x_mm", "y_mm"]
    if row.has("x_mm") or row.has("y_mm"):
        row.wrong("a pin has a seat, or x_mm and y_mm: leave one out", "seat")
    return Special(kind, seat, diameter_mm=diameter)


def _read_edge_cup(row: Table, names: set[str]) -> Special:
    seat = _seat(row, names)
    seal = row.number("seal_diameter_mm", 5.0, 400.0)
    outer = row.number("outer_diameter_mm", 5.0, 420.0, seal + OUTER_ALLOWANCE_MM)
    cut = row.number("cut_mm", 0.0, 200.0, None)
    flat = row.number("flat_deg", -360.0, 360.0, None)
    if outer < seal:
        row.wrong("outer_diameter_mm is smaller than seal_diameter_mm", "outer_diameter_mm")
    if (cut is None) != (flat is None):
        row.wrong("cut_mm and flat_deg go together: write both or none")
    if cut is not None and cut >= seal / 2.0:
        row.wrong("cut_mm is not inside the seal: write less than half its diameter", "cut_mm")
    return Special(
        "edge_cup",
        seat,
        seal_diameter_mm=seal,
        outer_diameter_mm=outer,
        cut_mm=cut,
        flat_deg=flat or 0.0,
    )


def _read_board(row: Table, names: set[str]) -> Special:
    listed = row.items("seats", '["A1", "A2"]')
    seats = tuple(seat for seat in listed if isinstance(seat, str))
    if row.has("seats") and (not seats or len(seats) < len(listed)):
        row.wrong('seats must be a list of seat names, ["A1", "A2"]', "seats")
    for number, seat in enumerate(listed):
        if isinstance(seat, str) and seat not in names:
            row.wrong(f'seat "{seat}" is not in the grid: write a seat\'s name', "seats", number)
    return Special(
        "board",
        seats=tuple(dict.fromkeys(seats)),
        lift_mm=row.number("lift_mm", 0.1, 300.0),
        material=row.choice("material", BOARD_MATERIALS),
        face=row.choice("face", BOARD_FACES, "raw"),
    )
