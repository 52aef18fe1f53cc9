"""Findings of one plan, in the order a person should read them: what refuses, warns, is noted."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import Point as ShapelyPoint

from kiosk.hold.flex import MOST_M
from kiosk.job.beside import beside_findings
from kiosk.job.cuts import only_tool
from kiosk.job.edges import place_words
from kiosk.job.findings import SEVERITIES, finding
from kiosk.job.found import Found
from kiosk.job.frames import Frame
from kiosk.job.holding_remarks import HoldingRemarks
from kiosk.job.job_file import Job
from kiosk.job.outline import Blank
from kiosk.job.own_numbers import OwnNumbers
from kiosk.job.pins import fixture_findings, pin_findings
from kiosk.job.plan import Finding, Flex
from kiosk.job.program import Program
from kiosk.job.program_remarks import program_findings
from kiosk.job.supply import ASSUMED_DROP_KPA
from kiosk.job.zero import doubtful_zero
from kiosk.site import Site

_CURE_SEATS = 2.0  # a seat further off than this many seat diameters would not help
_ORDER = ("refuse", "warning", "note")


@dataclass(frozen=True, slots=True)
class Remarks:
    """Everything that is remarked on."""

    job: Job
    site: Site
    blank: Blank
    program: Program | None
    frame: Frame
    found: Found
    ceiling_kpa: float
    own: OwnNumbers

    def all(self) -> tuple[Finding, ...]:
        astray = doubtful_zero(self.job, self.site, self.found.motion)
        holding = HoldingRemarks(
            self.job, self.site, self.frame, self.found, self.ceiling_kpa, self.own, bool(astray)
        )
        found = [
            *astray,
            *holding.all(),
            *self._cutting(),
            *self._bending(),
            *self._fixtures(),
            *self._assumed(),
        ]
        return tuple(sorted(found, key=lambda f: _ORDER.index(SEVERITIES[f.code])))

    # -- cutting ---------------------------------------------------------------------------

    def _cutting(self) -> list[Finding]:
        return [
            *self._offcuts(),
            *self._outside(),
            *beside_findings(self.job, self.blank, self.found.motion),
            *self._below(),
            *self._rapids(),
            *self._senses(),
            *self._turning(),
            *program_findings(self.program),
            *self._loads(),
        ]

    def _offcuts(self) -> list[Finding]:
        loose = [piece for piece in self.found.pieces if not piece.kept]
        if not loose:
            return []
        first = min(loose, key=lambda piece: piece.freed_line or 0)
        x, y = self.frame.point_to_grid(*first.centre)
        count = "An offcut comes" if len(loose) == 1 else f"{len(loose)} offcuts come"
        lead = "" if len(loose) == 1 else "the first "
        return [
            finding(
                "loose_offcut",
                f"{count} loose, {lead}at line {first.freed_line} near x {x:.0f}, y {y:.0f} mm. "
                "Nothing holds it: stop it from flying, or leave tabs.",
            )
        ]

    def _outside(self) -> list[Finding]:
        """Cuts that touch no material at all, as with a wrong zero: the first of them."""
        line, away_mm = self.found.motion.stray(self.blank.shape, self.job.thickness_mm)
        if line is None:
            return []
        return [
            finding(
                "outside_blank",
                f"Line {line} cuts {away_mm:.0f} mm outside the blank. "
                "Check the program's zero, its units (G20, G21) and the placement.",
            )
        ]

    def _below(self) -> list[Finding]:
        lift = self.site.cup.lift_mm
        deep = [c for c in self.found.motion.cuts if c.lowest_mm < -lift - 1e-6]
        if not deep:
            return []
        return [
            finding(
                "cut_into_table",
                f"Line {deep[0].line} goes {-deep[0].lowest_mm:.1f} mm below the part, but the "
                f"cups lift it only {lift:.1f} mm. Check z_zero and the depth.",
            )
        ]

    def _rapids(self) -> list[Finding]:
        if not self.found.motion.crashing:
            return []
        line = self.found.motion.crashing[0].line
        return [
            finding(
                "rapid_in_material",
                f"Line {line} moves at rapid rate through material. Check the retract height.",
            )
        ]

    def _senses(self) -> list[Finding]:
        """Side cuts in the other sense than declared; their push is taken in every direction."""
        astray = [push.cut.line for push in self.found.motion.pushes if push.astray]
        if not astray or self.job.program is None:
            return []
        return [
            finding(
                "milling_not_as_declared",
                f"Line {astray[0]} does not cut in the sense that the job declares "
                f"({self.job.program.milling}). Check the spindle's turning and the side.",
            )
        ]

    def _turning(self) -> list[Finding]:
        """Cuts with the spindle turning counter-clockwise: a right-hand cutter would rub."""
        found = [push.cut.line for push in self.found.motion.pushes if push.cut.reversed_spindle]
        if not found:
            return []
        return [
            finding(
                "spindle_reversed",
                f"Line {found[0]} cuts with the spindle turning counter-clockwise, after M4. Only "
                "a left-hand cutter cuts that way: write M3, or check the cutter.",
            )
        ]

    def _loads(self) -> list[Finding]:
        found = []
        for load in self.job.loads:
            x, y, _ = load.at_mm
            away = self.blank.shape.distance(ShapelyPoint(x, y))
            if away > 1.0:
                text = f"The load at x {x:g}, y {y:g} mm is {away:.0f} mm off the part. Check it."
                found.append(finding("load_off_part", text))
        return found

    # -- bending ---------------------------------------------------------------------------

    def _bending(self) -> list[Finding]:
        flex = self.found.flex
        if flex is None:
            return []
        if flex.deflection_mm <= flex.limit_mm:
            return []
        x, y = self.frame.point_to_grid(*flex.at_mm)
        gives = f"{flex.deflection_mm:.2f} mm"
        if flex.deflection_mm >= 1e3 * MOST_M:
            gives = f"{MOST_M:.0f} m or more"
        return [
            finding(
                "flex_over_limit",
                f"The part gives {gives} under the cutter at x {x:.0f}, "
                f"y {y:.0f} mm, more than {flex.limit_mm:.2f} mm. {self._cure(flex, x, y)}",
            )
        ]

    def _cure(self, flex: Flex, x_mm: float, y_mm: float) -> str:
        """What would stop the bending at a place of the grid."""
        if flex.cups:
            seats = "Seat" if len(flex.cups) == 1 else "Seats"
            return f"{seats} {' '.join(flex.cups)} up too would hold it there."
        spot = (x_mm, y_mm)
        near = min(
            (place for place in self.found.seating.places if place.piece is None),
            key=lambda p: math.dist((p.seat.x_mm, p.seat.y_mm), spot),
            default=None,
        )
        reach_mm = _CURE_SEATS * self.site.cup.seat_diameter_mm
        if near is None or math.dist((near.seat.x_mm, near.seat.y_mm), spot) > reach_mm:
            return "Cut lighter there, or ramp in instead of plunging."
        return (
            f"Seat {near.seat.name} near it is {near.why or 'not under the part'}: move the part."
        )

    # -- pins, lifters, boards -------------------------------------------------------------

    def _fixtures(self) -> list[Finding]:
        job, site, shape = self.job, self.site, self.blank.shape
        return [
            *pin_findings(job, site, shape, self.frame, self.found.motion.cuts),
            *fixture_findings(site, shape, self.frame),
        ]

    # -- what was assumed ------------------------------------------------------------------

    def _assumed(self) -> list[Finding]:
        site, supply = self.site, self.found.supply
        rows = (
            (not site.gauges, "assumed_gauge_error",
             f"No gauge in the site file: a gauge error of {supply.deciding.error_kpa:.1f} kPa "
             "is assumed."),
            (supply.drop_assumed, "assumed_drop",
             f"No drop_kpa, and no pipes with the cup's branch_length_m and branch_bore_mm: a drop "
             f"of {ASSUMED_DROP_KPA:.1f} kPa from the table to the cups is assumed."),
            (site.pump is None, "no_pump",
             f"No pump in the site file: at most {self.ceiling_kpa:.1f} kPa is counted on."),
            (site.pump is not None and not site.pipes, "no_air_model",
             "No pipes in the site file: no drop is worked out from them."),
            (self.found.flex is None and bool(self.found.seating.up), "no_flex",
             "Bending is not worked out: nothing pushes along z."),
            (self.blank.units_assumed, "drawing_units_assumed",
             f"The drawing names no unit: {self.blank.assumed_unit} are assumed."),
            (self.blank.gap is not None, "drawing_gaps_closed", _gap_words(self.blank)),
        )  # fmt: skip
        found = [finding(code, text) for stands, code, text in rows if stands]
        if self.program is not None and self.program.assumed:
            told = "; ".join(self.program.assumed)
            text = f"Not said in the program, taken so: {told}."
            found.append(finding("program_modes_assumed", text))
        only = None if self.program is None else only_tool(self.job, self.program)
        if only is not None:
            text = f"The program names no tool: tool {only.number} is meant."
            found.append(finding("tool_assumed", text))
        return found


def _gap_words(blank: Blank) -> str:
    if blank.gap is None:
        return ""
    where = place_words(blank.gap.at)
    return (
        f"Gaps in the drawing were closed, the largest {blank.gap.width_mm:.3f} mm at {where} of "
        "the drawing."
    )
