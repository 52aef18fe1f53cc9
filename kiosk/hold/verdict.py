"""What the gauge must show: required and start level, the ratio R, and the floor."""

from __future__ import annotations

from dataclasses import dataclass


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
