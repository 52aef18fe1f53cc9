"""What the cutter does to the part at each straight cut that meets material.

Part frame; mm here, SI only in what goes to ``kiosk.hold``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kiosk.hold.cutter import Cutter, CutterLoad, Engagement, Grain
from kiosk.hold.cutting import cutter_load
from kiosk.hold.materials import Material
from kiosk.hold.milling import WINDOW_SIDES, push_window, round_about
from kiosk.job.cuts import Cut
from kiosk.job.job_file import Job, Point, Tool
from kiosk.job.stock import Bite

_DEPTH_STEP_MM, _WIDTH_STEP_MM = 0.05, 0.25  # rounded up, so that many moves share a load
_SINK_STEP = 0.05
_HEADING_DEG = 7.5  # headings of side cuts in steps of this; both ends of a step count


@dataclass(frozen=True, slots=True)
class Push:
    """A cut that meets material, with its peak loads.

    ``window``: corners of where its lateral push points, N, part frame, when the sense of the
    cut is declared and fits; else None, the push may point anywhere.
    """

    cut: Cut
    bite: Bite
    load: CutterLoad
    window: tuple[Point, ...] | None = None
    astray: bool = False  # a side cut in the other sense than declared


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


@dataclass(frozen=True, slots=True)
class _Use:
    """How alike cuts are in the work: what their load depends on."""

    tool: Tool
    engagement: Engagement
    heading: int | None  # step of the direction of motion from x, where it matters
    side: int
    mirrored: bool = False  # by a reversed spindle, where that matters


_Worked = tuple[CutterLoad, tuple[Point, ...] | None, bool]  # load, window and astray of a push


class Pushing:
    """Works out the load of each cut, once for cuts that are alike."""

    def __init__(self, job: Job, material: Material) -> None:
        self._job = job
        self._material = material
        self._skin_mm = job.program.skin_mm if job.program is not None else 0.0
        self._milling = job.program.milling if job.program is not None else "either"
        self._grained = job.grain_deg is not None and material.kc_along != material.kc_across
        self._known: dict[tuple[object, ...], _Worked] = {}

    def push(self, cut: Cut, bite: Bite) -> Push:
        """The loads of one cut."""
        return Push(cut, bite, *self._worked(cut, bite))

    def _worked(self, cut: Cut, bite: Bite) -> _Worked:
        depth = _up(bite.depth_mm, _DEPTH_STEP_MM)
        width = None if bite.width_mm is None else _up(bite.width_mm, _WIDTH_STEP_MM)
        kind = _kind(cut, width)
        lowest = cut.lowest_mm
        through = lowest <= self._skin_mm
        below = math.floor(max(-lowest, 0.0) / _DEPTH_STEP_MM) * _DEPTH_STEP_MM
        sided = kind == "side" and self._milling != "either"
        turned = kind in ("side", "slot", "ramp") and self._grained
        heading = _heading(cut) if sided or turned else None
        tool, side = cut.tool, bite.side if sided else 0
        mirrored = sided and cut.reversed_spindle
        sink = _sink(cut) if kind == "ramp" else 0.0
        key = (tool.number, kind, depth, width, cut.feed_mm_min, cut.spindle_rpm, through, below,
               heading, side, mirrored, sink)  # fmt: skip
        known = self._known.get(key)
        if known is None:
            engagement = Engagement(
                kind=kind,
                depth_m=depth / 1e3,
                width_m=None if width is None else min(width, tool.diameter_mm) / 1e3,
                feed_m_s=cut.feed_mm_min * self._job.feed_override / 60e3,
                spindle_rev_s=cut.spindle_rpm / 60.0,
                through=through,
                from_m=below / 1e3,
                runout_m=self._job.runout_mm / 1e3,
                sink=sink,
            )
            use = _Use(tool, engagement, heading, side, mirrored)
            known = self._known[key] = self._load(use), self._window(use), self._astray(use)
        return known

    def _load(self, use: _Use) -> CutterLoad:
        """The worst over the angles to the grain that are meant, part for part."""
        cutter, off = cutter_of(use.tool), self._off_grain(use)
        signed: list[Grain] = [sign * angle for angle in off for sign in (1.0, -1.0)] or [None]
        loads = [cutter_load(cutter, self._material, use.engagement, a) for a in signed]
        return CutterLoad(
            lateral_n=max(load.lateral_n for load in loads),
            up_n=max(load.up_n for load in loads),
            down_n=max(load.down_n for load in loads),
            torque_nm=max(load.torque_nm for load in loads),
            centroid_m=max(load.centroid_m for load in loads),
            power_w=max(load.power_w for load in loads),
        )

    def _off_grain(self, use: _Use) -> list[float]:
        """Angles of the feed to the grain, rad: the step of heading, its middle and both ends."""
        if not self._grained or self._job.grain_deg is None or use.heading is None:
            return []
        return [
            math.radians((use.heading + end) * _HEADING_DEG - self._job.grain_deg)
            for end in (-0.5, 0.0, 0.5)
        ]

    def _window(self, use: _Use) -> tuple[Point, ...] | None:
        if use.heading is None or use.side == 0 or self._astray(use):
            return None
        climb, mirror = self._milling == "climb", -1.0 if use.mirrored else 1.0
        corners: list[tuple[float, float]] = []
        grains: list[Grain] = [-mirror * g for g in self._off_grain(use)] or [None]
        for grain in grains:
            push = push_window(cutter_of(use.tool), self._material, use.engagement, grain, climb)
            sides = [(x, mirror * y) for x, y in push]
            for end in (-0.5, 0.5):
                turn = math.radians((use.heading + end) * _HEADING_DEG)
                cos, sin = math.cos(turn), math.sin(turn)
                corners += [(x * cos - y * sin, x * sin + y * cos) for x, y in sides]
        return round_about(np.array(corners) / math.cos(math.radians(_HEADING_DEG) / 2.0),
                           WINDOW_SIDES)  # fmt: skip

    def _astray(self, use: _Use) -> bool:
        """A clockwise spindle climbs with the material to the right of the motion, one the other
        way round with it to the left.
        """
        expected = {"climb": -1, "conventional": 1}.get(self._milling, 0)
        expected *= -1 if use.mirrored else 1
        return use.side * expected < 0


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


def _sink(cut: Cut) -> float:
    """How far down a cut goes per length of its way, rounded up."""
    return min(_up((cut.start[2] - cut.end[2]) / math.dist(cut.start, cut.end), _SINK_STEP), 1.0)


def _heading(cut: Cut) -> int:
    turn = math.degrees(math.atan2(cut.end[1] - cut.start[1], cut.end[0] - cut.start[0]))
    return round(turn / _HEADING_DEG)
