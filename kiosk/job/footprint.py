"""What a cup covers under the part, and the round seal that holds as it does; part frame, mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import Point as ShapelyPoint
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from kiosk.job.job_file import Point
from kiosk.site import Special

_QUARTER = 64  # corners in a quarter of a drawn circle, outside the true one


@dataclass(frozen=True, slots=True)
class Footprint:
    """``shape`` with a border of ``rim_mm`` round it is what the cup covers.

    ``hold``: where its pull acts; ``seal_radius_mm``: of the round seal of equal area.
    """

    shape: BaseGeometry
    rim_mm: float
    hold: Point
    seal_radius_mm: float


def round_cup(centre: Point, seal_mm: float, outer_mm: float) -> Footprint:
    """A whole circle: its centre, and half its diameter round it, so that distances are exact."""
    return Footprint(ShapelyPoint(centre), outer_mm / 2.0, centre, seal_mm / 2.0)


def edge_cup(centre: Point, special: Special, angle_deg: float) -> Footprint:
    """A cup of an ``edge_cup`` row.  ``angle_deg``: how far the part is turned on the grid."""
    seal, outer = special.seal_diameter_mm or 0.0, special.outer_diameter_mm or 0.0
    if special.cut_mm is None:
        return round_cup(centre, seal, outer)
    area, off = cut_circle(seal / 2.0, special.cut_mm)
    turn = math.radians(special.flat_deg - angle_deg)
    hold = (centre[0] - off * math.cos(turn), centre[1] - off * math.sin(turn))
    flat = special.cut_mm + (outer - seal) / 2.0
    reach = outer / 2.0 / math.cos(math.pi / (4.0 * _QUARTER))
    disc = ShapelyPoint(0.0, 0.0).buffer(reach, quad_segs=_QUARTER)
    shape = disc.intersection(box(-2.0 * reach, -2.0 * reach, flat, 2.0 * reach))
    turned = affinity.rotate(shape, math.degrees(turn), origin=(0.0, 0.0))
    placed = affinity.translate(turned, *centre)
    assert isinstance(placed, Polygon)
    return Footprint(placed, 0.0, hold, math.sqrt(area / math.pi))


def cut_circle(radius: float, cut: float) -> tuple[float, float]:
    """Area of a circle cut off straight at ``cut`` from its centre, and how far its centroid is
    off the centre, away from the flat side.

    Circular segment with half angle t = acos(cut / radius): area r^2 (t - sin t cos t), its first
    moment about the centre (2 / 3) (r sin t)^3; what is left has the same moment, other way.
    """
    half = math.acos(min(cut / radius, 1.0))
    area = math.pi * radius**2 - radius**2 * (half - math.sin(half) * math.cos(half))
    return area, 2.0 / 3.0 * (radius * math.sin(half)) ** 3 / area
