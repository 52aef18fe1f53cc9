"""A drill, or any cutter sent straight down: torque, thrust, and the grab when it comes through."""

from __future__ import annotations

import math

import numpy as np

from kiosk.hold.cutter import (
    LEAST_CHIP_M,
    Cutter,
    CutterLoad,
    Engagement,
    design_k_ref,
    specific_force,
)
from kiosk.hold.materials import Kienzle, Material

# Share of one tooth's force that run-out leaves unbalanced in a plunge: common practice, no source.
RUN_OUT_SHARE = 0.3


def drilling_torque(k_pa: float, feed_per_turn_m: float, diameter_m: float) -> float:
    """M = k_c f_n D^2 / 8, N m (drilling formula, from memory: handbooks of machining)."""
    return k_pa * feed_per_turn_m * diameter_m**2 / 8.0


def drilling_thrust(
    k_pa: float, feed_per_turn_m: float, diameter_m: float, half_point_rad: float
) -> float:
    """F_f = 0.5 k_c (D / 2) f_n sin(kappa), N, two lips, without the chisel edge's share."""
    return 0.5 * k_pa * (diameter_m / 2.0) * feed_per_turn_m * math.sin(half_point_rad)


def break_through_pull(torque_nm: float, diameter_m: float, helix_rad: float) -> float:
    """Bound of the grab when the point comes through: (2 M / D) tan(helix), N upward."""
    return 2.0 * torque_nm / diameter_m * math.tan(helix_rad)


def boring(cutter: Cutter, material: Material, row: Kienzle, use: Engagement) -> CutterLoad:
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
    pulls = use.through and cutter.kind not in ("downcut", "straight")
    up = break_through_pull(torque, cutter.diameter_m, cutter.helix_rad) if pulls else 0.0
    one_lip = 2.0 * torque / (cutter.diameter_m / 2.0) / lips  # M = lips x F x D / 4
    lateral = one_lip * (1.0 if lips == 1 else RUN_OUT_SHARE)
    power = torque * 2.0 * math.pi * use.spindle_rev_s
    return CutterLoad(lateral, up, thrust, torque, 0.0, power)
