"""The minimum of a whole job: of the blank, of every kept piece as if it were already free, and of
what hangs together without the rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from kiosk.hold.materials import Material, friction
from kiosk.hold.minimum import Cups, Minimum, Weight, job_minimum
from kiosk.job.case_rows import CaseRows, cases_of, joined
from kiosk.job.cases import load_rows, rows_of
from kiosk.job.freed import Part
from kiosk.job.job_file import Job
from kiosk.job.pieces import Piece
from kiosk.job.plan import Governed
from kiosk.job.pushes import Push
from kiosk.job.reaches import Reaches
from kiosk.job.remains import Remains, remains_of, together
from kiosk.job.seating import Place, Seating
from kiosk.mistakes import BadInput
from kiosk.site import Site
from kiosk.units import GRAVITY_M_S2

MOST_RUNNERS = 9  # with the one that governs, ten lines of the program


@dataclass(frozen=True, slots=True)
class Body:
    """Something that must hold: the whole blank (``part`` None) or a part of it."""

    part: Part | None
    shape: Polygon
    places: tuple[Place, ...]
    rows: CaseRows
    minimum: Minimum
    weights: tuple[Weight, Weight]  # the least that is left of it, and uncut
    safety_factor: float

    @property
    def model_kpa(self) -> float | None:
        """The minimum before the floor; None when no vacuum holds it."""
        found = self.minimum.pressure_pa
        return None if found is None else found / 1e3

    def governed(self) -> Governed | None:
        """What sets this minimum; None when there is no load or no minimum."""
        found = self.minimum
        if found.case is None or found.mode is None or found.pressure_pa is None:
            return None
        return self._told(found.case, found.mode, found.pressure_pa, found.direction)

    def runners_up(self) -> tuple[Governed, ...]:
        return tuple(
            self._told(runner.case, runner.mode, runner.pressure_pa, runner.direction)
            for runner in self.minimum.runners_up
        )

    def _told(
        self, case: int, mode: str, pressure_pa: float, direction: tuple[float, float] | None
    ) -> Governed:
        row = self.rows[case]
        x, y, z = row.force_n
        if row.any_n > 0.0:
            # Without a known direction the size is still told, along x.
            heading = direction or (1.0, 0.0)
            x, y = row.any_n * heading[0], row.any_n * heading[1]
        return Governed(
            mode=mode,
            at_mm=row.at_mm,
            tip_mm=row.tip_mm,
            force_n=(x, y, z),
            torque_nm=row.torque_nm,
            factor=self.safety_factor,
            tool=row.tool,
            line=row.line,
            minimum_kpa=pressure_pa / 1e3,
        )


def friction_of(job: Job, site: Site, material: Material) -> float:
    """The low value decides.  Raises ``BadInput`` when there is none for this pair."""
    if job.friction is not None:
        return job.friction
    cup, surface = site.cup, job.surface or "dusty"
    try:
        return friction(material, job.underside, surface, cup.lip, cup.contact).low
    except ValueError:
        text = (
            f"no friction is known for a {cup.lip} lip on a {surface} {job.underside} underside: "
            "clean it, or measure and write friction = ... in [hold]"
        )
        raise BadInput([job.mistake(text, "part", "surface")]) from None


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything that the minimum is worked out from."""

    job: Job
    material: Material
    friction: float
    blank: Polygon
    pieces: tuple[Piece, ...]
    parts: tuple[Part, ...]
    remains: tuple[Remains, ...]  # of each piece
    seating: Seating
    pushes: tuple[Push, ...]

    def reaches(self) -> Reaches:
        """Which parts each cut pushes."""
        return Reaches(self.pushes, [piece.shape for piece in self.pieces])

    def bodies(self, reaches: Reaches, runners: int = MOST_RUNNERS) -> tuple[Body, ...]:
        """The blank on all its cups, then each part on its own."""
        shapes = [piece.shape for piece in self.pieces]
        return tuple(
            self._solved(
                part,
                joined(rows_of(reaches, part), load_rows(self.job.loads, shapes, part)),
                runners,
            )
            for part in (None, *self.parts)
        )

    def again(self, bodies: Sequence[Body]) -> tuple[Body, ...]:
        """The same bodies under the same loads, on the cups and the friction of this set-up.

        Without runners-up.
        """
        return tuple(self._solved(body.part, body.rows, 0) for body in bodies)

    def _solved(self, part: Part | None, rows: CaseRows, runners: int) -> Body:
        places, factor = self.seating.raised(part), self.job.safety_factor
        shape = self.blank if part is None else part.shape
        cups, cases = self.cups(places), cases_of(rows, factor)
        weights = left, uncut = self.weights(part)
        minimum = job_minimum(cups, cases, left, runners, uncut)
        return Body(part, shape, tuple(places), rows, minimum, weights, factor)

    def cups(self, places: Sequence[Place]) -> Cups:
        """The solver's form of raised cups."""
        return Cups(
            x_m=np.array([place.x_mm for place in places]) / 1e3,
            y_m=np.array([place.y_mm for place in places]) / 1e3,
            seal_radius_m=np.array([place.seal_radius_mm for place in places]) / 1e3,
            friction=self.friction,
        )

    def weights(self, part: Part | None) -> tuple[Weight, Weight]:
        """What the program leaves of its kept pieces, and uncut: the least and the most it weighs.

        By the mass stated for the blank, else by the low density.
        """
        shape = self.blank if part is None else part.shape
        whole = remains_of(shape, self.job.thickness_mm, None)
        left = [
            remains
            for index, (piece, remains) in enumerate(zip(self.pieces, self.remains, strict=True))
            if piece.kept and (part is None or index in part.pieces)
        ]
        return self._weight(together(left) or replace(whole, volume_mm3=0.0)), self._weight(whole)

    def _weight(self, remains: Remains) -> Weight:
        if self.job.mass_kg is not None:
            kg_mm3 = self.job.mass_kg / (self.blank.area * self.job.thickness_mm)
        else:
            kg_mm3 = self.material.density_kg_m3.low / 1e9
        force_n = kg_mm3 * remains.volume_mm3 * GRAVITY_M_S2
        return Weight(force_n, remains.x_mm / 1e3, remains.y_mm / 1e3)


def worst_of(bodies: Sequence[Body]) -> Body:
    """The body that sets the job's minimum; one that cannot hold at all comes first."""
    return max(bodies, key=lambda body: math.inf if body.model_kpa is None else body.model_kpa)


def runners_of(bodies: Sequence[Body]) -> tuple[Governed, ...]:
    """The lines that need most after the governing one, on whichever body each needs most."""
    first = worst_of(bodies).governed()
    most: dict[tuple[object, ...], Governed] = {}
    for body in bodies:
        for row in (body.governed(), *body.runners_up()):
            if row is None or (first is not None and _place(row) == _place(first)):
                continue
            known = most.get(_place(row))
            if known is None or row.minimum_kpa > known.minimum_kpa:
                most[_place(row)] = row
    ordered = sorted(most.values(), key=lambda row: -row.minimum_kpa)
    return tuple(ordered[:MOST_RUNNERS])


def _place(row: Governed) -> tuple[object, ...]:
    """What is one line of the program, or one stated load."""
    if row.line is not None:
        return row.line, row.tool
    return row.at_mm, row.force_n[2], row.torque_nm


def floored(governed: Governed | None, floor_kpa: float) -> Governed | None:
    """The same load told under the mode ``floor``, when the floor sets the minimum."""
    if governed is None or governed.minimum_kpa >= floor_kpa:
        return governed
    return replace(governed, mode="floor", minimum_kpa=floor_kpa)
