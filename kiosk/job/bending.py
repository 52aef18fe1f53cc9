"""How far the part bends under the cutter between its cups: ``kiosk.hold.flex`` for one job.

The whole blank is bent, and every piece that comes free on its own cups; each as thin as the
program leaves it at its end.  Part frame, mm here, SI in ``kiosk.hold``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Point as ShapelyPoint
from shapely import Polygon

from kiosk.hold.cures import cups_that_cure
from kiosk.hold.flex import MOST_CELLS, Sheet, Supports, deflections
from kiosk.hold.thinned import Heights
from kiosk.job.frames import FloatArray
from kiosk.job.freed import Part
from kiosk.job.holding import Setup
from kiosk.job.plan import Flex
from kiosk.job.reaches import NEAR_MM, Reaches
from kiosk.job.seating import Place
from kiosk.job.stock import Stock

_PLACES_ALONG = 48  # pushes in one cell of this grid count once, with the greatest of their forces
_SMOOTH_MM = 0.2
_PIECE_CELLS = MOST_CELLS // 2  # a job may have many pieces
_NONE_MM = 0.05  # of a height that is left: no more than this is none

_MAPPED_ALONG = 16  # cells of the map of bending

_Place = tuple[float, float, float]  # x, y and how far it gives there, mm


def flex_of(setup: Setup, reaches: Reaches, stock: Stock | None) -> Flex | None:
    """Largest bending under a load, and a map of it; None without cups or loads along z."""
    single = [part for part in setup.parts if len(part.pieces) == 1]
    plates = [_Bent(setup, reaches, stock, part) for part in (None, *single)]
    bent = [flex for plate in plates if (flex := plate.worst()) is not None]
    worst = max(bent, key=lambda flex: flex.deflection_mm, default=None)
    if worst is None:
        return None
    places = [place for flex in bent for place in flex.places]
    return replace(worst, places=_mapped(places, setup.blank))


def _mapped(places: Iterable[_Place], blank: Polygon) -> tuple[_Place, ...]:
    """The worst place of each cell of a grid over the blank, few enough to draw and to log."""
    x0, y0, x1, y1 = blank.bounds
    cell = max(x1 - x0, y1 - y0) / _MAPPED_ALONG
    worst: dict[tuple[int, int], _Place] = {}
    for x, y, mm in places:
        key = (math.floor(x / cell), math.floor(y / cell))
        if mm > worst.get(key, (0.0, 0.0, 0.0))[2]:
            worst[key] = (round(x, 1), round(y, 1), round(mm, 3))
    return tuple(worst.values())


@dataclass(frozen=True, slots=True)
class _Bent:
    """One plate: the blank (``part`` None) or a piece that comes free."""

    setup: Setup
    reaches: Reaches
    stock: Stock | None
    part: Part | None

    @property
    def shape(self) -> Polygon:
        return self.setup.blank if self.part is None else self.part.shape

    def worst(self) -> Flex | None:
        raised, loads = self.setup.seating.raised(self.part), self._loads()
        if not raised or not len(loads):
            return None
        sheet, supports = self._sheet(), _supports(raised)
        moved = deflections(sheet, supports, loads[:, :2], loads[:, 2])
        if moved is None:
            return None
        rows = np.column_stack([loads[:, :2], moved]) * 1e3
        places = [(x, y, mm) for x, y, mm in rows.tolist()]
        x, y, most_mm = max(places, key=lambda place: place[2])
        limit_mm = self.setup.job.deflection_limit_mm
        cups = self._cups(sheet, supports, loads) if most_mm > limit_mm else ()
        return Flex(most_mm, limit_mm, (x, y), cups, tuple(places))

    def _cups(self, sheet: Sheet, supports: Supports, loads: FloatArray) -> tuple[str, ...]:
        """Spare seats that bring it within the limit; none when none do."""
        spare, limit_m = (
            self.setup.seating.spare(self.part),
            self.setup.job.deflection_limit_mm / 1e3,
        )
        if not spare:
            return ()
        added = cups_that_cure(sheet, supports, _supports(spare), loads, limit_m)
        return tuple(sorted(spare[index].seat.name for index in added or ()))

    def _sheet(self) -> Sheet:
        """Without a known grain the weak direction is taken both ways."""
        job, material = self.setup.job, self.setup.material
        smooth = self.shape.simplify(_SMOOTH_MM)
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
            left=self._left(),
            cells=MOST_CELLS if self.part is None else _PIECE_CELLS,
        )

    def _left(self) -> Heights | None:
        """What the program leaves; a skin that counts as cut through is none."""
        stock, program = self.stock, self.setup.job.program
        if stock is None or program is None:
            return None
        none_mm = max(program.skin_mm, _NONE_MM)
        return Heights(stock.x / 1e3, stock.y / 1e3, stock.height / 1e3, none_mm / 1e3)

    def _loads(self) -> FloatArray:
        """Places and forces along z, m and N, (P, 3), at most one for each cell of a grid."""
        x0, y0, x1, y1 = self.shape.bounds
        cell, forces = max(x1 - x0, y1 - y0) / _PLACES_ALONG, self._forces()
        forces = forces[forces[:, 2] > 0.0]
        if not len(forces):
            return forces
        column, row = np.floor(forces[:, :2] / cell).T
        order = np.lexsort((-forces[:, 2], row, column))  # in each cell the greatest comes first
        step = np.diff(column[order], prepend=np.inf) != 0
        step |= np.diff(row[order], prepend=np.inf) != 0
        begin = np.flatnonzero(step)
        touched = np.minimum.reduceat(order, begin)  # the cell's first
        return np.asarray(forces[order[begin][np.argsort(touched)]] / np.array([1e3, 1e3, 1.0]))

    def _forces(self) -> FloatArray:
        """Where each cut begins and ends to push, mm, and each stated load, and N along z."""
        push, tips, _ = self.reaches.ends(self.part)
        stated = [
            (*load.at_mm[:2], abs(load.force_n[2]))
            for load in self.setup.job.loads
            if self.part is None or self.shape.distance(ShapelyPoint(load.at_mm[:2])) <= NEAR_MM
        ]
        cut = np.column_stack([tips[:, :2], self.reaches.along_z_n[push]])
        return np.vstack([cut, np.array(stated, dtype=np.float64).reshape(-1, 3)])


def _supports(places: Sequence[Place]) -> Supports:
    return Supports(
        x_m=np.array([place.x_mm for place in places]) / 1e3,
        y_m=np.array([place.y_mm for place in places]) / 1e3,
        radius_m=np.array([place.seal_radius_mm for place in places]) / 1e3,
    )
