"""How far the part bends under the cutter between its cups: ``kiosk.hold.flex`` for one job.

The whole blank with its openings is bent; part frame, mm here, SI in ``kiosk.hold``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from shapely import Polygon

from kiosk.hold.flex import Sheet, Supports, largest_deflection
from kiosk.hold.materials import Material
from kiosk.job.job_file import Job
from kiosk.job.plan import Flex
from kiosk.job.pushes import Push
from kiosk.job.seating import Place

_PLACES_ALONG = 48  # pushes in one cell of this grid count once, with the greatest of their forces
_SMOOTH_MM = 0.2


def flex_of(
    job: Job, material: Material, blank: Polygon, raised: Sequence[Place], pushes: Iterable[Push]
) -> Flex | None:
    """Largest bending under a load; None without cups or loads along z."""
    places = _places(job, blank, pushes)
    if not raised or not places:
        return None
    found = largest_deflection(
        _sheet(job, material, blank),
        Supports(
            x_m=np.array([place.x_mm for place in raised]) / 1e3,
            y_m=np.array([place.y_mm for place in raised]) / 1e3,
            radius_m=np.array([place.seal_radius_mm for place in raised]) / 1e3,
        ),
        np.array(list(places)) / 1e3,
        np.array(list(places.values())),
    )
    if found is None:
        return None
    at_mm = (found.x_m * 1e3, found.y_m * 1e3)
    return Flex(found.deflection_m * 1e3, job.deflection_limit_mm, at_mm)


def _sheet(job: Job, material: Material, blank: Polygon) -> Sheet:
    """Without a known grain the weak direction is taken both ways."""
    smooth = blank.simplify(_SMOOTH_MM)
    across = material.modulus_across_pa.low
    along = across if job.grain_deg is None else material.modulus_along_pa.low
    return Sheet(
        outline=np.array(smooth.exterior.coords[:-1]) / 1e3,
        openings=tuple(np.array(ring.coords[:-1]) / 1e3 for ring in smooth.interiors),
        thickness_m=job.thickness_mm / 1e3,
        modulus_along_pa=along,
        modulus_across_pa=across,
        poisson=material.poisson.typical,
        grain_rad=math.radians(job.grain_deg or 0.0),
    )


def _places(job: Job, blank: Polygon, pushes: Iterable[Push]) -> dict[tuple[float, float], float]:
    """Places and forces along z, N, at most one for each cell of a grid over the blank."""
    x0, y0, x1, y1 = blank.bounds
    cell = max(x1 - x0, y1 - y0) / _PLACES_ALONG
    worst: dict[tuple[int, int], tuple[float, tuple[float, float]]] = {}
    for force, (x, y) in _forces(job, pushes):
        key = (math.floor(x / cell), math.floor(y / cell))
        if force > worst.get(key, (0.0, (x, y)))[0]:
            worst[key] = (force, (x, y))
    return {spot: force for force, spot in worst.values()}


def _forces(job: Job, pushes: Iterable[Push]) -> Iterable[tuple[float, tuple[float, float]]]:
    for push in pushes:
        force = max(push.load.up_n, push.load.down_n)
        for share in (push.bite.first, push.bite.last):
            x, y, _ = push.tip_at(share)
            yield force, (x, y)
    for load in job.loads:
        yield abs(load.force_n[2]), (load.at_mm[0], load.at_mm[1])
