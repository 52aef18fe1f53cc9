"""Makes the Plan of one job on one site: the whole way from files to a verdict.

``make_plan`` is what the guard's planner and ``holdpoint check`` both call.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from shapely import LinearRing

from kiosk.hold.materials import Material
from kiosk.job.air import air_of
from kiosk.job.bending import flex_of
from kiosk.job.cuts import ProgramFrame, cuts_of, facts_of, only_tool
from kiosk.job.drawn import paths_of
from kiosk.job.files import Progress, read_files, silent
from kiosk.job.found import Found, Motion
from kiosk.job.frames import Frame
from kiosk.job.holding import Setup, floored, friction_of, runners_of, worst_of
from kiosk.job.inputs import Inputs
from kiosk.job.job_file import Job
from kiosk.job.other_codes import other_codes
from kiosk.job.outline import Blank
from kiosk.job.own_numbers import OwnNumbers, own_numbers
from kiosk.job.pieces import parted
from kiosk.job.pins import pins_of
from kiosk.job.plan import (
    Finding,
    Governed,
    Plan,
    Point,
    ToolShown,
    digest_of,
)
from kiosk.job.program import Program
from kiosk.job.pushes import Pushing
from kiosk.job.remains import remains_of
from kiosk.job.remarks import Remarks
from kiosk.job.resolve import Worked
from kiosk.job.seating import seat_cups, seats_shown, zones_of
from kiosk.job.severity import needs_of
from kiosk.job.stock import Stock
from kiosk.job.supply import Supply
from kiosk.job.through import ThroughCuts, through_cut
from kiosk.job.uncollected import uncollected
from kiosk.limits import CEILING_SHARE
from kiosk.shop import Shop, load_shop
from kiosk.site import Site
from kiosk.units import air_pressure_kpa

_DRAWN_MM = 0.05
_CUTS_AT_ONCE = 2000  # between two words of progress


def make_plan(
    job_path: Path, site: Site, progress: Progress = silent, shop: Shop | None = None
) -> Plan:
    """The Plan of a job file on a site, with the shop's own numbers; none without ``shop``.

    As ``work_out``, which also gives what can be asked again.
    """
    return work_out(job_path, site, progress, shop)[0]


def work_out(
    job_path: Path, site: Site, progress: Progress = silent, shop: Shop | None = None
) -> tuple[Plan, Worked]:
    """The Plan, and the job as it was worked out, to ask again without reading it again.

    ``progress`` is told a share from 0 to 1 and what is being done.  Raises ``BadInput`` with
    every mistake found in the job, its drawing, its program or the materials file.
    """
    with uncollected():
        return _worked_out(job_path, site, progress, shop)


def _worked_out(
    job_path: Path, site: Site, progress: Progress, shop: Shop | None
) -> tuple[Plan, Worked]:
    progress(0.0, "reading the job")
    shop = load_shop(None, date.today()) if shop is None else shop
    job, blank, (program, program_bytes) = read_files(job_path, shop, progress, other_codes(site))
    contents = [job.file.content, blank.content or b"", program_bytes, site.digest.encode()]
    digest = digest_of([*contents, *shop.contents])
    own = own_numbers(job, site, shop)
    work = _Work(job, site, blank, program, own, digest)
    found = work.found(progress)
    return work.told(found), Worked(job, site, own, found.setup, found.bodies, found.supply)


@dataclass(frozen=True, slots=True)
class _Work:
    """One job on one site, step by step."""

    job: Job
    site: Site
    blank: Blank
    program: Program | None
    own: OwnNumbers
    digest: str

    @property
    def material(self) -> Material:
        """With the shop's own numbers over the table's."""
        return self.own.material

    @property
    def frame(self) -> Frame:
        return Frame(self.job.placement)

    @property
    def air_kpa(self) -> float:
        return air_pressure_kpa(self.site.altitude_m)

    def found(self, progress: Progress) -> Found:
        progress(0.2, "following the cuts")
        motion = self.motion(progress)
        progress(0.6, "choosing cups")
        blank = self.blank.shape
        found = parted(self.job, blank, motion.through)
        seating = seat_cups(self.job, self.site, blank, found.pieces, motion.through)
        progress(0.7, "working out the minimum")
        thick_mm = self.job.thickness_mm
        remains = [remains_of(piece.shape, thick_mm, motion.stock) for piece in found.pieces]
        setup = Setup(
            job=self.job,
            material=self.material,
            friction=friction_of(self.job, self.site, self.material),
            blank=blank,
            pieces=found.pieces,
            parts=found.parts,
            remains=tuple(remains),
            seating=seating,
            pushes=motion.pushes,
        )
        reaches = setup.reaches()
        bodies = setup.bodies(reaches)
        progress(0.85, "grading the path")
        needs = needs_of(setup, bodies, reaches)
        progress(0.9, "bending and air")
        air = air_of(self.job, self.site, self.material, blank, seating.raised())
        flex = flex_of(setup, reaches, motion.stock)
        progress(0.98, "writing the plan")
        supply = Supply(self.site, air)
        return Found(motion, found.pieces, seating, bodies, supply, flex, needs, setup)

    def motion(self, progress: Progress) -> Motion:
        if self.program is None or self.job.program is None:
            return Motion((), (), ThroughCuts(()), (), None)
        row = self.job.program
        cuts = tuple(cuts_of(self.job, self.program, ProgramFrame(self.job, row, self.frame)))
        thinnest = min((cut.tool.diameter_mm for cut in cuts), default=1.0)
        stock = Stock(self.blank.shape, self.job.thickness_mm, thinnest)
        pushing = Pushing(self.job, self.material)
        pushes, crashing = [], []
        for begin in range(0, len(cuts), _CUTS_AT_ONCE):
            progress(0.2 + 0.4 * begin / len(cuts), "following the cuts")
            some = cuts[begin : begin + _CUTS_AT_ONCE]
            for cut, bite in zip(some, stock.bites(some), strict=True):
                if bite is not None and cut.rapid:
                    crashing.append(cut)
                elif bite is not None:
                    pushes.append(pushing.push(cut, bite))
        through = [found for cut in cuts if (found := through_cut(cut, row.skin_mm)) is not None]
        return Motion(cuts, tuple(pushes), ThroughCuts(through), tuple(crashing), stock)

    def told(self, found: Found) -> Plan:
        job, site, supply = self.job, self.site, found.supply
        deciding = supply.deciding
        worst = worst_of(found.bodies)
        level = supply.levels(worst.model_kpa)
        ceiling = CEILING_SHARE * self.air_kpa
        governed = floored(worst.governed(), site.limits.floor_kpa)
        findings = Remarks(
            job, site, self.blank, self.program, self.frame, found, ceiling, self.own
        ).all()
        findings += self.own.findings()
        start = None if level is None else level.start_pa / 1e3
        holds = start is not None and start <= supply.most_kpa and not _refused(findings)
        seats = seats_shown(found.seating)
        row = job.program
        return Plan(
            format=1,
            digest=self.digest,
            site_digest=site.digest,
            job_id=job.id,
            title=job.title,
            revision=job.revision,
            job_file=job.file.path.name,
            material=self.material.name,
            thickness_mm=job.thickness_mm,
            surface=job.surface or "",
            verdict="holds" if holds else "does not hold",
            model_kpa=worst.model_kpa,
            minimum_kpa=None if level is None else level.minimum_pa / 1e3,
            required_kpa=None if level is None else level.required_pa / 1e3,
            start_kpa=start,
            predicted_kpa=supply.predicted_kpa,
            ceiling_kpa=ceiling,
            air_kpa=self.air_kpa,
            drop_kpa=deciding.drop_kpa,
            gauge_error_kpa=deciding.error_kpa,
            allowances=supply.allowances,
            governed_by=governed,
            runners_up=runners_of(found.bodies),
            load_cases=sum(len(body.rows) for body in found.bodies),
            seats=seats,
            zones=zones_of(seats),
            outline=self._loop(self.blank.shape.exterior),
            openings=tuple(self._loop(ring) for ring in self.blank.shape.interiors),
            keeps=tuple(self._loop(piece.shape.exterior) for piece in found.pieces if piece.kept),
            loose=tuple(self._loop(p.shape.exterior) for p in found.pieces if not p.kept),
            paths=paths_of(
                found.motion.cuts,
                row.skin_mm if row else 0.0,
                self.frame,
                found.shares(worst.model_kpa),
            ),
            pins=tuple((pin.x_mm, pin.y_mm) for pin in pins_of(job, site)),
            tools=self.tools(),
            program=None
            if self.program is None or row is None
            else facts_of(self.program, ProgramFrame(job, row, self.frame)),
            flex=found.flex,
            findings=findings,
            seat_diameter_mm=site.cup.seat_diameter_mm,
            outer_diameter_mm=site.cup.outer_diameter_mm,
            governed_grid_mm=self._spot(governed),
            governed_push=self._push(governed),
            inputs=Inputs(job, site, self.own, found.motion.pushes, governed).all(),
        )

    def tools(self) -> tuple[ToolShown, ...]:
        """Tools in order of use."""
        if self.program is None:
            return ()
        only = only_tool(self.job, self.program)
        rows = [self.job.tools[n] for n in self.program.tools] if only is None else [only]
        return tuple(ToolShown(tool.number, tool.kind, tool.diameter_mm) for tool in rows)

    def _loop(self, ring: LinearRing) -> tuple[Point, ...]:
        """A loop for the map, grid frame, with no more points than a screen can show."""
        points = ring.simplify(_DRAWN_MM).coords[:-1]
        return self.frame.loop_to_grid(tuple((float(x), float(y)) for x, y in points))

    def _spot(self, governed: Governed | None) -> Point | None:
        return None if governed is None else self.frame.point_to_grid(*governed.at_mm[:2])

    def _push(self, governed: Governed | None) -> Point | None:
        if governed is None or np.hypot(*governed.force_n[:2]) == 0.0:
            return None
        x, y = np.array(governed.force_n[:2]) / np.hypot(*governed.force_n[:2])
        return self.frame.direction_to_grid(float(x), float(y))


def _refused(findings: Sequence[Finding]) -> bool:
    return any(row.severity == "refuse" for row in findings)
