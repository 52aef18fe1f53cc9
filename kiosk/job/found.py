"""What was found out about one job on one site, before it is told as a Plan."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.job.cuts import Cut
from kiosk.job.holding import Body, Setup
from kiosk.job.pieces import Piece, ThroughCuts
from kiosk.job.plan import Flex
from kiosk.job.pushes import Push
from kiosk.job.seating import Seating
from kiosk.job.stock import Stock
from kiosk.job.supply import Supply


@dataclass(frozen=True, slots=True)
class Motion:
    """What the program does to the blank: cuts, what each meets, and rapids that meet material."""

    cuts: tuple[Cut, ...]
    pushes: tuple[Push, ...]
    through: ThroughCuts
    crashing: tuple[Cut, ...]
    stock: Stock | None  # the blank as the program leaves it


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
