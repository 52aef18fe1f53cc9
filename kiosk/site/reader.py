"""Reads a site file into a ``Site``, or tells every mistake in it at once."""

from __future__ import annotations

import hashlib
from itertools import pairwise
from pathlib import Path

from kiosk.limits import LIMIT_KEYS, LIMIT_RANGES, Limits
from kiosk.site.control import read_other_codes
from kiosk.site.grid import read_seats, refuse_crowding
from kiosk.site.layouts import read_layouts
from kiosk.site.specials import OUTER_ALLOWANCE_MM, read_specials
from kiosk.site.types import Cup, GridSeat, Pipe, Pump, Site
from kiosk.site.unfilled import refuse_unfilled
from kiosk.site.upkeep import read_inspection
from kiosk.site.wiring import read_gauges, read_io, refuse_shared_ports
from kiosk.toml_lines import Table, bad_file, read_toml

LIPS = ("nitrile", "natural rubber", "polyurethane", "silicone")
CONTACTS = ("lip", "stop")
# Left is below right, or the decision would take back at once what it gave.
_ORDER = (
    ("collapse_ratio", "loss_ratio"),
    ("loss_ratio", "warn_ratio"),
    ("warn_ratio", "clear_ratio"),
    ("warn_ratio", "unproved_ratio"),
    ("unproved_ratio", "start_ratio"),
    ("clear_ratio", "start_ratio"),
    ("stale_s", "invalid_s"),
)


def load_site(path: Path, *, unfinished: bool = False) -> Site:
    """Read a site file.

    unfinished  take lines that are still marked to be filled in, for what needs no number of them

    Raises ``BadInput`` with every mistake at once.
    """
    file = read_toml(path)
    if "part" in file.values and "grid" not in file.values:
        raise bad_file(file.name, "this is a job file: give a site file after --site")
    whole = Table(file)
    whole.whole("format", 1, 1)
    name, simulated = whole.text("name", longest=60), whole.flag("simulated")
    pattern, seats = _read_grid(whole)
    cup = _read_cup(whole)
    air = whole.table("air")
    altitude_m = 0.0 if air is None else air.number("altitude_m", -400.0, 5000.0)
    if air is not None:
        air.done()
    pump, pipes, limits = _read_pump(whole), _read_pipes(whole), _read_limits(whole)
    layouts = read_layouts(whole)
    gauges, io = read_gauges(whole, layouts, simulated), read_io(whole, simulated)
    refuse_shared_ports(whole, gauges, io)
    specials = read_specials(whole, seats)
    inspected, others = read_inspection(whole), read_other_codes(whole)
    whole.done()
    grid = whole.table("grid", required=False)
    if grid is not None and not whole.mistakes:
        refuse_crowding(grid, seats, cup.outer_diameter_mm)
    if not unfinished:
        refuse_unfilled(whole)
    whole.raise_mistakes()
    digest = hashlib.sha256(file.content).hexdigest()
    return Site(
        path, name, simulated, pattern, seats, cup, altitude_m, pump, pipes, gauges, layouts, io,
        limits, digest, specials, inspected, others,
    )  # fmt: skip


def _read_grid(whole: Table) -> tuple[str, tuple[GridSeat, ...]]:
    grid = whole.table("grid")
    return ("rows", ()) if grid is None else read_seats(grid)


def _read_cup(whole: Table) -> Cup:
    table = whole.table("cup")
    if table is None:
        return Cup(50.0, 54.0, 60.0, 0.0)
    seal = table.number("seal_diameter_mm", 5.0, 400.0)
    cup = Cup(
        seal_diameter_mm=seal,
        outer_diameter_mm=table.number("outer_diameter_mm", 5.0, 420.0, seal + OUTER_ALLOWANCE_MM),
        seat_diameter_mm=table.number("seat_diameter_mm", 5.0, 500.0),
        lift_mm=table.number("lift_mm", 0.0, 200.0),
        seal_margin_mm=table.number("seal_margin_mm", 0.0, 50.0, 2.0),
        lip=table.choice("lip", LIPS, "nitrile"),
        contact=table.choice("contact", CONTACTS, "lip"),
        branch_length_m=table.number("branch_length_m", 0.001, 50.0, None),
        branch_bore_mm=table.number("branch_bore_mm", 0.5, 200.0, None),
    )
    table.done()
    if (cup.branch_length_m is None) != (cup.branch_bore_mm is None):
        table.wrong("branch_length_m and branch_bore_mm go together: write both or none")
    if cup.outer_diameter_mm < seal:
        table.wrong(
            "outer_diameter_mm is smaller than seal_diameter_mm: the lip lies outside its seal",
            "outer_diameter_mm",
        )
    return cup


def _read_pump(whole: Table) -> Pump | None:
    table = whole.table("pump", required=False)
    if table is None:
        return None
    points = table.vectors("curve", 2, 0.0, 20_000.0)
    pull_down_s = table.number("pull_down_s", 0.2, 600.0, None)
    table.done()
    curve = tuple((vacuum, flow) for vacuum, flow in points)
    if len(curve) < 2:
        table.wrong("curve needs two points at least: write [[0.0, m3/h], [kPa, 0.0]]", "curve")
    for number, ((vacuum, flow), (next_vacuum, next_flow)) in enumerate(pairwise(curve), 2):
        if next_vacuum <= vacuum or next_flow >= flow:
            table.wrong(
                f"point {number} of curve: vacuum must rise and air must fall from point to point",
                "curve",
                number - 1,
            )
    if curve and curve[-1][0] > 101.0:
        table.wrong("curve ends above 101 kPa: no pump pulls more than the air", "curve")
    return Pump(curve, pull_down_s)


def _read_pipes(whole: Table) -> tuple[Pipe, ...]:
    pipes = []
    for row in whole.rows("pipe"):
        length_m = row.number("length_m", 0.01, 500.0)
        bore_mm = row.number("bore_mm", 2.0, 500.0)
        pipes.append(Pipe(length_m, bore_mm, row.number("fittings_k", 0.0, 1000.0, 0.0)))
        row.done()
    return tuple(pipes)


def _read_limits(whole: Table) -> Limits:
    table = whole.table("limits", required=False)
    if table is None:
        return Limits()
    usual = Limits()
    values = {
        key: table.number(key, *LIMIT_RANGES[key], default=getattr(usual, key))
        for key in LIMIT_KEYS
    }
    table.done()
    for lower, upper in _ORDER:
        if values[lower] >= values[upper]:
            spot = lower if table.has(lower) else upper
            table.wrong(
                f"{lower} ({values[lower]:g}) must be below {upper} ({values[upper]:g}): "
                "mend one of them",
                spot,
            )
    return Limits(**values)
