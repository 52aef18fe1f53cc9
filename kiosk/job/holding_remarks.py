"""What is remarked on about cups and minima: what cannot hold, why, and what can help here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import MultiPoint

from kiosk.job.air import LIPS, PART, PIPES, SEATS
from kiosk.job.findings import finding
from kiosk.job.found import Found
from kiosk.job.frames import Frame
from kiosk.job.holding import Body
from kiosk.job.inputs import FRICTION, Inputs
from kiosk.job.job_file import Job
from kiosk.job.own_numbers import OwnNumbers
from kiosk.job.plan import Finding, Input, weakest
from kiosk.site import Site

_WHY_NO_VACUUM = {
    "no_cups": "no cup is under it",
    "no_friction": "its friction is zero",
    "suction_opens_a_seal": "cups of very different size tip it: use cups of one size",
}

_LOST_TO = {
    PART: "Air comes through the part ({}): fewer cups, closed faces, or a larger pump.",
    LIPS: "Air comes under the lips ({}): fewer cups, or a larger pump.",
    SEATS: "Air comes in at lowered seats ({}): plug them, or take a larger pump.",
    PIPES: "The pipes are too narrow or long ({}): wider or shorter ones.",
}


@dataclass(frozen=True, slots=True)
class HoldingRemarks:
    """``zero_doubtful``: the height of the program's zero is remarked on already."""

    job: Job
    site: Site
    frame: Frame
    found: Found
    ceiling_kpa: float
    own: OwnNumbers
    zero_doubtful: bool

    def all(self) -> list[Finding]:
        return [*self._cups(), *self._holding(), *self._single()]

    # -- cups ------------------------------------------------------------------------------

    def _cups(self) -> list[Finding]:
        found = [
            finding(
                "blocked_cup_asked",
                f"Seat {name} is asked for but cannot hold: {why}. Leave it out of cups_up.",
            )
            for name, why in self.found.seating.refused.items()
        ]
        if not self.found.seating.up:
            found.append(finding("no_cups", self._no_cups()))
        discs = [
            special.seat
            for special in self.site.specials
            if special.kind == "spacer_disc" and special.seat in self.found.seating.up
        ]
        if discs:
            names = ", ".join(str(name) for name in discs)
            found.append(finding("spacer_discs", f"Seats with a spacer disc: {names}."))
        return found

    def _no_cups(self) -> str:
        places = self.found.seating.places
        if not all(place.clear for place in places):
            return "No cup can go up under this part. Move the part or the cuts."
        seats = self.frame.to_part(np.array([[p.seat.x_mm, p.seat.y_mm] for p in places]))
        grid = MultiPoint(seats).convex_hull.buffer(self.site.cup.seat_diameter_mm / 2.0)
        if grid.intersects(self.found.bodies[0].shape):
            return "No seat is under this part. Move the part."
        x, y = self.job.placement.x_mm, self.job.placement.y_mm
        return (
            f"The part lies off the grid, at x {x:g}, y {y:g} mm. Check x_mm, y_mm and angle_deg "
            "in [placement], and the points of the outline."
        )

    # -- holding ---------------------------------------------------------------------------

    def start_kpa(self, body: Body) -> float | None:
        """The start level that this body alone would ask for."""
        found = self.found.supply.levels(body.model_kpa)
        return None if found is None else found.start_pa / 1e3

    def _holding(self) -> list[Finding]:
        if not self.found.seating.up:
            return []  # said already
        if not any(len(body.rows) for body in self.found.bodies):
            words = "Nothing in this job pushes the part. Check the program's zero and the depths."
            return [finding("no_load", words)]
        limit = self.found.supply.most_kpa
        found = []
        for body in self.found.bodies:
            start = self.start_kpa(body)
            if start is None:
                found.append(self._cannot(body))
            elif start > limit:
                found.append(self._too_much(body, start, limit))
        # When single pieces fail, they are the cause to tell; the blank fails with them.
        pieces = [row for row in found if row.code == "kept_piece_cannot_hold"]
        return pieces or found

    def _name(self, body: Body) -> str:
        if body.part is None:
            return "The blank"
        kept = next(p for i in body.part.pieces if (p := self.found.pieces[i]).kept)
        x, y = self.frame.point_to_grid(*kept.centre)
        cups = len(body.places)
        on = f"{cups} cup{'' if cups == 1 else 's'}" if cups else "no cup"
        what = "The piece at" if len(body.part.pieces) == 1 else "What hangs together round"
        return f"{what} x {x:.0f}, y {y:.0f} mm, free after line {body.part.line}, on {on}"

    def _cannot(self, body: Body) -> Finding:
        why = _WHY_NO_VACUUM.get(body.minimum.why, "the cut tips it off its cups")
        code = "cannot_hold" if body.part is None else "kept_piece_cannot_hold"
        return finding(code, f"{self._name(body)}: no vacuum holds it, {why}. {self._help(body)}")

    def _too_much(self, body: Body, start: float, limit: float) -> Finding:
        predicted = self.found.supply.predicted_kpa
        if body.part is not None:
            code = "kept_piece_cannot_hold"
        else:
            code = "start_above_air" if predicted is None else "start_above_pump"
        source = "is 80 % of the air here" if predicted is None else "the pump gives here"
        limit_words = f"above the {limit:.1f} kPa that {source}"
        if start > self.found.supply.air_kpa:
            limit_words = "more than the whole pressure of the air"
        return finding(
            code,
            f"{self._name(body)} needs {start:.1f} kPa to start, {limit_words}. "
            f"{self._help_both(body, start)}",
        )

    def _help_both(self, body: Body, start: float) -> str:
        """For its loads, where they ask for more than the floor; and for the vacuum."""
        if (body.model_kpa or 0.0) <= self.site.limits.floor_kpa:
            return self._lost(start) or self._weak_pump(start) or self._help(body)
        return f"{self._help(body)} {self._lost(start)}".rstrip()

    def _lost(self, start: float) -> str:
        """Where the vacuum goes, if there would be enough without that."""
        if self.found.supply.air is None:
            return ""
        name, without = self.found.supply.air.network.worst_loss()
        return _LOST_TO[name].format(f"without that, {without:.1f} kPa") if without >= start else ""

    def _weak_pump(self, start: float) -> str:
        """Of a pump that is too weak for all that leaks, or even for nothing."""
        if self.found.supply.air is None:
            return ""
        if (end := self.found.supply.air.network.end_kpa()) < start:
            return f"The pump ends at {end:.1f} kPa here: it takes another pump."
        return "Too much air comes in for this pump: fewer cups, or a larger pump."

    def _help(self, body: Body) -> str:
        """What can help a body that does not hold, with what it has already left out."""
        if self.zero_doubtful:
            return "Mend z_zero first."
        more, cut = self._more_cups(body), bool((body.rows.line >= 0).any())
        cut_lighter = bool(body.places) and cut
        fits = "more cups fit" if body.places else "a cup fits"
        ways = (
            (more, f"put {'more ' if body.places else ''}cups under it ({more})"),
            (self._friction(body), self._friction(body)),
            (cut_lighter, "cut in more passes or at a lower feed"),
            (not cut, "make its loads smaller"),
            (body.part is not None, "leave tabs"),
            (not more, f"move the part so that {fits} under it"),
        )
        *first, last = [words for stands, words in ways if stands]
        told = ", ".join(first) + (f", or {last}" if first else last)
        return f"{told[0].upper()}{told[1:]}."

    def _more_cups(self, body: Body) -> str:
        """Seats that can hold it and are not asked for."""
        left = [place.seat.name for place in self.found.seating.spare(body.part)]
        return " ".join(left[:6]) + (" ..." if len(left) > 6 else "")

    def _friction(self, body: Body) -> str:
        """What mends friction, where it is the weakest number that this body goes with."""
        pushes = self.found.motion.pushes
        poorest = weakest(Inputs(self.job, self.site, self.own, pushes, body.governed()).all())
        if poorest is None or poorest.name != FRICTION:
            return ""
        return self._better(poorest)

    def _better(self, friction: Input) -> str:
        if self.job.surface not in (None, "clean"):
            return f"clean its {self.job.surface} underside"
        return "" if friction.measured else "measure its friction (holdpoint measure friction)"

    def _single(self) -> list[Finding]:
        """Kept pieces that come free on one cup: see the weakest numbers of the holding model."""
        return [
            finding(
                "one_cup_piece",
                f"{self._name(body)}: one ring holds worse against tipping than worked out, by "
                "30 % at worst. Leave tabs, or put a second cup under it.",
            )
            for body in self.found.bodies
            if body.part is not None and len(body.part.pieces) == len(body.places) == 1
        ]
