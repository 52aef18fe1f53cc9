"""The plan of an ordinary job: its files written, and worked out as any other's.

One machine throughout: cups of 68 mm seal on a grid of 110 mm, a pump that ends at 88 kPa, clean
boards on nitrile lips, unless a row says else.
"""

from __future__ import annotations

from pathlib import Path

from kiosk.job.plan import Plan
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.site import load_site
from tests.job.ordinary_jobs import Ordinary

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
