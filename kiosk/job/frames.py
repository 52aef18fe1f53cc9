"""Part frame and grid frame: the part turned counter-clockwise about its origin, then moved."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import transform
from shapely.geometry.base import BaseGeometry

from kiosk.job.job_file import Placement, Point

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Frame:
    """Takes points of the part frame to the grid frame and back; mm."""

    placement: Placement

    @property
    def _turn(self) -> FloatArray:
        turn = math.radians(self.placement.angle_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        return np.array([[cos, -sin], [sin, cos]])

    @property
    def _move(self) -> FloatArray:
        return np.array([self.placement.x_mm, self.placement.y_mm])

    def to_grid(self, points: FloatArray) -> FloatArray:
        """(n, 2) part frame to (n, 2) grid frame."""
        return np.asarray(points @ self._turn.T + self._move, dtype=np.float64)

    def to_part(self, points: FloatArray) -> FloatArray:
        """(n, 2) grid frame to (n, 2) part frame."""
        return np.asarray((points - self._move) @ self._turn, dtype=np.float64)

    def direction_to_grid(self, x: float, y: float) -> Point:
        """A direction: turned, not moved."""
        turned = self._turn @ np.array([x, y])
        return float(turned[0]), float(turned[1])

    def point_to_grid(self, x_mm: float, y_mm: float) -> Point:
        moved = self.to_grid(np.array([[x_mm, y_mm]]))[0]
        return float(moved[0]), float(moved[1])

    def shape_to_part(self, shape: BaseGeometry) -> BaseGeometry:
        return transform(shape, self.to_part)

    def loop_to_grid(self, points: tuple[Point, ...]) -> tuple[Point, ...]:
        if not points:
            return ()
        return tuple((float(x), float(y)) for x, y in self.to_grid(np.array(points)))
