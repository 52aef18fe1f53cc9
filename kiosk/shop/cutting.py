"""Cutting force from the spindle's power: k_c = P / MRR at the mean chip, then at 0.1 mm.

P = k_c x depth x width x feed is an identity when k_c is the mean over the arc.  Sources:
Tschaetsch ch. 10 and Altintas ch. 2 (both from memory), as in ``kiosk.hold.milling``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from kiosk.hold.cutter import LEAST_CHIP_M, WEAR, specific_force
from kiosk.hold.materials import Kienzle, Material, Value
from kiosk.hold.milling import arc_of, mean_chip
from kiosk.shop.repeats import Repeats

GRAINS = ("along", "across")
# The law holds from about 0.05 mm (from memory: Tschaetsch ch. 2); a rubbing edge is no cut.
THINNEST_MM, THICKEST_MM = 0.02, 2.0
LEAST_SHARE = 0.2  # of the idle power that the cut must add: common practice, no source
ALONG_WIDTH = 0.25  # of the diameter: only so narrow a side cut moves its teeth along the grain
_ARC_STEPS = 2000


@dataclass(frozen=True, slots=True)
class CutTest:
    """One measurement, as read.  mm, mm/min, 1/min, W.

    ``powers_w``: in each cut; ``idle_w``: turning in air, one or one for each cut.
    ``efficiency``: power at the cutter over power read.  ``stated``: a higher value that the
    shop wants counted, N/mm2 at a chip of 0.1 mm; None takes the worked-out one.
    """

    material: str
    grain: str | None  # None for a material that is the same all ways
    edge: str
    date: date
    person: str
    conditions: str
    diameter_mm: float
    flutes: int
    depth_mm: float
    width_mm: float
    feed_mm_min: float
    spindle_rpm: float
    powers_w: tuple[float, ...]
    idle_w: tuple[float, ...]
    efficiency: float = 1.0
    stated: float | None = None

    @property
    def feed_per_tooth_mm(self) -> float:
        return self.feed_mm_min / (self.spindle_rpm * self.flutes)

    @property
    def _arc_rad(self) -> float:
        return arc_of(self.diameter_mm, self.width_mm)

    @property
    def chip_mm(self) -> float:
        """Mean chip thickness over the arc."""
        return mean_chip(self.feed_per_tooth_mm, self._arc_rad)

    @property
    def removal_mm3_s(self) -> float:
        return self.depth_mm * self.width_mm * self.feed_mm_min / 60.0

    @property
    def cutting_w(self) -> tuple[float, ...]:
        """What each cut added at the cutter."""
        return tuple((power - idle) * self.efficiency for power, idle in self._pairs)

    @property
    def _pairs(self) -> tuple[tuple[float, float], ...]:
        """Power read in each cut with the idle power that goes with it."""
        idle = self.idle_w if len(self.idle_w) > 1 else self.idle_w * len(self.powers_w)
        return tuple(zip(self.powers_w, idle, strict=True))

    @property
    def repeats(self) -> Repeats:
        """k_c of each cut at its mean chip, N/mm2 (1 W over 1 mm3/s is 1000 N/mm2)."""
        return Repeats(tuple(1e3 * power / self.removal_mm3_s for power in self.cutting_w))

    def at_reference(self, k_mpa: float, row: Kienzle) -> float:
        """A k_c of this cut at a chip of 0.1 mm, by the exponents of ``row``.

        The mean of h k_c(h) over the arc counts, not k_c at the mean chip, which is up to 4 %
        less: what the program works out later for this very cut is then the power that was read.
        """
        angle = (np.arange(_ARC_STEPS) + 0.5) * (self._arc_rad / _ARC_STEPS)
        chip_m = np.maximum(self.feed_per_tooth_mm / 1e3 * np.sin(angle), LEAST_CHIP_M)
        mean = float((chip_m * specific_force(row, 1.0, chip_m)).mean())
        return k_mpa * (self.chip_mm / 1e3) / mean

    def allowed(self, row: Kienzle) -> float:
        """The least that the repeats allow to be counted on, N/mm2 at 0.1 mm, this edge."""
        return self.at_reference(self.repeats.high_end, row)

    def used(self, row: Kienzle) -> float:
        """What is counted on."""
        return max(self.stated or 0.0, self.allowed(row))

    def trouble(self) -> str | None:
        """Why these cuts give no value; None when they do."""
        least = min(power / idle - 1.0 for power, idle in self._pairs)
        if least < LEAST_SHARE:
            return (
                f"a cut adds only {100 * max(least, 0.0):.0f} % to the idle power, less than "
                f"{100 * LEAST_SHARE:.0f} %: cut deeper or feed faster, so that it shows"
            )
        if not THINNEST_MM <= self.chip_mm <= THICKEST_MM:
            return (
                f"the mean chip is {self.chip_mm:.3f} mm, outside {THINNEST_MM:g} to "
                f"{THICKEST_MM:g} mm: change the feed"
            )
        return self.repeats.trouble()

    def kienzle(self, row: Kienzle) -> Kienzle:
        """``row`` with this shop's k_ref; its exponents stay.  Only without ``trouble``.

        The table's numbers are for a fresh edge.  The greatest stays as measured, whatever edge
        cut; the mean is brought to a fresh edge, because a job's own edge is put on it again.
        """
        found, used, wear = self.repeats, self.used(row), WEAR[self.edge]
        low, mean = (
            1e6 * self.at_reference(k_mpa, row) / wear for k_mpa in (min(found.values), found.mean)
        )
        source = (
            f"measured here {self.date.isoformat()} by {self.person}: spindle power, {self.edge} "
            f"edge, {len(found.values)} repeats, spread {100 * found.spread:.0f} %"
        )
        return Kienzle(Value(low, mean, 1e6 * used, "A", source), row.m_thin, row.m_thick)

    def row_of(self, material: Material) -> Kienzle:
        """The table's row that this measurement stands over."""
        return material.kc_along if self.grain == "along" else material.kc_across


def grained(material: Material) -> bool:
    """True when the material cuts differently along and across its grain."""
    return material.kc_along != material.kc_across


def check_geometry(test: CutTest) -> tuple[tuple[str, str], ...]:
    """What cannot be about the cut itself: keys and words."""
    found = []
    if test.width_mm > test.diameter_mm:
        found.append(("width_mm", "is wider than the cutter: write its diameter for a slot"))
    if test.grain == "along" and test.width_mm > ALONG_WIDTH * test.diameter_mm:
        found.append((
            "grain",
            f'is "along", but only a side cut of at most {ALONG_WIDTH:g} of the diameter moves '
            'its teeth along the grain: write "across"',
        ))  # fmt: skip
    if len(test.idle_w) not in (1, len(test.powers_w)):
        found.append(("idle_w", "needs one number, or one for each of powers_w"))
    if not math.isfinite(test.chip_mm) or test.chip_mm <= 0.0:
        found.append(("feed_mm_min", "gives no chip: check feed, speed and flutes"))
    return tuple(found)
