"""Ordinary jobs of the trade that hold every day, and jobs that are known to fly.

Which is which is common practice, no source.  Feeds in mm/min, sizes and depths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field


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
    """One job.  ``cut``: trim, frame, slot, pocket, holes or rip: see ``ordinary_plans``."""

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

COMPRESSION = Tool("compression", 12.0, upcut_mm=6.0)
UPCUT_8 = Tool("upcut", 8.0)
DOWNCUT_6 = Tool("downcut", 6.0)
STRAIGHT_16 = Tool("straight", 16.0, helix_deg=0.0)
O_FLUTE_6 = Tool("upcut", 6.0, 1, 22.0, edge="sharp")
O_FLUTE_4 = Tool("upcut", 4.0, 1, 22.0, edge="sharp")
DRILL_5 = Tool("drill", 5.0, 2, 25.0, rpm=5000)
METAL_6 = Tool("upcut", 6.0, 2, 30.0, 18000, edge="sharp")

GOOD = (
    Ordinary("MDF 18, door 800 x 450 cut all round in one pass", "mdf", (800, 450), 18.0,
             COMPRESSION, "frame", 8500, why="compression cutter, 28 cups of 68 mm"),
    Ordinary("MDF 18, 570 x 350 cut all round in one pass", "mdf", (570, 350), 18.0, COMPRESSION,
             "frame", 8500, why="the everyday case on 15 cups"),
    Ordinary("MDF 18, front 460 x 350 trimmed in one pass", "mdf", (460, 350), 18.0, COMPRESSION,
             "trim", 8000, why="3 mm off, 12 cups"),
    Ordinary("MDF 18, front 350 x 240 trimmed in one pass", "mdf", (350, 240), 18.0, COMPRESSION,
             "trim", 6000, why="3 mm off, 6 cups"),
    Ordinary("MDF 16, front 350 x 240 cut in three passes", "mdf", (350, 240), 16.0, UPCUT_8,
             "frame", 5000, 5.5, why="6 cups, a third of the depth at a time"),
    Ordinary("MDF 22, pocket with 16 mm straight cutter", "mdf", (460, 350), 22.0, STRAIGHT_16,
             "pocket", 5000, 5.5),
    Ordinary("MDF 6, back panel 570 x 460 in one pass", "mdf", (570, 460), 6.0, DOWNCUT_6, "frame",
             5000),
    Ordinary("MDF 18, groove with an 8 mm cutter", "mdf", (350, 240), 18.0, UPCUT_8, "slot", 5000),
    Ordinary("MDF 18, rows of holes 5 mm", "mdf", (350, 240), 18.0, DRILL_5, "holes", 1500),
    Ordinary("Particleboard 19, side 800 x 350 trimmed", "particleboard", (800, 350), 19.0,
             COMPRESSION, "trim", 10000, underside="laminate"),
    Ordinary("Particleboard 19, shelf 570 x 350 cut in one pass", "particleboard", (570, 350),
             19.0, COMPRESSION, "frame", 9000, underside="laminate"),
    Ordinary("Particleboard 16, groove", "particleboard", (460, 240), 16.0, UPCUT_8, "slot", 6000,
             underside="laminate"),
    Ordinary("Particleboard 19, holes 5 mm", "particleboard", (240, 240), 19.0, DRILL_5, "holes",
             1500, underside="laminate"),
    Ordinary("Birch plywood 18, 570 x 350 in two passes", "birch_plywood", (570, 350), 18.0,
             COMPRESSION, "frame", 6000, 9.2),
    Ordinary("Birch plywood 12, 350 x 350 in two passes", "birch_plywood", (350, 350), 12.0,
             UPCUT_8, "frame", 4000, 6.2),
    Ordinary("Birch plywood 15, trimmed in two passes", "birch_plywood", (460, 240), 15.0,
             COMPRESSION, "trim", 6000, 7.7),
    Ordinary("Beech 22, panel 570 x 240 trimmed in two passes", "beech", (570, 240), 22.0,
             COMPRESSION, "trim", 4000, 11.2, "planed"),
    Ordinary("Beech 22, panel cut in four passes", "beech", (460, 350), 22.0, UPCUT_8, "frame",
             3500, 5.6, "planed"),
    Ordinary("Oak 20, groove in two passes", "oak", (460, 130), 20.0, UPCUT_8, "slot", 3000, 3.5,
             "planed"),
    Ordinary("Oak 27, pocket in light passes", "oak", (460, 240), 27.0, UPCUT_8, "pocket", 3000,
             3.0, "planed"),
    Ordinary("Pine 20, panel cut in three passes", "pine", (460, 350), 20.0, UPCUT_8, "frame",
             4000, 7.0, "planed"),
    Ordinary("PMMA 6, sign 350 x 240 in two passes", "pmma", (350, 240), 6.0, O_FLUTE_6, "frame",
             2400, 3.2, "film"),
    Ordinary("PMMA 10, cover 460 x 350 in three passes", "pmma", (460, 350), 10.0, O_FLUTE_6,
             "frame", 2400, 3.5, "film"),
    Ordinary("PMMA 4, sign 350 x 240 in two passes", "pmma", (350, 240), 4.0, O_FLUTE_4, "frame",
             1800, 2.2, "film"),
    Ordinary("PE-HD 15, 460 x 350 in three passes", "hdpe", (460, 350), 15.0, O_FLUTE_6, "frame",
             3000, 5.2, "machined"),
    Ordinary("PE-HD 20, pocket", "hdpe", (350, 350), 20.0, O_FLUTE_6, "pocket", 3000, 4.0,
             "machined"),
    Ordinary("Compact laminate 8, 460 x 350 in three passes", "hpl", (460, 350), 8.0,
             Tool("compression", 10.0, upcut_mm=4.0), "frame", 3000, 3.0, "laminate"),
    Ordinary("Aluminium 3, panel 350 x 240 in light passes", "aluminium_6082", (350, 240), 3.0,
             METAL_6, "frame", 1500, 0.75),
    Ordinary("Aluminium 5, panel 460 x 350 in light passes", "aluminium_6082", (460, 350), 5.0,
             METAL_6, "frame", 1500, 0.9),
    Ordinary("Aluminium 8, groove in light passes", "aluminium_5083", (350, 240), 8.0, METAL_6,
             "slot", 1500, 0.7),
    Ordinary("Beech 22, rail 570 x 130 trimmed in four passes", "beech", (570, 130), 22.0,
             COMPRESSION, "trim", 4000, 5.6, "planed",
             why="one row of five cups, a quarter of the depth at a time"),
    Ordinary("PE-HD 15, 350 x 240 in six passes", "hdpe", (350, 240), 15.0, O_FLUTE_6, "frame",
             3000, 2.6, "machined", why="six cups under a slippery face, light passes"),
)  # fmt: skip

# Jobs that some shops cut and others would not; what the tool says of them is open to dispute.
DISPUTED = (
    Ordinary("Birch plywood 15, trimmed in one pass", "birch_plywood", (460, 240), 15.0,
             COMPRESSION, "trim", 6000,
             why="refused by 0.1 kPa: the pump loses 20 kPa to the leak of the board, of which "
             "nobody knows more than a range of two powers of ten"),
    Ordinary("Beech 22, rail 570 x 130 trimmed in two passes", "beech", (570, 130), 22.0,
             COMPRESSION, "trim", 4000, 11.2, "planed",
             why="five cups in one row, a product of cautions of 3.8; see four passes above"),
    Ordinary("PMMA 4, small sign 240 x 130 in two passes", "pmma", (240, 130), 4.0, O_FLUTE_4,
             "frame", 1800, 2.2, "film", why="two cups, at the very end of the pump"),
    Ordinary("PE-HD 15, 350 x 240 in three passes", "hdpe", (350, 240), 15.0, O_FLUTE_6, "frame",
             3000, 5.2, why="six cups; a smooth polyolefin grips with 0.2 at worst"),
)  # fmt: skip

BAD = (
    Ordinary("MDF 18, 130 x 130 on one cup, cut all round at once", "mdf", (130, 130), 18.0,
             COMPRESSION, "trim", 8000, why="one cup under a full-depth cut"),
    Ordinary("MDF 18, 240 x 130 on two cups, full slot at once", "mdf", (240, 130), 18.0,
             Tool("upcut", 12.0), "frame", 8000, why="two cups, 12 mm up-cut at full depth"),
    Ordinary("MDF 18, strip parted off and kept on no cup", "mdf", (460, 240), 18.0, COMPRESSION,
             "rip", 8000, keep=((100.0, 20.0), (100.0, 150.0)), why="the strip has no cup"),
    Ordinary("Beech 40, all at once with a blunt up-cut", "beech", (350, 240), 40.0,
             Tool("upcut", 16.0, edge="blunt"), "frame", 6000, ALL_AT_ONCE, "planed",
             why="40 mm of hard wood in one pass on 6 cups"),
    Ordinary("Aluminium 12, full depth at once", "aluminium_6082", (350, 240), 12.0, METAL_6,
             "frame", 1500, why="no router cup holds that"),
    Ordinary("MDF 18 on oily cups, cut at once", "mdf", (350, 240), 18.0, COMPRESSION, "frame",
             8500, surface="oily", why="nothing grips"),
    Ordinary("PE-HD 20, full depth at once on two cups", "hdpe", (240, 130), 20.0, UPCUT_8, "trim",
             4000, why="slippery, two cups, up-cut"),
    Ordinary("Birch plywood 18 on two cups of 40 mm, at once", "birch_plywood", (240, 130), 18.0,
             Tool("upcut", 12.0), "trim", 8000, seal_mm=40.0, why="small cups, full-depth cut"),
)  # fmt: skip
