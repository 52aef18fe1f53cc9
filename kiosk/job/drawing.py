"""Reads a drawing of either kind, by the ending of its name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from kiosk.job.dxf import read_dxf
from kiosk.job.edges import Drawing
from kiosk.job.svg import read_svg

READERS: dict[str, Callable[[Path], Drawing]] = {".dxf": read_dxf, ".svg": read_svg}


def read_drawing(path: Path) -> Drawing:
    """All edges of a drawing in mm.  Raises ``BadInput``; the ending must be in ``READERS``."""
    return READERS[path.suffix.lower()](path)
