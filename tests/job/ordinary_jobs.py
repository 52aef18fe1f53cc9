"""Ordinary jobs of the trade that hold every day, and jobs that are known to fly.

Which is which is common practice, no source.  One machine throughout: cups of 68 mm seal on a
grid of 110 mm, a pump that ends at 88 kPa, clean boards on nitrile lips, unless a row says else.
"""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from kiosk.job.plan import Plan
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.job.spread import spread_of
from kiosk.site import load_site

SITE = """\
format = 1
name = "Bench"
simulated = false
[grid]
pattern = "rows"
pitch_mm = [{pitch}, {pitch}]
count = [{columns}, {rows}]
origin_mm = [{first}, {first}]
[cup]
seal_diameter_mm = {seal}
outer_diameter_mm = {outer}
seat_diameter_mm = {seat}
lift_mm = 26.0
branch_length_m = 0.1
branch_bore_mm = 10.0
[air]
altitude_m = 100.0
[pump]
curve = [[0.0, 40.0], [60.0, 30.0], [88.0, 0.0]]
[[pipe]]
length_m = 6.0
bore_mm = 32.0
fittings_k = 4.0
"""


@dataclass(frozen=True)
class Tool:
    """A cutter with its usual speed."""

    kind: str
    diameter_mm: float
    flutes: int = 2
    helix_deg: float = 30.0
    rpm: int = 18000
    upcut_mm: float | None = None
    edge: str = "used"

    def text(self) -> str:
        up = "" if self.upcut_mm is None else f"upcut_length_mm = {self.upcut_mm}\n"
        return (
            f'[[tool]]\nnumber = 1\nkind = "{self.kind}"\ndiameter_mm = {self.diameter_mm}\n'
            f'flutes = {self.flutes}\nhelix_deg = {self.helix_deg}\nedge = "{self.edge}"\n{up}'
        )


@dataclass(frozen=True)
class Ordinary:
    """One job.  ``cut``: trim | frame | slot | pocket | holes | rip | relief, see ``_cutting``."""

    name: str
    material: str
    size_mm: tuple[float, float]
    thick_mm: float
    tool: Tool
    cut: str
    feed: int
    step_mm: float | None = None  # depth of a pass; None: all at once
    underside: str = "machined"
    surface: str = "clean"
    seal_mm: float = 68.0
    pitch_mm: float = 110.0
    why: str = ""
    keep: tuple[tuple[float, float], ...] = field(default=())


ALL_AT_ONCE = None


def _depths(row: Ordinary, bottom_mm: float) -> list[float]:
    step = row.step_mm or bottom_mm
    found, deep = [], 0.0
    while deep < bottom_mm - 1e-9:
        deep = min(deep + step, bottom_mm)
        found.append(deep)
    return found


def _loop(inside: float, size_mm: tuple[float, float], z: float, feed: int) -> str:
    """Once round, so far inside the blank, ramping in along the first side."""
    x0, y0, x1, y1 = inside, inside, size_mm[0] - inside, size_mm[1] - inside
    return (
        f"G1 X{(x0 + x1) / 2:.3f} Y{y0:.3f} F{feed}\nG1 X{x1 - 20:.3f} Z-{z:.3f}\nG1 X{x1:.3f}\n"
        f"G1 Y{y1:.3f}\nG1 X{x0:.3f}\nG1 Y{y0:.3f}\nG1 X{x1 - 20:.3f}\n"
    )


def _cutting(row: Ordinary) -> str:
    (w, h), d, t, feed = row.size_mm, row.tool.diameter_mm, row.thick_mm, row.feed
    through = t + 0.3
    if row.cut == "trim":  # 3 mm off all round a blank cut to size
        off = 3.0 - d / 2.0
        edges = (
            f"G0 X{-d:.3f} Y{off:.3f}\nG1 Z-{{z:.3f}} F{feed}\nG1 X{w - off:.3f}\n"
            f"G1 Y{h - off:.3f}\nG1 X{off:.3f}\nG1 Y{-d:.3f}\nG0 Z5.\n"
        )
        return "".join(edges.format(z=z) for z in _depths(row, through))
    if row.cut == "frame":  # a full slot all round, 12 mm inside the blank
        e = 12.0
        start = f"G0 X{w / 2:.3f} Y{e:.3f}\nG1 Z0. F{feed}\n"
        return start + "".join(
            _loop(e, row.size_mm, z, feed) for z in _depths(row, through)
        ) + "G0 Z5.\n"  # fmt: skip
    if row.cut == "slot":  # a groove along the middle, a third of the thickness deep
        groove = f"G0 X{-d:.3f} Y{h / 2:.3f}\nG1 Z-{{z:.3f}} F{feed}\nG1 X{w + d:.3f}\nG0 Z5.\n"
        return "".join(groove.format(z=z) for z in _depths(row, t / 3.0))
    if row.cut == "pocket":  # a hundred square, half the thickness deep, 60 % stepover
        rows = []
        for z in _depths(row, t / 2.0):
            y, x0, x1 = h / 2 - 50.0, w / 2 - 50.0, w / 2 + 50.0
            rows.append(f"G0 X{x0:.3f} Y{y:.3f}\nG1 Z0. F{feed}\nG1 X{x1:.3f} Z-{z:.3f}\n")
            while y < h / 2 + 50.0:
                rows.append(f"G1 X{x0:.3f}\nG1 X{x1:.3f}\nG1 Y{y + 0.6 * d:.3f}\n")
                y += 0.6 * d
            rows.append("G0 Z5.\n")
        return "".join(rows)
    if row.cut == "holes":
        spots = [(x, y) for x in (20.0, w / 2, w - 20.0) for y in (20.0, h - 20.0)]
        return "".join(
            f"G81 X{x:.3f} Y{y:.3f} Z-{through:.3f} R2. F{feed}\n" for x, y in spots
        ) + "G80\n"  # fmt: skip
    if row.cut == "rip":  # a strip of 60 mm parted off along the front, kept or not
        part = f"G0 X{-d:.3f} Y60.\nG1 Z-{{z:.3f}} F{feed}\nG1 X{w + d:.3f}\nG0 Z5.\n"
        return "".join(part.format(z=z) for z in _depths(row, through))
    raise ValueError(row.cut)


def plan_of(row: Ordinary, folder: Path) -> Plan:
    """The plan of one job; the first time its files are written into ``folder`` and worked out."""
    return worked_of(row, folder)[0]


_WORKED: dict[Ordinary, tuple[Plan, Worked]] = {}  # of this process, so that each is made once


def worked_of(row: Ordinary, folder: Path) -> tuple[Plan, Worked]:
    """As ``plan_of``, with what can be asked again."""
    if row not in _WORKED:
        _WORKED[row] = _work_out(row, folder)
    return _WORKED[row]


def _work_out(row: Ordinary, folder: Path) -> tuple[Plan, Worked]:
    (w, h), tool = row.size_mm, row.tool
    columns, rows = (max(1, int((side - 8.0) // row.pitch_mm)) for side in row.size_mm)
    over_x = (w - (columns - 1) * row.pitch_mm) / 2.0
    over_y = (h - (rows - 1) * row.pitch_mm) / 2.0
    keep = "" if not row.keep else f"keep = {[list(p) for p in row.keep]}\n"
    (folder / "o.nc").write_text(
        f"G21 G17 G90 G94 G54\nT1 M6\nS{tool.rpm} M3\nG0 Z5.\n{_cutting(row)}G0 Z20.\nM30\n"
    )
    (folder / "o.job.toml").write_text(
        f'format = 1\nid = "O-1"\ntitle = "{row.name[:70]}"\n[part]\n'
        f"outline = [[0.0, 0.0], [{w}, 0.0], [{w}, {h}], [0.0, {h}]]\n{keep}"
        f'thickness_mm = {row.thick_mm}\nmaterial = "{row.material}"\n'
        f'underside = "{row.underside}"\nsurface = "{row.surface}"\n'
        f"[placement]\nx_mm = {200.0 - over_x}\ny_mm = {200.0 - over_y}\n"
        f'[program]\nfile = "o.nc"\nz_zero = "top"\n{tool.text()}'
    )
    site = folder / "o.site.toml"
    site.write_text(
        SITE.format(pitch=row.pitch_mm, columns=columns, rows=rows, first=200.0,
                    seal=row.seal_mm, outer=row.seal_mm + 4.0, seat=row.seal_mm + 14.0)
    )  # fmt: skip
    return work_out(folder / "o.job.toml", load_site(site))


COMPRESSION = Tool("compression", 12.0, upcut_mm=6.0)
UPCUT_8, UPCUT_6 = Tool("upcut", 8.0), Tool("upcut", 6.0)
DOWNCUT_6 = Tool("downcut", 6.0)
STRAIGHT_16 = Tool("straight", 16.0, helix_deg=0.0)
O_FLUTE_6 = Tool("upcut", 6.0, 1, 22.0, edge="sharp")
O_FLUTE_4 = Tool("upcut", 4.0, 1, 22.0, edge="sharp")
DRILL_5 = Tool("drill", 5.0, 2, 25.0, rpm=5000)
METAL_6 = Tool("upcut", 6.0, 2, 30.0, 18000, edge="sharp")

GOOD = (
    Ordinary(
        "MDF 18, door 800 x 450 cut all round in one pass",
        "mdf",
        (800, 450),
        18.0,
        COMPRESSION,
        "frame",
        8500,
        why="compression cutter, 28 cups of 68 mm",
    ),
    Ordinary(
        "MDF 18, 570 x 350 cut all round in one pass",
        "mdf",
        (570, 350),
        18.0,
        COMPRESSION,
        "frame",
        8500,
        why="the everyday case on 15 cups",
    ),
    Ordinary(
        "MDF 18, front 460 x 350 trimmed in one pass",
        "mdf",
        (460, 350),
        18.0,
        COMPRESSION,
        "trim",
        8000,
        why="3 mm off, 12 cups",
    ),
    Ordinary(
        "MDF 18, front 350 x 240 trimmed in one pass",
        "mdf",
        (350, 240),
        18.0,
        COMPRESSION,
        "trim",
        6000,
        why="3 mm off, 6 cups",
    ),
    Ordinary(
        "MDF 16, front 350 x 240 cut in three passes",
        "mdf",
        (350, 240),
        16.0,
        UPCUT_8,
        "frame",
        5000,
        5.5,
        why="6 cups, a third of the depth at a time",
    ),
    Ordinary(
        "MDF 22, pocket with 16 mm straight cutter",
        "mdf",
        (460, 350),
        22.0,
        STRAIGHT_16,
        "pocket",
        5000,
        5.5,
    ),
    Ordinary(
        "MDF 6, back panel 570 x 460 in one pass", "mdf", (570, 460), 6.0, DOWNCUT_6, "frame", 5000
    ),
    Ordinary("MDF 18, groove with an 8 mm cutter", "mdf", (350, 240), 18.0, UPCUT_8, "slot", 5000),
    Ordinary("MDF 18, rows of holes 5 mm", "mdf", (350, 240), 18.0, DRILL_5, "holes", 1500),
    Ordinary(
        "Particleboard 19, side 800 x 350 trimmed",
        "particleboard",
        (800, 350),
        19.0,
        COMPRESSION,
        "trim",
        10000,
        underside="laminate",
    ),
    Ordinary(
        "Particleboard 19, shelf 570 x 350 cut in one pass",
        "particleboard",
        (570, 350),
        19.0,
        COMPRESSION,
        "frame",
        9000,
        underside="laminate",
    ),
    Ordinary(
        "Particleboard 16, groove",
        "particleboard",
        (460, 240),
        16.0,
        UPCUT_8,
        "slot",
        6000,
        underside="laminate",
    ),
    Ordinary(
        "Particleboard 19, holes 5 mm",
        "particleboard",
        (240, 240),
        19.0,
        DRILL_5,
        "holes",
        1500,
        underside="laminate",
    ),
    Ordinary(
        "Birch plywood 18, 570 x 350 in two passes",
        "birch_plywood",
        (570, 350),
        18.0,
        COMPRESSION,
        "frame",
        6000,
        9.2,
    ),
    Ordinary(
        "Birch plywood 12, 350 x 350 in two passes",
        "birch_plywood",
        (350, 350),
        12.0,
        UPCUT_8,
        "frame",
        4000,
        6.2,
    ),
    Ordinary(
        "Birch plywood 15, trimmed in two passes",
        "birch_plywood",
        (460, 240),
        15.0,
        COMPRESSION,
        "trim",
        6000,
        7.7,
    ),
    Ordinary(
        "Beech 22, panel 570 x 240 trimmed in two passes",
        "beech",
        (570, 240),
        22.0,
        COMPRESSION,
        "trim",
        4000,
        11.2,
        "planed",
    ),
    Ordinary(
        "Beech 22, panel cut in four passes",
        "beech",
        (460, 350),
        22.0,
        UPCUT_8,
        "frame",
        3500,
        5.6,
        "planed",
    ),
    Ordinary(
        "Oak 20, groove in two passes",
        "oak",
        (460, 130),
        20.0,
        UPCUT_8,
        "slot",
        3000,
        3.5,
        "planed",
    ),
    Ordinary(
        "Oak 27, pocket in light passes",
        "oak",
        (460, 240),
        27.0,
        UPCUT_8,
        "pocket",
        3000,
        3.0,
        "planed",
    ),
    Ordinary(
        "Pine 20, panel cut in three passes",
        "pine",
        (460, 350),
        20.0,
        UPCUT_8,
        "frame",
        4000,
        7.0,
        "planed",
    ),
    Ordinary(
        "PMMA 6, sign 350 x 240 in two passes",
        "pmma",
        (350, 240),
        6.0,
        O_FLUTE_6,
        "frame",
        2400,
        3.2,
        "film",
    ),
    Ordinary(
        "PMMA 10, cover 460 x 350 in three passes",
        "pmma",
        (460, 350),
        10.0,
        O_FLUTE_6,
        "frame",
        2400,
        3.5,
        "film",
    ),
    Ordinary(
        "PMMA 4, sign 350 x 240 in two passes",
        "pmma",
        (350, 240),
        4.0,
        O_FLUTE_4,
        "frame",
        1800,
        2.2,
        "film",
    ),
    Ordinary(
        "PE-HD 15, 460 x 350 in three passes",
        "hdpe",
        (460, 350),
        15.0,
        O_FLUTE_6,
        "frame",
        3000,
        5.2,
        "machined",
    ),
    Ordinary(
        "PE-HD 20, pocket", "hdpe", (350, 350), 20.0, O_FLUTE_6, "pocket", 3000, 4.0, "machined"
    ),
    Ordinary(
        "Compact laminate 8, 460 x 350 in three passes",
        "hpl",
        (460, 350),
        8.0,
        Tool("compression", 10.0, upcut_mm=4.0),
        "frame",
        3000,
        3.0,
        "laminate",
    ),
    Ordinary(
        "Aluminium 3, panel 350 x 240 in light passes",
        "aluminium_6082",
        (350, 240),
        3.0,
        METAL_6,
        "frame",
        1500,
        0.75,
    ),
    Ordinary(
        "Aluminium 5, panel 460 x 350 in light passes",
        "aluminium_6082",
        (460, 350),
        5.0,
        METAL_6,
        "frame",
        1500,
        0.9,
    ),
    Ordinary(
        "Aluminium 8, groove in light passes",
        "aluminium_5083",
        (350, 240),
        8.0,
        METAL_6,
        "slot",
        1500,
        0.7,
    ),
    Ordinary(
        "Beech 22, rail 570 x 130 trimmed in four passes",
        "beech",
        (570, 130),
        22.0,
        COMPRESSION,
        "trim",
        4000,
        5.6,
        "planed",
        why="one row of five cups, a quarter of the depth at a time",
    ),
    Ordinary(
        "PE-HD 15, 350 x 240 in six passes",
        "hdpe",
        (350, 240),
        15.0,
        O_FLUTE_6,
        "frame",
        3000,
        2.6,
        "machined",
        why="six cups under a slippery face, light passes",
    ),
)

# Jobs that some shops cut and others would not; what the tool says of them is open to dispute.
DISPUTED = (
    Ordinary(
        "Birch plywood 15, trimmed in one pass",
        "birch_plywood",
        (460, 240),
        15.0,
        COMPRESSION,
        "trim",
        6000,
        why="refused by 0.1 kPa: the pump loses 20 kPa to the leak of the board, of which "
        "nobody knows more than a range of two powers of ten",
    ),
    Ordinary(
        "Beech 22, rail 570 x 130 trimmed in two passes",
        "beech",
        (570, 130),
        22.0,
        COMPRESSION,
        "trim",
        4000,
        11.2,
        "planed",
        why="five cups in one row, a product of cautions of 3.8; see four passes above",
    ),
    Ordinary(
        "PMMA 4, small sign 240 x 130 in two passes",
        "pmma",
        (240, 130),
        4.0,
        O_FLUTE_4,
        "frame",
        1800,
        2.2,
        "film",
        why="two cups, at the very end of the pump",
    ),
    Ordinary(
        "PE-HD 15, 350 x 240 in three passes",
        "hdpe",
        (350, 240),
        15.0,
        O_FLUTE_6,
        "frame",
        3000,
        5.2,
        why="six cups; a smooth polyolefin grips with 0.2 at worst",
    ),
)

BAD = (
    Ordinary(
        "MDF 18, 130 x 130 on one cup, cut all round at once",
        "mdf",
        (130, 130),
        18.0,
        COMPRESSION,
        "trim",
        8000,
        why="one cup under a full-depth cut",
    ),
    Ordinary(
        "MDF 18, 240 x 130 on two cups, full slot at once",
        "mdf",
        (240, 130),
        18.0,
        Tool("upcut", 12.0),
        "frame",
        8000,
        why="two cups, 12 mm up-cut at full depth",
    ),
    Ordinary(
        "MDF 18, strip parted off and kept on no cup",
        "mdf",
        (460, 240),
        18.0,
        COMPRESSION,
        "rip",
        8000,
        keep=((100.0, 20.0), (100.0, 150.0)),
        why="the strip has no cup",
    ),
    Ordinary(
        "Beech 40, all at once with a blunt up-cut",
        "beech",
        (350, 240),
        40.0,
        Tool("upcut", 16.0, edge="blunt"),
        "frame",
        6000,
        ALL_AT_ONCE,
        "planed",
        why="40 mm of hard wood in one pass on 6 cups",
    ),
    Ordinary(
        "Aluminium 12, full depth at once",
        "aluminium_6082",
        (350, 240),
        12.0,
        METAL_6,
        "frame",
        1500,
        why="no router cup holds that",
    ),
    Ordinary(
        "MDF 18 on oily cups, cut at once",
        "mdf",
        (350, 240),
        18.0,
        COMPRESSION,
        "frame",
        8500,
        surface="oily",
        why="nothing grips",
    ),
    Ordinary(
        "PE-HD 20, full depth at once on two cups",
        "hdpe",
        (240, 130),
        20.0,
        UPCUT_8,
        "trim",
        4000,
        why="slippery, two cups, up-cut",
    ),
    Ordinary(
        "Birch plywood 18 on two cups of 40 mm, at once",
        "birch_plywood",
        (240, 130),
        18.0,
        Tool("upcut", 12.0),
        "trim",
        8000,
        seal_mm=40.0,
        why="small cups, full-depth cut",
    ),
)


PAGE = Path(__file__).resolve().parents[2] / "docs" / "ordinary-jobs.md"
TABLES = (
    ("Jobs that hold every day", GOOD),
    ("Jobs open to dispute", DISPUTED),
    ("Jobs that are known to fly", BAD),
)
_HEAD = """\
# Ordinary jobs, and what the tool says of them

Written by `python -m tests.job.ordinary_jobs`; a test compares it. Which jobs hold every day and
which are known to fly is common practice, no source. One machine: cups of 68 mm seal at 110 mm,
nitrile lips on clean boards, a pump of 40 m3/h that ends at 88 kPa, safety factor 2, used edges,
feeds in mm/min. The level is what the gauge must show to start, the force without the factor.
"""
_SPREAD = """\

## How sure the minima are

As `holdpoint check --spread` has it: the minimum at the cups before the site's floor, kPa, with
every number at its better end, typical, as it decides, and at its worse end (which nothing asks
for); with typical numbers and no factor of safety; the product of the cautions; and what moves it
most, with its grade. The gauge can reach 66 to 87 kPa here: what is known to fly is above that
with typical numbers and no factor already; what is open to dispute is far below it.

| job | better | typical | decides | worse | no factor | product | moved most by |
|---|---|---|---|---|---|---|---|
"""


def told(row: Ordinary, plan: Plan) -> str:
    """One line of a first table."""
    cups = sum(seat.state == "up" for seat in plan.seats)
    level = "none" if plan.start_kpa is None else f"{plan.start_kpa:.0f}"
    governed, why = plan.governed_by, [row.why] if row.why else []
    if governed is not None:
        push = math.hypot(*governed.force_n[:2])
        first = {"slip": "slides first", "lift": "lifts first", "floor": "floor decides"}
        why.append(f"{first[governed.mode]}: {push:.0f} N sideways, {governed.force_n[2]:.0f} N up")
    said = "holds" if plan.verdict == "holds" else "refused"
    return f"| {row.name}, feed {row.feed} | {cups} | {said} | {level} | {'; '.join(why)} |"


def spread_told(row: Ordinary, folder: Path) -> str:
    """One line of the table of spreads."""
    spread = spread_of(worked_of(row, folder)[1])
    minima = (
        spread.better_kpa, spread.typical_kpa, spread.decided_kpa, spread.worse_kpa,
        spread.bare_kpa,
    )  # fmt: skip
    cells = ["none" if kpa is None else f"{kpa:.0f}" for kpa in minima]
    first = spread.moved[0]
    cells += [f"{spread.caution.product:.1f}", f"{first.name} ({first.grade})"]
    return f"| {row.name} | {' | '.join(cells)} |"


def page(folder: Path) -> str:
    """The page but for its spreads, every job worked out anew."""
    parts = [_HEAD]
    for title, rows in TABLES:
        lines = [told(row, plan_of(row, folder)) for row in rows]
        head = "| job | cups | said | level, kPa | why |\n|---|---|---|---|---|"
        parts.append(f"\n## {title}\n\n{head}\n" + "\n".join(lines) + "\n")
    return "".join(parts)


def spreads(folder: Path) -> str:
    """The last section of the page, every job worked out anew."""
    lines = [spread_told(row, folder) for _, rows in TABLES for row in rows]
    return _SPREAD + "\n".join(lines) + "\n"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        PAGE.write_text(page(Path(scratch)) + spreads(Path(scratch)), encoding="utf-8")
