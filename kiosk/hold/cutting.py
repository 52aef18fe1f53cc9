"""What the cutter does to the part: the peak push, the peak pull upward and the torque.

Kienzle per tooth, summed over all flutes along the helix through one pitch of rotation.  Knows
no cups and no program.  Sources: O. Kienzle, VDI-Z 94 (1952) 299 (from memory); chip geometry,
Y. Altintas, Manufacturing Automation, 2nd ed. 2012, ch. 2 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from kiosk.hold.drilling import break_through_pull, drilling_thrust, drilling_torque
from kiosk.hold.materials import CHIP_REF_M, Kienzle, Material

FloatArray = NDArray[np.float64]
Grain = str | float | None

CUTTER_KINDS = ("upcut", "downcut", "compression", "straight", "ball", "vee", "drill")
ENGAGEMENTS = ("slot", "side", "plunge", "ramp", "drill")
# Tangential force of an edge against a fresh one; end of life 1.3 / 1.6 / 2.0:
# common practice, no source (that it rises with wear: Koleda et al., BioResources 14(4) 2019).
WEAR = {"sharp": 1.0, "used": 1.3, "blunt": 1.6}
# Below h = r_edge / 3 an edge rubs (James et al., J. Micro Nano-Manuf. 2(4) 2014 041003); with
# r_edge about 0.03 mm for a working edge (common practice, no source) the force stops falling.
LEAST_CHIP_M = 1e-5
# Share of one tooth's force that run-out leaves unbalanced in a plunge: common practice, no source.
RUN_OUT_SHARE = 0.3
_TURNS, _SLICES = 180, 32
WINDOW_SIDES = 12


@dataclass(frozen=True, slots=True)
class Cutter:
    """A tool.  Angles in rad; ``upcut_length_m`` counts from the tip, compression only.

    ``tip_angle_rad`` is the included angle: of a vee (default 90 deg) or a drill's point.
    """

    kind: str
    diameter_m: float
    flutes: int
    helix_rad: float
    upcut_length_m: float
    edge: str
    tip_angle_rad: float = math.pi / 2


@dataclass(frozen=True, slots=True)
class Engagement:
    """How the tool is in the work.  ``width_m`` None means a full-width slot.

    ``depth_m`` axial, m; ``feed_m_s`` along the path; ``spindle_rev_s`` turns per second.
    ``from_m``: height above the tip from where on the edge is in the work, more than 0 where the
    tip runs below the underside.  ``runout_m``: one tooth's chip is thicker by this much.
    ``sink``: of a ramp, how far down it goes per length of its way: 0 level, 1 straight down.
    """

    kind: str
    depth_m: float
    width_m: float | None
    feed_m_s: float
    spindle_rev_s: float
    through: bool
    from_m: float = 0.0
    runout_m: float = 0.0
    sink: float = 0.0


@dataclass(frozen=True, slots=True)
class CutterLoad:
    """Peaks through one turn, on the part, without the safety factor.

    ``lateral_n`` all flutes summed; ``up_n`` pull upward with nothing taken off for what presses
    down; ``down_n``; ``torque_nm``; ``centroid_m`` above the lowest edge in the work;
    ``power_w`` mean.
    """

    lateral_n: float
    up_n: float
    down_n: float
    torque_nm: float
    centroid_m: float
    power_w: float = 0.0


@dataclass(frozen=True, slots=True)
class CutterCase:
    """One combination that a hold must survive: lateral in any direction, torque either way."""

    lateral_n: float
    up_n: float
    torque_nm: float


def specific_force(row: Kienzle, k_ref_pa: float, chip_m: FloatArray) -> FloatArray:
    """k_c in Pa at chip thicknesses of any shape, all above zero: k_ref (h / 0.1 mm)^-m."""
    share = chip_m / CHIP_REF_M
    slope = np.where(share < 1.0, row.m_thin.typical, row.m_thick.typical)
    return np.asarray(k_ref_pa * share**-slope, dtype=np.float64)


def design_k_ref(row: Kienzle, edge: str) -> float:
    """The k_ref that decides: the greater of typical x wear and high x sharp, Pa."""
    return max(row.k_ref_pa.typical * WEAR[edge], row.k_ref_pa.high)


def mean_chip(feed_per_tooth_m: float, arc_rad: float) -> float:
    """Arc mean of h = f_z sin(phi) from 0 to ``arc_rad``: f_z (1 - cos arc) / arc."""
    return feed_per_tooth_m * (1.0 - math.cos(arc_rad)) / arc_rad


def arc_of(diameter_m: float, width_m: float | None) -> float:
    """Engagement angle arccos(1 - 2 a_e / D), rad; pi for a slot."""
    if width_m is None or width_m >= diameter_m:
        return math.pi
    return math.acos(1.0 - 2.0 * width_m / diameter_m)


def _kienzle_of(material: Material, grain: Grain) -> Kienzle:
    """Along the grain only when that is known; a contour meets every direction."""
    return material.kc_along if grain == "along" else material.kc_across


def _force_per_area(
    material: Material, grain: Grain, edge: str | None, chip: FloatArray, angle: FloatArray
) -> FloatArray:
    """k_c of every tooth slice, Pa: ordinary stuff with an ``edge``, or hard stuff (None).

    With the feed at an angle to the grain, a tooth at ``angle`` moves at their sum to it; between
    along and across k_c goes with sin^2 of that (common practice, no source).
    """

    def force(row: Kienzle) -> FloatArray:
        k_ref = row.k_ref_pa.high if edge is None else row.k_ref_pa.typical * WEAR[edge]
        return specific_force(row, k_ref, chip)

    if not isinstance(grain, float):
        return force(_kienzle_of(material, grain))
    across = np.sin(angle + grain) ** 2
    return np.asarray(
        force(material.kc_along) * (1.0 - across) + force(material.kc_across) * across
    )


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
    cutter: Cutter, cut: _Slices, angle: FloatArray, use: Engagement
) -> tuple[FloatArray, FloatArray]:
    """Chip thickness and chip area of every tooth slice; area 0 out of the cut.

    A slice that the helix spreads over the edge of the arc counts with the share that is in.
    """
    feed = use.feed_m_s / (use.spindle_rev_s * cutter.flutes)
    feed = min(feed + use.runout_m, feed * cutter.flutes)  # at most one tooth does all the cutting
    arc = arc_of(cutter.diameter_m, use.width_m)
    spread = max(cut.step_m * math.tan(cutter.helix_rad) / (cutter.diameter_m / 2.0), 1e-9)
    share = np.clip(angle / spread + 0.5, 0.0, 1.0) * np.clip((arc - angle) / spread + 0.5, 0, 1)
    chip = np.maximum(feed * np.abs(np.sin(angle)) * cut.sin_kappa, LEAST_CHIP_M)
    width = cut.step_m / np.maximum(cut.sin_kappa, 1e-3)
    return chip, share * chip * width


def _milling(cutter: Cutter, material: Material, grain: Grain, use: Engagement) -> CutterLoad:
    """The worse of a fresh edge in hard stuff and a worn edge in ordinary stuff.

    Caution is not stacked: the push of a worn flank (high k_r) goes with the worn edge alone.
    """
    cut = _slices(cutter, use.depth_m, use.from_m)
    arc = arc_of(cutter.diameter_m, use.width_m)
    angle = _turning_angles(cutter, _lag(cutter, cut), arc)
    chip, area = _chip_load(cutter, cut, angle, use)
    fresh = area * _force_per_area(material, grain, None, chip, angle)
    worn = area * _force_per_area(material, grain, cutter.edge, chip, angle)
    kr = material.kr
    lateral = max(
        _push(cut, angle, fresh, (kr.low, 0.0, kr.typical)),
        _push(cut, angle, worn, (0.0, kr.high)),
    )
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


def _push(
    cut: _Slices, angle: FloatArray, tangential: FloatArray, ratios: tuple[float, ...]
) -> float:
    """Peak lateral resultant, N, over the turn and the given k_r."""
    rows = pushes_in_turn(cut, angle, tangential, ratios)
    return float(np.hypot(rows[..., 0], rows[..., 1]).max())


def pushes_in_turn(
    cut: _Slices, angle: FloatArray, tangential: FloatArray, ratios: tuple[float, ...]
) -> FloatArray:
    """Lateral push on the part at every turn for each k_r, N, (k_r, turn, 2).

    x along the feed, y to its left, spindle clockwise from above: a tooth at angle a moves along
    (cos a, -sin a) and stands at (sin a, cos a) from the axis.
    """
    cos, sin = np.cos(angle), np.sin(angle)
    radial = tangential * cut.sin_kappa
    along = np.stack([(tangential * cos).sum(axis=(1, 2)), -(tangential * sin).sum(axis=(1, 2))])
    out = np.stack([(radial * sin).sum(axis=(1, 2)), (radial * cos).sum(axis=(1, 2))])
    return np.stack([(along + kr * out).T for kr in ratios])


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


def _ramping(cutter: Cutter, material: Material, grain: Grain, use: Engagement) -> CutterLoad:
    """A cut that sinks as it goes: as a level one at its whole feed, and part for part never less
    than the plunge that it makes at the same time, at what its feed has downward.
    """
    level = cutter_load(cutter, material, replace(use, sink=0.0), grain)
    sinking = replace(use, feed_m_s=use.feed_m_s * use.sink)
    plunge = _boring(cutter, material, _kienzle_of(material, grain), sinking)
    return replace(
        level,
        lateral_n=max(level.lateral_n, plunge.lateral_n),
        up_n=max(level.up_n, plunge.up_n),
        down_n=max(level.down_n, plunge.down_n),
        torque_nm=max(level.torque_nm, plunge.torque_nm),
    )


def _boring(cutter: Cutter, material: Material, row: Kienzle, use: Engagement) -> CutterLoad:
    """A drill, or any cutter sent straight down.  The least thrust of a sheet goes with ``sink``
    in a ramp (judgement: it is measured of drills alone).
    """
    feed_turn = use.feed_m_s / use.spindle_rev_s
    half_point = cutter.tip_angle_rad / 2.0 if cutter.kind == "drill" else math.pi / 2.0
    lips = max(cutter.flutes, 1)
    chip = max(feed_turn / lips * math.sin(half_point), LEAST_CHIP_M)
    k_pa = float(specific_force(row, design_k_ref(row, cutter.edge), np.array([chip]))[0])
    torque = drilling_torque(k_pa, feed_turn, cutter.diameter_m)
    worn = material.thrust_sharp_n if cutter.edge == "sharp" else material.thrust_worn_n
    thrust = drilling_thrust(k_pa, feed_turn, cutter.diameter_m, half_point)
    least = worn.typical if worn is not None else 0.0
    thrust = max(thrust, least * (use.sink or 1.0))
    pulls = use.through and cutter.kind in ("drill", "upcut", "compression")
    up = break_through_pull(torque, cutter.diameter_m, cutter.helix_rad) if pulls else 0.0
    one_lip = 2.0 * torque / (cutter.diameter_m / 2.0) / lips  # M = lips x F x D / 4
    lateral = one_lip * (1.0 if lips == 1 else RUN_OUT_SHARE)
    power = torque * 2.0 * math.pi * use.spindle_rev_s
    return CutterLoad(lateral, up, thrust, torque, 0.0, power)


@lru_cache(maxsize=4096)
def push_window(
    cutter: Cutter, material: Material, use: Engagement, grain: Grain, climb: bool
) -> tuple[tuple[float, float], ...]:
    """Where the lateral push of a side cut points when its sense is known: corners, N.

    A polygon round every push of a turn and round none, in the frame of ``pushes_in_turn``.
    ``grain``: the angle from the feed counter-clockwise to the grain, rad.  Of a cut against the
    feed (conventional) the teeth are in from angle 0 up, of a climbing one up to pi.
    """
    cut = _slices(cutter, use.depth_m, use.from_m)
    arc, lag = arc_of(cutter.diameter_m, use.width_m), _lag(cutter, cut)
    mirrored = _turning_angles(cutter, -lag if climb else lag, arc)
    chip, area = _chip_load(cutter, cut, mirrored, use)
    angle = math.pi - mirrored if climb else mirrored
    fresh = area * _force_per_area(material, grain, None, chip, angle)
    worn = area * _force_per_area(material, grain, cutter.edge, chip, angle)
    kr = material.kr
    rows = [
        pushes_in_turn(cut, angle, fresh, (kr.low, 0.0, kr.typical)).reshape(-1, 2),
        pushes_in_turn(cut, angle, worn, (0.0, kr.high)).reshape(-1, 2),
    ]
    return round_about(np.vstack([*rows, np.zeros((1, 2))]), WINDOW_SIDES)


def round_about(points: FloatArray, sides: int) -> tuple[tuple[float, float], ...]:
    """Corners of the polygon of so many sides, at even angles, that just holds the points."""
    turn = 2.0 * math.pi * np.arange(sides + 1) / sides
    normal = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    reach = (points @ normal.T).max(axis=0)
    det = math.sin(2.0 * math.pi / sides)
    x = (reach[:-1] * normal[1:, 1] - reach[1:] * normal[:-1, 1]) / det
    y = (reach[1:] * normal[:-1, 0] - reach[:-1] * normal[1:, 0]) / det
    return tuple((float(a), float(b)) for a, b in zip(x, y, strict=True))


@lru_cache(maxsize=4096)
def cutter_load(
    cutter: Cutter, material: Material, engagement: Engagement, grain: Grain = None
) -> CutterLoad:
    """Peak loads of one engagement; ``grain`` "along", "across" or None (then across), or the
    angle of the feed to the grain in rad (either sense of turning: ask for both signs).

    Remembered, because thousands of moves share a few engagements.  ValueError in words for an
    unknown kind, no flutes, or a depth, feed or speed that is not above zero.
    """
    _check(cutter, engagement)
    row = _kienzle_of(material, grain)
    if engagement.kind in ("plunge", "drill") or cutter.kind == "drill":
        return _boring(cutter, material, row, engagement)
    if engagement.kind == "ramp" and engagement.sink > 0.0:
        return _ramping(cutter, material, grain, engagement)
    return _milling(cutter, material, grain, engagement)


def _check(cutter: Cutter, use: Engagement) -> None:
    if cutter.kind not in CUTTER_KINDS or use.kind not in ENGAGEMENTS or cutter.edge not in WEAR:
        raise ValueError(f"unknown cutter, engagement or edge: {cutter.kind}, {use.kind}")
    if cutter.flutes < 1 or cutter.diameter_m <= 0.0:
        raise ValueError("a cutter needs a diameter and at least one flute")
    if min(use.depth_m, use.feed_m_s, use.spindle_rev_s) <= 0.0:
        raise ValueError("depth, feed and spindle speed must be above zero")
    if use.width_m is not None and use.width_m <= 0.0:
        raise ValueError("the width of cut must be above zero")


def cutter_cases(load: CutterLoad) -> tuple[CutterCase, ...]:
    """What a hold must survive: with the pull upward and without; never with a downward force.

    Lateral in every direction and torque both ways: held loads are a convex set, so everything
    weaker lies between these.
    """
    still = CutterCase(load.lateral_n, 0.0, load.torque_nm)
    if load.up_n <= 0.0:
        return (still,)
    return (CutterCase(load.lateral_n, load.up_n, load.torque_nm), still)
