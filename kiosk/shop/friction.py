"""Static friction from a pull or a tilt, and the value that a job may count on.

Pull on held cups: mu = F / (p A n + W).  Pull on an unheld piece: mu = F / W.  Tilt:
mu = tan(angle).  Sources: statics; ASTM G115 and ISO 8295 are the general guides (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from kiosk.hold.materials import Value
from kiosk.shop.repeats import Repeats
from kiosk.units import GRAVITY_M_S2

METHODS = ("pull", "weight", "tilt")
# Sliding friction is 75 % of static, for cargo that shakes: CTU Code Annex 7 App. 2.  A cutter
# shakes the part; the shipped table takes the same share of its own static values.
SHAKING_SHARE = 0.75
# Rubber grips less, for its load, when pressed harder (mu ~ p^-1/9 ... -1/3: Schallamach 1952,
# from memory); from a light test to a held part: judgement.
LIGHT_SHARE = 0.8
LEAST, GREATEST = 0.02, 2.0  # what a job file may say of friction too
LIGHT_KPA = 20.0  # pressed less than this per sealed area is a light test: judgement


@dataclass(frozen=True, slots=True)
class FrictionTest:
    """One measurement, as read.  mm, kPa, kg, N, degrees.

    ``pulls_n``: greatest reading of each pull before the piece moved; ``angles_deg``: of each
    tilt.  ``stated``: a lower value that the shop wants counted; None takes the worked-out one.
    """

    material: str
    underside: str
    surface: str
    contact: str
    lip: str | None  # None when a stop carries the friction
    method: str
    date: date
    person: str
    conditions: str
    pulls_n: tuple[float, ...] = ()
    angles_deg: tuple[float, ...] = ()
    mass_kg: float = 0.0
    cups: int = 0
    seal_diameter_mm: float = 0.0
    vacuum_kpa: float = 0.0
    gauge_error_kpa: float = 0.0
    stated: float | None = None

    def pressing_n(self, gauge_off_kpa: float = 0.0) -> float:
        """What presses the piece down, with the gauge off by so much."""
        area_m2 = self.cups * math.pi * (self.seal_diameter_mm / 2e3) ** 2
        held_n = 1e3 * (self.vacuum_kpa + gauge_off_kpa) * area_m2 if self.method == "pull" else 0.0
        return held_n + self.mass_kg * GRAVITY_M_S2

    @property
    def repeats(self) -> Repeats:
        """The friction of each repeat."""
        if self.method == "tilt":
            return Repeats(tuple(math.tan(math.radians(angle)) for angle in self.angles_deg))
        return Repeats(tuple(pull / self.pressing_n() for pull in self.pulls_n))

    @property
    def light(self) -> bool:
        """True when a rubber lip was pressed less in the test than a held part presses it."""
        held = self.method == "pull" and self.vacuum_kpa >= LIGHT_KPA
        return self.contact == "lip" and not held

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """What is taken off the low end of the repeats, each with its reason."""
        found = [("a cutter shakes the part", SHAKING_SHARE)]
        if self.light:
            found.append(("a held lip is pressed harder than in this test", LIGHT_SHARE))
        if self.method == "pull" and self.gauge_error_kpa > 0.0:
            share = self.pressing_n() / self.pressing_n(self.gauge_error_kpa)
            found.append(("the gauge may show too little", share))
        return tuple(found)

    @property
    def allowed(self) -> float:
        """The most that the repeats allow to be counted on."""
        return self.repeats.low_end * math.prod(share for _, share in self.shares)

    @property
    def used(self) -> float:
        """What is counted on."""
        return self.allowed if self.stated is None else min(self.stated, self.allowed)

    def trouble(self) -> str | None:
        """Why the repeats give no value; None when they do."""
        if max(self.repeats.values, default=0.0) > GREATEST:
            return f"a friction above {GREATEST:g} is not believed: check the readings"
        found = self.repeats.trouble()
        if found is None and self.allowed < LEAST:
            return "no friction is left that could be counted on: measure again"
        return found

    def value(self) -> Value:
        """As the table has it: the low value decides.  Only without ``trouble``."""
        found, used = self.repeats, self.used
        source = (
            f"measured here {self.date.isoformat()} by {self.person}: {self.method}, "
            f"{len(found.values)} repeats, spread {100 * found.spread:.0f} %"
        )
        return Value(used, max(found.mean, used), max(*found.values, used), "A", source)

    def fits(self, material: str, underside: str, surface: str, lip: str, contact: str) -> bool:
        """True when it was measured on what a job has."""
        same = (self.material, self.underside, self.surface, self.contact) == (
            material, underside, surface, contact,
        )  # fmt: skip
        return same and (self.lip is None or self.lip == lip)
