"""What is counted on from the gauges of a site: reading, drop, error, and what is assumed."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.hold.verdict import Levels, levels
from kiosk.job.air import Air
from kiosk.job.plan import Allowance
from kiosk.limits import CEILING_SHARE
from kiosk.site import GaugeSite, Site
from kiosk.units import air_pressure_kpa

ASSUMED_ERROR_KPA = 1.0  # of a gauge that the site file does not name
ASSUMED_DROP_KPA = 2.0  # from the table to the worst cup, when nothing tells it


@dataclass(frozen=True, slots=True)
class Supply:
    """Vacuum supply of a site with one job's cups up; ``air`` is None without a pump."""

    site: Site
    air: Air | None

    @property
    def allowances(self) -> tuple[Allowance, ...]:
        """One row for each gauge, table gauges first; the first is the deciding one."""
        ordered = sorted(self.site.gauges, key=lambda gauge: gauge.role != "table")
        return tuple(self._allowance(gauge) for gauge in ordered)

    def _allowance(self, gauge: GaugeSite) -> Allowance:
        return Allowance(gauge.name, self._drop_kpa(gauge.role), gauge.error_kpa)

    @property
    def deciding(self) -> Allowance:
        """The gauge whose levels are shown; an assumed table gauge where there is none."""
        rows = self.allowances
        return rows[0] if rows else Allowance("", self._drop_kpa("table"), ASSUMED_ERROR_KPA)

    def _drop_kpa(self, role: str) -> float:
        """From the air model, but never less than the shop has stated.

        Pipes end at the table: without the passage from there to the cups that drop is assumed.
        """
        stated = self.site.limits.drop_kpa
        if self.air is None or not self.air.piped:
            return ASSUMED_DROP_KPA if stated is None else stated
        assumed_kpa = ASSUMED_DROP_KPA if self.drop_assumed else 0.0
        return max(self.air.drop_kpa(role) + assumed_kpa, stated or 0.0)

    def levels(self, model_kpa: float | None) -> Levels | None:
        """What the deciding gauge must show for a minimum; None when no vacuum holds."""
        if model_kpa is None:
            return None
        limits, taken = self.site.limits, self.deciding
        return levels(
            model_kpa * 1e3,
            limits.floor_kpa * 1e3,
            taken.drop_kpa * 1e3,
            taken.error_kpa * 1e3,
            limits.start_ratio,
        )

    @property
    def most_kpa(self) -> float:
        """What the deciding gauge can reach: expected, or without a pump a share of the air."""
        predicted = self.predicted_kpa
        return CEILING_SHARE * self.air_kpa if predicted is None else predicted

    @property
    def drop_assumed(self) -> bool:
        """True when the site file has no stated drop, and no pipes or no passage to the cups."""
        modelled = self.air is not None and self.air.piped and self.air.branched
        return self.site.limits.drop_kpa is None and not modelled

    @property
    def air_kpa(self) -> float:
        """Local air pressure."""
        return air_pressure_kpa(self.site.altitude_m)

    @property
    def predicted_kpa(self) -> float | None:
        """What the deciding gauge should read, never above local air; None without a pump."""
        if self.air is None:
            return None
        roles = {gauge.name: gauge.role for gauge in self.site.gauges}
        role = roles.get(self.deciding.gauge, "table")
        return min(self.air.reading_kpa(role), self.air_kpa)
