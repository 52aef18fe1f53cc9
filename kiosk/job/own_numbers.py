"""The material of a job with the shop's own numbers in it, and what to say about them."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.hold.materials import Material
from kiosk.job.findings import finding
from kiosk.job.job_file import Job
from kiosk.job.plan import Finding
from kiosk.shop import Measured, Shop, Surroundings, with_shop_values
from kiosk.shop.use import is_ahead, is_old
from kiosk.site import Site


@dataclass(frozen=True, slots=True)
class OwnNumbers:
    """``material`` with ``measured`` over the numbers of the table."""

    shop: Shop
    material: Material
    measured: tuple[Measured, ...]

    def findings(self) -> tuple[Finding, ...]:
        """Every number of the shop's that is used, and which of them are old."""
        found = []
        if self.material.key in self.shop.materials.own:
            text = f"{self.material.name} is from the shop's own materials file."
            found.append(finding("own_material", text))
        for row in self.measured:
            found.append(finding("measured_here", _told(row)))
            found.extend(self._age(row))
        return tuple(found)

    def _age(self, row: Measured) -> list[Finding]:
        what = row.what.capitalize()
        if is_ahead(self.shop, row.date):
            text = f"{what} is dated {row.date}, after today. Check the date and the clock."
            return [finding("measured_ahead", text)]
        if is_old(self.shop, row.date):
            text = (
                f"{what} was measured on {row.date}, more than {self.shop.renew_months} months "
                "ago. It is still used; measure it again."
            )
            return [finding("measured_long_ago", text)]
        return []


def _told(row: Measured) -> str:
    unit = f" {row.unit}" if row.unit else ""
    digits = ".3f" if not row.unit else ".1f"
    table = "" if row.table is None else f" instead of the table's {row.table:{digits}}"
    return (
        f"{row.what.capitalize()} {row.used:{digits}}{unit}{table}: measured here on {row.date} "
        f"by {row.person}, {row.repeats} repeats."
    )


def own_numbers(job: Job, site: Site, shop: Shop) -> OwnNumbers:
    """The job's material, with what the shop has measured on it.

    A friction that the job file states goes before everything.
    """
    surface, cup = job.surface or "dusty", site.cup
    around = None
    if job.friction is None:
        around = Surroundings(job.underside, surface, cup.lip, cup.contact)
    material, measured = with_shop_values(shop, shop.materials.by_key[job.material], around)
    if job.program is None:
        measured = tuple(row for row in measured if row.what == "friction")
    return OwnNumbers(shop, material, measured)
