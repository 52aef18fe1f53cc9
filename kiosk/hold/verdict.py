"""What the gauge must show: required and start level, the ratio R, the floor, and the caution."""

from __future__ import annotations

from dataclasses import dataclass

from kiosk.hold.cutter import design_k_ref
from kiosk.hold.materials import Kienzle, Value


@dataclass(frozen=True, slots=True)
class Levels:
    """Levels in Pa as the gauge must read them; ``minimum_pa`` is never below the floor.

    ``by_floor``: the floor, not a load, sets the minimum.
    """

    minimum_pa: float
    required_pa: float  # R = 1
    start_pa: float  # R = the start ratio
    by_floor: bool


def levels(
    model_pa: float, floor_pa: float, drop_pa: float, error_pa: float, start_ratio: float
) -> Levels:
    """required = minimum + drop + error; start = start_ratio x minimum + drop + error."""
    minimum = max(model_pa, floor_pa)
    taken = drop_pa + error_pa
    return Levels(minimum, minimum + taken, start_ratio * minimum + taken, floor_pa >= model_pa)


def ratio(measured_pa: float, minimum_pa: float, drop_pa: float, error_pa: float) -> float:
    """R = (measured - gauge error - drop) / minimum; ValueError when the minimum is not > 0."""
    if minimum_pa <= 0.0:
        raise ValueError("a minimum must be above zero; the floor sees to it")
    return (measured_pa - error_pa - drop_pa) / minimum_pa


@dataclass(frozen=True, slots=True)
class Caution:
    """How far each choice is from the typical value; ``product`` is what they make together."""

    force: float  # cutting force that decides over the typical one of a fresh edge
    friction: float  # typical friction over the low one that decides
    safety: float

    @property
    def product(self) -> float:
        """All three multiplied."""
        return self.force * self.friction * self.safety


def caution(row: Kienzle, edge: str, grip: Value, safety_factor: float) -> Caution:
    """The caution in a minimum, for printing beside it."""
    force = design_k_ref(row, edge) / row.k_ref_pa.typical
    return Caution(force, grip.typical / grip.low, safety_factor)
