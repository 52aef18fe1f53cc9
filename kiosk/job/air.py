"""What the gauges should read with this job's cups up, and the drops to the worst cup.

Needs a pump in the site file; the drop also needs pipes.  kPa and mm here, SI in ``kiosk.hold``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely import Point as ShapelyPoint
from shapely import Polygon

from kiosk.hold import airflow
from kiosk.hold.materials import Material
from kiosk.job.job_file import Job
from kiosk.job.seating import Place
from kiosk.site import Site
from kiosk.units import air_pressure_kpa

_M3_H = 1.0 / 3600.0
# Faces that let no air through; the others are as open as the board: common practice, no source.
_TIGHT = ("laminate", "film", "coated")


PART, LIPS, SEATS, PIPES = "part", "lips", "seats", "pipes"  # what vacuum is lost to


@dataclass(frozen=True, slots=True)
class Network:
    """Pump, pipes and leaks, SI; each leak with what it comes through."""

    pump: airflow.Pump
    pipes: tuple[airflow.Pipe, ...]
    leaks: tuple[tuple[str, airflow.Leak], ...]
    air_pa: float

    def point(self, *without: str) -> airflow.OperatingPoint:
        """Where they meet, some of what it is lost to left out."""
        leaks = tuple(leak for name, leak in self.leaks if name not in without)
        pipes = () if PIPES in without else self.pipes
        return airflow.operating_point(self.pump, pipes, leaks, self.air_pa)

    def end_kpa(self) -> float:
        """The vacuum of the pump alone, nothing leaking."""
        return self.point(PART, LIPS, SEATS, PIPES).table_pa / 1e3

    def worst_loss(self) -> tuple[str, float]:
        """What takes most of the table's vacuum away, and what there would be without it, kPa.

        Without a leak the pipes cost nothing either: they are told from half as much on.
        """
        there = {name: self.point(name).table_pa / 1e3 for name in (PART, LIPS, SEATS, PIPES)}
        now, most = self.point().table_pa / 1e3, max(there.values())
        if there[PIPES] - now >= 0.5 * (most - now):
            return PIPES, there[PIPES]
        return max(there.items(), key=lambda row: row[1])


@dataclass(frozen=True, slots=True)
class Air:
    """Expected vacuum at table and pump inlet, and the drop from the table to the worst cup.

    ``piped`` is False when no pipes are in the site file: then no drop comes from it.
    ``branched``: the passage from the table to a cup is in it.
    """

    table_kpa: float
    pump_kpa: float
    branch_kpa: float
    flow_m3_h: float
    piped: bool
    branched: bool
    network: Network

    def reading_kpa(self, role: str) -> float:
        """What a gauge of this role should read."""
        return self.pump_kpa if role == "pump" else self.table_kpa

    def drop_kpa(self, role: str) -> float:
        """From a gauge of this role to the worst cup."""
        along = self.pump_kpa - self.table_kpa if role == "pump" else 0.0
        return along + self.branch_kpa


def air_of(
    job: Job, site: Site, material: Material, blank: Polygon, raised: Sequence[Place]
) -> Air | None:
    """The operating point of pump, pipes and leaks; None without a pump or a raised cup."""
    if site.pump is None or not raised:
        return None
    air_pa = air_pressure_kpa(site.altitude_m) * 1e3
    curve = tuple((vacuum * 1e3, flow * _M3_H) for vacuum, flow in site.pump.curve)
    pipes = tuple(
        airflow.Pipe(pipe.length_m, pipe.bore_mm / 1e3, pipe.fittings_k) for pipe in site.pipes
    )
    per_cup = [_cup_leaks(job, material, blank, place) for place in raised]
    lowered = airflow.lowered_seats(len(site.seats) - len(raised))
    lips = ((LIPS, own[0]) for own in per_cup)
    boards = ((PART, leak) for own in per_cup for leak in own[1:])
    network = Network(airflow.Pump(curve), pipes, ((SEATS, lowered), *lips, *boards), air_pa)
    point = network.point()
    return Air(
        table_kpa=point.table_pa / 1e3,
        pump_kpa=point.pump_pa / 1e3,
        branch_kpa=max(_branch_pa(site, own, point.table_pa, air_pa) for own in per_cup) / 1e3,
        flow_m3_h=point.flow_m3_s / _M3_H,
        piped=bool(pipes),
        branched=site.cup.branch_bore_mm is not None,
        network=network,
    )


def _cup_leaks(
    job: Job, material: Material, blank: Polygon, place: Place
) -> tuple[airflow.Leak, ...]:
    """Leaks of one cup: under its lip, then through the board, in a panel from the edge too."""
    radius_m = place.seal_radius_mm / 1e3
    lip = airflow.Lip(2.0 * math.pi * radius_m)
    if job.underside in _TIGHT:
        return (lip,)
    panel = material.family == "panel"
    core = material.core_permeability_m2.typical
    face = core if panel and job.underside == "machined" else material.permeability_m2.typical
    thickness_m = job.thickness_mm / 1e3
    through = airflow.board_face(face, math.pi * radius_m**2, thickness_m)
    if not panel:
        return (lip, through)
    edge_m = blank.boundary.distance(ShapelyPoint(place.x_mm, place.y_mm)) / 1e3
    sideways = airflow.board_edge(core, thickness_m, radius_m, max(edge_m, 1.01 * radius_m))
    return (lip, through, sideways)


def _branch_pa(
    site: Site, leaks: tuple[airflow.Leak, ...], table_pa: float, air_pa: float
) -> float:
    """Lost in the passage from table to cup; 0 where the site file does not describe it."""
    cup = site.cup
    if cup.branch_bore_mm is None or cup.branch_length_m is None:
        return 0.0
    pipe = airflow.Pipe(cup.branch_length_m, cup.branch_bore_mm / 1e3)
    return airflow.branch_drop_pa(pipe, leaks, table_pa, air_pa)
