"""What the cutter does to the part at each straight cut that meets material.

Part frame; mm here, SI only in what goes to ``kiosk.hold``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from kiosk.hold.cutting import Cutter, CutterLoad, Engagement, cutter_load
from kiosk.hold.materials import Material
from kiosk.job.cuts import Cut
from kiosk.job.job_file import Job, Tool, Vector
from kiosk.job.stock import Bite

_DEPTH_STEP_MM, _WIDTH_STEP_MM = 0.05, 0.25  # rounded up, so that many moves share a load
_ALONG_DEG = 15.0  # a side cut within this of the grain cuts along it
_ALONG_WIDTH = 0.25  # of the diameter: up to here the teeth move mostly along the feed


@dataclass(frozen=True, slots=True)
class Push:
    """A cut that meets material, with its peak loads."""

    cut: Cut
    bite: Bite
    load: CutterLoad

    def tip_at(self, share: float) -> Vector:
        x, y, z = (a + share * (b - a) for a, b in zip(self.cut.start, self.cut.end, strict=True))
        return x, y, z


def cutter_of(tool: Tool) -> Cutter:
    """A tool of the job file in SI."""
    return Cutter(
        kind=tool.kind,
        diameter_m=tool.diameter_mm / 1e3,
        flutes=tool.flutes,
        helix_rad=math.radians(tool.helix_deg),
        upcut_length_m=(tool.upcut_length_mm or 0.0) / 1e3,
        edge=tool.edge,
        tip_angle_rad=math.radians(tool.point_deg),
    )


class Pushing:
    """Works out the load of each cut, once for cuts that are alike."""

    def __init__(self, job: Job, material: Material) -> None:
        self._job = job
        self._material = material
        self._known: dict[tuple[object, ...], CutterLoad] = {}

    def push(self, cut: Cut, bite: Bite) -> Push:
        """The loads of one cut."""
        depth = _up(bite.depth_mm, _DEPTH_STEP_MM)
        width = None if bite.width_mm is None else _up(bite.width_mm, _WIDTH_STEP_MM)
        kind, grain = _kind(cut, width), _grain(cut, width, self._job)
        skin = self._job.program.skin_mm if self._job.program is not None else 0.0
        through = cut.lowest_mm <= skin
        tool = cut.tool
        key = (tool.number, kind, depth, width, cut.feed_mm_min, cut.spindle_rpm, through, grain)
        if key not in self._known:
            engagement = Engagement(
                kind=kind,
                depth_m=depth / 1e3,
                width_m=None if width is None else min(width, tool.diameter_mm) / 1e3,
                feed_m_s=cut.feed_mm_min / 60e3,
                spindle_rev_s=cut.spindle_rpm / 60.0,
                through=through,
            )
            load = cutter_load(cutter_of(tool), self._material, engagement, grain)
            self._known[key] = load
        return Push(cut, bite, self._known[key])


def _up(value_mm: float, step_mm: float) -> float:
    """Rounded up to a whole number of steps."""
    return round(math.ceil(value_mm / step_mm - 1e-9) * step_mm, 6)


def _kind(cut: Cut, width: float | None) -> str:
    flat = math.hypot(cut.end[0] - cut.start[0], cut.end[1] - cut.start[1])
    if flat < 1e-6:
        return "drill" if cut.drilling or cut.tool.kind == "drill" else "plunge"
    if cut.end[2] < cut.start[2]:
        return "ramp"
    return "slot" if width is None else "side"


def _grain(cut: Cut, width: float | None, job: Job) -> str | None:
    """ "along" where the teeth surely move along the grain: a narrow side cut that follows it."""
    narrow = width is not None and width <= _ALONG_WIDTH * cut.tool.diameter_mm
    if job.grain_deg is None or not narrow:
        return None
    heading = math.degrees(math.atan2(cut.end[1] - cut.start[1], cut.end[0] - cut.start[0]))
    off = (heading - job.grain_deg + 90.0) % 180.0 - 90.0
    return "along" if abs(off) <= _ALONG_DEG else None
