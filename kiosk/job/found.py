"""What was found out about one job on one site, before it is told as a Plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon, distance, points

from kiosk.job.cuts import Cut
from kiosk.job.holding import Body, Setup
from kiosk.job.pieces import Piece
from kiosk.job.plan import Flex
from kiosk.job.pushes import Push
from kiosk.job.seating import Seating
from kiosk.job.stock import Stock
from kiosk.job.supply import Supply
from kiosk.job.through import ThroughCuts

LOW_MM = 0.05  # below the top: a move that would cut
_STRAY_MM = 20.0  # beyond a diameter; lead-ins keep nearer: common practice, no source


@dataclass(frozen=True, slots=True)
class Motion:
    """What the program does to the blank: cuts, what each meets, and rapids that meet material."""

    cuts: tuple[Cut, ...]
    pushes: tuple[Push, ...]
    through: ThroughCuts
    crashing: tuple[Cut, ...]
    stock: Stock | None  # the blank as the program leaves it

    def stray(self, blank: Polygon, thickness_mm: float) -> tuple[int | None, float]:
        """The first line that cuts low beside the blank, touching nothing, and how far off, mm."""
        met = {id(push.cut) for push in self.pushes}
        low = thickness_mm - LOW_MM
        cuts = [c for c in self.cuts if not c.rapid and c.lowest_mm < low and id(c) not in met]
        if not cuts:
            return None, 0.0
        ends = points(np.array([(cut.start[:2], cut.end[:2]) for cut in cuts]))
        away = distance(blank, ends).min(axis=1)
        far = away > np.array([cut.tool.diameter_mm for cut in cuts]) + _STRAY_MM
        first = int(far.argmax())
        return (cuts[first].line, float(away[first])) if far[first] else (None, 0.0)


@dataclass(frozen=True, slots=True)
class Found:
    """Everything found out: motion, pieces, cups, minima, vacuum supply, bending."""

    motion: Motion
    pieces: tuple[Piece, ...]
    seating: Seating
    bodies: tuple[Body, ...]
    supply: Supply
    flex: Flex | None
    needs: dict[int, float]  # kPa that each cut needs on its own, by its order
    setup: Setup

    def shares(self, model_kpa: float | None) -> dict[int, float]:
        """The needs as shares of the job's minimum, at most 1; none without a minimum."""
        if model_kpa is None or model_kpa <= 0.0:
            return {}
        return {order: min(need / model_kpa, 1.0) for order, need in self.needs.items()}
