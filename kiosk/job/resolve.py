"""A job that was worked out, asked again with other cups up, without its program being read.

The loads and the pieces stay; only the cups differ, so the answer is that of a full check with
these seats in ``cups_up``.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from kiosk.job.air import air_of
from kiosk.job.holding import Body, Setup, worst_of
from kiosk.job.job_file import Job
from kiosk.job.own_numbers import OwnNumbers
from kiosk.job.supply import Supply
from kiosk.site import Site


@dataclass(frozen=True, slots=True)
class Worked:
    """A job on a site as it was worked out: its set-up, and its bodies with their load cases."""

    job: Job
    site: Site
    own: OwnNumbers  # the material with the shop's numbers in it
    setup: Setup
    bodies: tuple[Body, ...]
    supply: Supply

    @property
    def model_kpa(self) -> float | None:
        """The minimum before the floor; None when no vacuum holds the job."""
        return worst_of(self.bodies).model_kpa


@dataclass(frozen=True, slots=True)
class Answer:
    """What a full check would say, kPa; None where no vacuum holds.

    ``enough``: the gauge can reach the start level.  What else refuses a job is not asked again.
    """

    model_kpa: float | None
    minimum_kpa: float | None
    required_kpa: float | None
    start_kpa: float | None
    predicted_kpa: float | None
    enough: bool


def resolve(worked: Worked, up: Collection[str]) -> Answer:
    """The answer with just these seats up.  ValueError for a seat that cannot hold this job."""
    setup = with_seats(worked.setup, up)
    bodies = tuple(
        body if setup.seating.raised(body.part) == list(body.places) else setup.again([body])[0]
        for body in worked.bodies
    )
    raised = setup.seating.raised()
    air = air_of(worked.job, worked.site, worked.own.material, setup.blank, raised)
    supply, model_kpa = Supply(worked.site, air), worst_of(bodies).model_kpa
    level = supply.levels(model_kpa)
    if level is None:
        return Answer(None, None, None, None, supply.predicted_kpa, False)
    start_kpa = level.start_pa / 1e3
    return Answer(
        model_kpa,
        level.minimum_pa / 1e3,
        level.required_pa / 1e3,
        start_kpa,
        supply.predicted_kpa,
        start_kpa <= supply.most_kpa,
    )


def with_seats(setup: Setup, up: Collection[str]) -> Setup:
    """The set-up with just these seats up.  ValueError for a seat that cannot hold this job."""
    if strange := set(up) - usable(setup):
        raise ValueError(f"seat {min(strange)} cannot hold this job")
    return replace(setup, seating=replace(setup.seating, up=frozenset(up)))


def usable(setup: Setup) -> frozenset[str]:
    """Names of the seats that can hold, up or not."""
    return frozenset(place.seat.name for place in setup.seating.under())
