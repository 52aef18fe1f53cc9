"""The site file: one machine's grid, cups, pump, pipes, gauges, inputs and limits.

``load_site`` reads ``*.site.toml`` and returns a ``Site``, or raises ``BadInput`` with every
mistake in the file.  All lengths mm, pressures kPa below local atmosphere, unless named.
"""

from __future__ import annotations

from kiosk.site.reader import load_site
from kiosk.site.textform import TextForm
from kiosk.site.types import (
    Cup,
    GaugeSite,
    GridSeat,
    InputOutput,
    Layout,
    Pipe,
    Pump,
    Site,
    Special,
)

__all__ = [
    "Cup",
    "GaugeSite",
    "GridSeat",
    "InputOutput",
    "Layout",
    "Pipe",
    "Pump",
    "Site",
    "Special",
    "TextForm",
    "load_site",
]
