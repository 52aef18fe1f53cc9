"""The numbers that went into a minimum, each with its range, grade and source.

Which of them govern goes with how the part would be lost: friction only where it slides, the
cutting force only where a cut of the program pushes, none where the site's floor decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kiosk.hold.cutter import design_k_ref
from kiosk.hold.materials import Kienzle, Value
from kiosk.job.holding import friction_of
from kiosk.job.job_file import Job
from kiosk.job.own_numbers import OwnNumbers
from kiosk.job.plan import RADIAL, Governed, Input
from kiosk.job.pushes import Push
from kiosk.shop.cutting import grained
from kiosk.shop.use import Surroundings, table_friction
from kiosk.site import Site

FRICTION = "friction"
STATED = "stated in the job file"


@dataclass(frozen=True, slots=True)
class Inputs:
    """Asked for once, with what was found out about a job."""

    job: Job
    site: Site
    own: OwnNumbers
    pushes: Sequence[Push]
    governed: Governed | None

    def all(self) -> tuple[Input, ...]:
        """In the order of what sets a minimum most: friction, then the push, then the weight."""
        return (self._friction(), *self._cutting(), *self._load(), self._weight())

    def _governs(self, *modes: str) -> bool:
        return self.governed is not None and self.governed.mode in modes

    def _friction(self) -> Input:
        used = friction_of(self.job, self.site, self.own.material)
        value = _stated(used)
        if self.job.friction is None:
            cup, surface = self.site.cup, self.job.surface or "dusty"
            around = Surroundings(self.job.underside, surface, cup.lip, cup.contact)
            value = table_friction(self.own.material, around) or value
        found = _input(FRICTION, used, value, self._governs("slip"))
        return replace(found, measured=self._measured(FRICTION))

    def _cutting(self) -> tuple[Input, ...]:
        """Of the cut that governs; of the first cut where a load row or nothing does."""
        push = self._push()
        if push is None:
            return ()
        governs = self._by_a_cut() and self._governs("slip", "lift")
        kr = self.own.material.kr
        edge = push.cut.tool.edge
        # Of wood the force across the grain is the greater one, and told to govern.
        forces = [
            self._force(name, row, edge, governs and number == 0)
            for number, (name, row) in enumerate(self._rows())
        ]
        return (*forces, _input(RADIAL, kr.high, kr, governs))

    def _rows(self) -> tuple[tuple[str, Kienzle], ...]:
        """The forces that are counted: both directions of wood when its grain is stated."""
        material = self.own.material
        if not grained(material):
            return (("cutting force", material.kc_across),)
        across = ("cutting force across the grain", material.kc_across)
        if self.job.grain_deg is None:
            return (across,)
        return across, ("cutting force along the grain", material.kc_along)

    def _force(self, name: str, row: Kienzle, edge: str, governs: bool) -> Input:
        """N/mm2 at a chip of 0.1 mm."""
        used = design_k_ref(row, edge) / 1e6
        found = _input(name, used, row.k_ref_pa.scaled(1e-6), governs)
        return replace(found, unit="N/mm2", measured=self._measured(name))

    def _push(self) -> Push | None:
        governed = self.governed
        if governed is None or governed.line is None:
            return next(iter(self.pushes), None)
        here = (push for push in self.pushes if push.cut.line == governed.line)
        return next(here, None)

    def _by_a_cut(self) -> bool:
        return self.governed is not None and self.governed.line is not None

    def _load(self) -> tuple[Input, ...]:
        """The row that governs, when one does."""
        governed = self.governed
        if governed is None or self._by_a_cut():
            return ()
        force_n = sum(part * part for part in governed.force_n) ** 0.5
        found = _input("load", force_n, _stated(force_n), self._governs("slip", "lift"))
        return (replace(found, unit="N"),)

    def _weight(self) -> Input:
        """Told, never as what governs: a part mostly weighs little beside what its cups pull."""
        if self.job.mass_kg is not None:
            mass_kg = self.job.mass_kg
            return replace(_input("mass", mass_kg, _stated(mass_kg), False), unit="kg")
        density = self.own.material.density_kg_m3
        return replace(_input("density", density.low, density, False), unit="kg/m3")

    def _measured(self, what: str) -> str | None:
        return next((r.date.isoformat() for r in self.own.measured if r.what == what), None)


def _stated(number: float) -> Value:
    """What a person wrote without a source has the grade of a judgement."""
    return Value(number, number, number, "C", STATED)


def _input(name: str, used: float, value: Value, governs: bool) -> Input:
    return Input(
        name, used, value.low, value.typical, value.high, "", value.grade, value.source, governs
    )
