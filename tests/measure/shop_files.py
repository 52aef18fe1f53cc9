"""Shop files for the tests of this folder."""

from __future__ import annotations

import datetime
from pathlib import Path

from kiosk.shop import Shop, load_shop

TODAY = datetime.date(2026, 11, 25)

PULL = """\
[[friction]]
material = "mdf"
underside = "machined"
surface = "clean"
contact = "lip"
lip = "nitrile"
method = "pull"
date = 2026-11-20
person = "07"
conditions = "swept, 21 C"
cups = 1
seal_diameter_mm = 60.0
vacuum_kpa = 30.0
gauge_error_kpa = 1.0
mass_kg = 2.0
pulls_n = [60.0, 62.0, 61.0]
unit = "1"
mean = 0.5846
used = 0.40
"""

TILT = """\
[[friction]]
material = "beech"
underside = "planed"
surface = "dusty"
contact = "lip"
lip = "nitrile"
method = "tilt"
date = 2026-11-21
person = "07"
conditions = "dust as after a cut, 19 C"
angles_deg = [31.0, 30.0, 31.5]
unit = "1"
mean = 0.5970
used = 0.30
"""

# physics.md C1-06 as readings: particleboard slot, 1443.84 W over the idle power.
CUT = """\
[[cutting]]
material = "particleboard"
edge = "sharp"
date = 2026-11-22
person = "07"
conditions = "19 mm board, 20 C"
diameter_mm = 20.0
flutes = 2
depth_mm = 8.0
width_mm = 20.0
feed_mm_min = 14400.0
spindle_rpm = 18000.0
powers_w = [1943.84, 1923.84, 1963.84]
idle_w = [500.0]
efficiency = 1.0
unit = "N/mm2"
mean = 37.6
used = 50.0
"""

HEAD = "format = 1\n"


def write_shop(folder: Path, *rows: str, head: str = HEAD) -> Path:
    path = folder / "bench.shop.toml"
    path.write_text(head + "".join(rows), encoding="utf-8")
    return path


def shop_of(folder: Path, *rows: str, head: str = HEAD, today: datetime.date = TODAY) -> Shop:
    return load_shop(write_shop(folder, *rows, head=head), today)
