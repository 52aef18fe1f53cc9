"""Formulae of drilling: torque, thrust and the grab when the point comes through."""

from __future__ import annotations

import math


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
