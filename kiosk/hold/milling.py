"""What the teeth of a milling cutter do: peak push, pull and torque through one turn.

Kienzle per tooth, summed over all flutes along the helix through one pitch of rotation.  Chip
geometry: Y. Altintas, Manufacturing Automation, 2nd ed. 2012, ch. 2 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from kiosk.hold.cutter import (
    LEAST_CHIP_M,
    WEAR,
    Cutter,
    CutterLoad,
    Engagement,
    FloatArray,
    Grain,
    kienzle_of,
    specific_force,
)
from kiosk.hold.materials import Kienzle, Material, Value

_TURNS, _SLICES = 180, 32
WINDOW_SIDES = 12


def mean_chip(feed_per_tooth_m: float, arc_rad: float) -> float:
    """Arc mean of h = f_z sin(phi) from 0 to ``arc_rad``: f_z (1 - cos arc) / arc."""
    return feed_per_tooth_m * (1.0 - math.cos(arc_rad)) / arc_rad


def arc_of(diameter_m: float, width_m: float | None) -> float:
    """Engagement angle arccos(1 - 2 a_e / D), rad; pi for a slot."""
    if width_m is None or width_m >= diameter_m:
        return math.pi
    return math.acos(1.0 - 2.0 * width_m / diameter_m)


@dataclass(frozen=True, slots=True, eq=False)
class _Slices:
    """The edge in slices from the tip up; arrays (s,).  ``side`` +1 pulls up, -1 presses down."""

    height_m: FloatArray
    radius_m: FloatArray
    sin_kappa: FloatArray
    side: FloatArray
    step_m: float


def _slices(cutter: Cutter, depth_m: float, from_m: float) -> _Slices:
    step = depth_m / _SLICES
    height: FloatArray = from_m + (np.arange(_SLICES, dtype=np.float64) + 0.5) * step
    outer = cutter.diameter_m / 2.0
    radius, sin_kappa = np.full(_SLICES, outer), np.ones(_SLICES)
    if cutter.kind == "ball":
        rise = np.clip(1.0 - height / outer, 0.0, 1.0)
        sin_kappa = np.sqrt(1.0 - rise**2)
        radius = outer * sin_kappa
    elif cutter.kind == "vee":
        slope = math.tan(cutter.tip_angle_rad / 2.0)
        cone = height * slope < outer
        radius = np.where(cone, height * slope, outer)
        sin_kappa = np.where(cone, math.cos(cutter.tip_angle_rad / 2.0), 1.0)
    return _Slices(height, radius, sin_kappa, _sides(cutter, height), step)


def _sides(cutter: Cutter, height: FloatArray) -> FloatArray:
    if cutter.kind == "compression":
        return np.where(height < cutter.upcut_length_m, 1.0, -1.0)
    sides = {"straight": 0.0, "downcut": -1.0}
    return np.full(height.size, sides.get(cutter.kind, 1.0))


def _lag(cutter: Cutter, cut: _Slices) -> FloatArray:
    """How far each slice trails the tip, rad (s,)."""
    twist = math.tan(cutter.helix_rad) / (cutter.diameter_m / 2.0)
    lag = cut.side * cut.height_m * twist
    if cutter.kind == "compression":  # the two helices meet at the end of the up-cut part
        lag = np.where(cut.side > 0, lag, 2.0 * cutter.upcut_length_m * twist + lag)
    return np.asarray(lag, dtype=np.float64)


def _turning_angles(cutter: Cutter, lag: FloatArray, arc_rad: float) -> FloatArray:
    """Angle of every tooth slice, (turn, flute, slice), -pi/2 ... 3 pi/2 rad.

    Turns are spread over one pitch; the last is the instant before the lowest slice leaves.
    """
    pitch = 2.0 * math.pi / cutter.flutes
    turn = (np.arange(_TURNS) + 0.5) * (pitch / _TURNS)
    turn = np.append(turn, arc_rad + lag[0] - 1e-9)
    flute = np.arange(cutter.flutes) * pitch
    angle = turn[:, None, None] + flute[:, None] - lag
    return np.asarray(np.mod(angle + math.pi / 2.0, 2.0 * math.pi) - math.pi / 2.0)


def _chip_load(
    cutter: Cutter, cut: _Slices, angle: FloatArray, sin: FloatArray, use: Engagement
) -> tuple[FloatArray, FloatArray]:
    """Chip thickness and chip area of every tooth slice; area 0 out of the cut.

    A slice that the helix spreads over the edge of the arc counts with the share that is in.
    """
    feed = use.feed_m_s / (use.spindle_rev_s * cutter.flutes)
    feed = min(feed + use.runout_m, feed * cutter.flutes)  # at most one tooth does all the cutting
    arc = arc_of(cutter.diameter_m, use.width_m)
    spread = max(cut.step_m * math.tan(cutter.helix_rad) / (cutter.diameter_m / 2.0), 1e-9)
    share = np.clip(angle / spread + 0.5, 0.0, 1.0) * np.clip((arc - angle) / spread + 0.5, 0, 1)
    chip = np.maximum(feed * np.abs(sin) * cut.sin_kappa, LEAST_CHIP_M)
    width = cut.step_m / np.maximum(cut.sin_kappa, 1e-3)
    return chip, share * chip * width


@dataclass(frozen=True, slots=True, eq=False)
class _Teeth:
    """Every tooth slice through one pitch; arrays (turn, flute, slice).

    ``sin`` and ``cos`` of its angle; ``forces``: tangential, N, for each row of k_c asked for, of
    a fresh edge in hard stuff and of a worn one in ordinary.
    """

    cut: _Slices
    sin: FloatArray
    cos: FloatArray
    forces: tuple[tuple[FloatArray, FloatArray], ...]


@lru_cache(maxsize=4)  # one cut is asked for at several angles to the grain, one after another
def _teeth(cutter: Cutter, rows: tuple[Kienzle, ...], use: Engagement, climb: bool) -> _Teeth:
    """Of a climbing cut the teeth are in up to the angle pi, of any other from 0 up."""
    cut = _slices(cutter, use.depth_m, use.from_m)
    lag = _lag(cutter, cut)
    angle = _turning_angles(cutter, -lag if climb else lag, arc_of(cutter.diameter_m, use.width_m))
    sin, cos = np.sin(angle), np.cos(angle)
    chip, area = _chip_load(cutter, cut, angle, sin, use)
    forces = []
    for row in rows:
        force = area * specific_force(row, 1.0, chip)
        worn = row.k_ref_pa.typical * WEAR[cutter.edge] * force
        forces.append((row.k_ref_pa.high * force, worn))
    return _Teeth(cut, sin, -cos if climb else cos, tuple(forces))


def _cutting(
    cutter: Cutter, material: Material, grain: Grain, use: Engagement, climb: bool = False
) -> tuple[_Teeth, FloatArray, FloatArray]:
    """The teeth, and the tangential force of each slice, N, of a fresh edge and of a worn one.

    With the feed at an angle to the grain, a tooth at angle a moves at their sum to it; between
    along and across k_c goes with sin^2 of that (common practice, no source).
    """
    if not isinstance(grain, float):
        teeth = _teeth(cutter, (kienzle_of(material, grain),), use, climb)
        return teeth, *teeth.forces[0]
    teeth = _teeth(cutter, (material.kc_along, material.kc_across), use, climb)
    across = (teeth.sin * math.cos(grain) + teeth.cos * math.sin(grain)) ** 2
    fresh, worn = (along + across * (other - along)
                   for along, other in zip(*teeth.forces, strict=True))  # fmt: skip
    return teeth, fresh, worn


def milling(cutter: Cutter, material: Material, grain: Grain, use: Engagement) -> CutterLoad:
    """The worse of a fresh edge in hard stuff and a worn edge in ordinary stuff.

    Caution is not stacked: the push of a worn flank (high k_r) goes with the worn edge alone.
    """
    teeth, fresh, worn = _cutting(cutter, material, grain, use)
    cut = teeth.cut
    pushes = _pushes_in_turn(teeth, material.kr, fresh, worn)
    lateral = float(np.hypot(pushes[..., 0], pushes[..., 1]).max())
    up, down = (max(pair) for pair in zip(
        _axial(cutter, cut, fresh, (material.kr.low, material.kr.typical)),
        _axial(cutter, cut, worn, (0.0, material.kr.high)),
        strict=True,
    ))  # fmt: skip
    force = np.maximum(fresh, worn)
    torque = (force * cut.radius_m).sum(axis=(1, 2))
    weight = force.sum(axis=(0, 1))
    centroid = float((weight * (cut.height_m - use.from_m)).sum() / max(float(weight.sum()), 1e-12))
    power = float(torque[:-1].mean()) * 2.0 * math.pi * use.spindle_rev_s
    return CutterLoad(lateral, up, down, float(torque.max()), centroid, power)


def _pushes_in_turn(teeth: _Teeth, kr: Value, fresh: FloatArray, worn: FloatArray) -> FloatArray:
    """Lateral push on the part at every turn for each edge and its k_r, N, (5, turn, 2).

    x along the feed, y to its left, spindle clockwise from above: a tooth at angle a moves along
    (cos a, -sin a) and stands at (sin a, cos a) from the axis.
    """
    pushes = []
    for tangential, ratios in ((fresh, (kr.low, 0.0, kr.typical)), (worn, (0.0, kr.high))):
        radial = tangential * teeth.cut.sin_kappa
        along = np.stack([_in_turn(tangential, teeth.cos), -_in_turn(tangential, teeth.sin)], 1)
        out = np.stack([_in_turn(radial, teeth.sin), _in_turn(radial, teeth.cos)], 1)
        pushes += [along + ratio * out for ratio in ratios]
    return np.stack(pushes)


def _in_turn(force: FloatArray, part: FloatArray) -> FloatArray:
    """The sum of force x part over flutes and slices at every turn, (turn,)."""
    return np.asarray(np.einsum("tfs,tfs->t", force, part))


def _axial(
    cutter: Cutter, cut: _Slices, tangential: FloatArray, ratios: tuple[float, float]
) -> tuple[float, float]:
    """Peak pull upward and peak press downward, N.

    |F_a| <= F_t tan(helix), the bound of a frictionless helical edge; on the sloping edge of a
    ball or vee the radial force has an axial part of either sign too.
    """
    helical = cut.side * math.tan(cutter.helix_rad)
    slope = np.sqrt(1.0 - np.minimum(cut.sin_kappa, 1.0) ** 2)
    rise = np.maximum(helical, 0.0) + max(-ratios[0], 0.0) * slope
    fall = np.maximum(-helical, 0.0) + max(ratios[1], 0.0) * slope
    up = (tangential * rise).sum(axis=(1, 2)).max()
    down = (tangential * fall).sum(axis=(1, 2)).max()
    return float(up), float(down)


@lru_cache(maxsize=4096)
def push_window(
    cutter: Cutter, material: Material, use: Engagement, grain: Grain, climb: bool
) -> tuple[tuple[float, float], ...]:
    """Where the lateral push of a side cut points when its sense is known: corners, N.

    A polygon round every push of a turn and round none, in the frame of ``_pushes_in_turn``.
    ``grain``: the angle from the feed counter-clockwise to the grain, rad.
    """
    teeth, fresh, worn = _cutting(cutter, material, grain, use, climb)
    pushes = _pushes_in_turn(teeth, material.kr, fresh, worn).reshape(-1, 2)
    return round_about(np.vstack([pushes, np.zeros((1, 2))]), WINDOW_SIDES)


def round_about(points: FloatArray, sides: int) -> tuple[tuple[float, float], ...]:
    """Corners of the polygon of so many sides, at even angles, that just holds the points."""
    turn = 2.0 * math.pi * np.arange(sides + 1) / sides
    normal = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    reach = (points @ normal.T).max(axis=0)
    det = math.sin(2.0 * math.pi / sides)
    x = (reach[:-1] * normal[1:, 1] - reach[1:] * normal[:-1, 1]) / det
    y = (reach[1:] * normal[:-1, 0] - reach[:-1] * normal[1:, 0]) / det
    return tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))
