"""What was found out about one job on one site, before it is told as a Plan."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.job.cuts import Cut
from kiosk.job.holding import Body
from kiosk.job.pieces import Piece, ThroughCuts
from kiosk.job.plan import Flex
from kiosk.job.pushes import Push
from kiosk.job.seating import Seating
from kiosk.job.supply import Supply


@dataclass(frozen=True, slots=True)
class Motion:
    """What the program does to the blank: cuts, what each meets, and rapids that meet material."""

    cuts: tuple[Cut, ...]
    pushes: tuple[Push, ...]
    through: ThroughCuts
    crashing: tuple[Cut, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """Everything found out: motion, pieces, cups, minima, vacuum supply, bending."""

    motion: Motion
    pieces: tuple[Piece, ...]
    seating: Seating
    bodies: tuple[Body, ...]
    supply: Supply
    flex: Flex | None
