"""The ``[part]`` table's keys that say what shape is loaded, and files named beside a job."""

from __future__ import annotations

from pathlib import Path

from kiosk.job.kinds import DRAWINGS
from kiosk.toml_lines import Table

SURFACES = ("clean", "dusty", "wet", "oily")
FAR_MM = 50_000.0
NO_OPENINGS = "none"

Point = tuple[float, float]


def flat(row: tuple[float, ...]) -> Point:
    """Two numbers of a row as a point."""
    return row[0], row[1]


def read_outline(part: Table, folder: Path) -> Path | tuple[Point, ...]:
    """``outline``: points, or the drawing's path."""
    value = part.values.get("outline")
    if not isinstance(value, str):
        points = part.vectors("outline", 2, -FAR_MM, FAR_MM)
        if part.has("outline") and isinstance(value, list) and len(points) < 3:
            part.wrong("outline has fewer than 3 points: write at least 3", "outline")
        return tuple(flat(point) for point in points)
    name: str = part.text("outline")
    if Path(name).suffix.lower() not in DRAWINGS:
        text = f'outline "{name}" is no .dxf or .svg file: name one, or write points'
        part.wrong(text, "outline")
        return folder / name
    return named_file(part, "outline", folder, name)


def read_openings(part: Table) -> tuple[tuple[Point, ...], ...]:
    """``openings`` as loops; none where it is ``NO_OPENINGS``."""
    if part.values.get("openings") != NO_OPENINGS:
        loops = part.loops("openings", -FAR_MM, FAR_MM)
        return tuple(tuple(flat(row) for row in loop) for loop in loops)
    part.known.append("openings")
    if not isinstance(part.values.get("outline"), str):
        part.wrong('openings = "none" is for a drawing: leave it out', "openings")
    if part.has("openings_layer"):
        part.wrong('openings = "none" and openings_layer: keep one of them', "openings")
    return ()


def read_layer(part: Table, key: str) -> str | None:
    """A layer of the drawing, or None."""
    layer: str | None = part.text(key, None)
    if layer is not None and not isinstance(part.values.get("outline"), str):
        part.wrong(f"{key} is for a drawing: leave it out, the outline is written here", key)
    return layer


def read_surface(part: Table, friction: float | None) -> str | None:
    """``surface``, which may be left out where ``friction`` is given."""
    if friction is not None and not part.has("surface"):
        part.known.append("surface")
        return None
    surface: str = part.choice("surface", SURFACES)
    return surface


def named_file(table: Table, key: str, folder: Path, name: str) -> Path:
    """The path of a file beside the job; a mistake at ``key`` when it is not there."""
    path = folder / name
    if name and not path.is_file():
        table.wrong(f'{key} "{name}" is not there: put it beside the job file', key)
    return path
