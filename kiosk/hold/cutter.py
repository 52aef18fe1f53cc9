"""A cutter, how it is in the work, and what it does to the part there.

Knows no cups, no program and no teeth: what the teeth do is in ``milling`` and ``drilling``.
Sources: O. Kienzle, VDI-Z 94 (1952) 299 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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


def kienzle_of(material: Material, grain: Grain) -> Kienzle:
    """Along the grain only when that is known; a contour meets every direction."""
    return material.kc_along if grain == "along" else material.kc_across


def cutter_cases(load: CutterLoad) -> tuple[CutterCase, ...]:
    """What a hold must survive: with the pull upward and without; never with a downward force.

    Lateral in every direction and torque both ways: held loads are a convex set, so everything
    weaker lies between these.
    """
    still = CutterCase(load.lateral_n, 0.0, load.torque_nm)
    if load.up_n <= 0.0:
        return (still,)
    return (CutterCase(load.lateral_n, load.up_n, load.torque_nm), still)
