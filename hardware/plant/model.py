"""The simulated vacuum table: pump, volume, cups, leaks, and the gauge on it.

Time comes in as steps; chance comes in as a seeded generator.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from hardware.plant.air import (
    GAS_J_KG_K,
    TEMPERATURE_K,
    bore_area_m2,
    density_kg_m3,
    pumped_m3_h,
    through_board_kg_s,
    through_hole_kg_s,
)

LONGEST_STEP_S = 0.01


@dataclass(frozen=True, slots=True)
class TableNumbers:
    """What does not change about the table during one run."""

    air_kpa: float = 101.325
    volume_l: float = 60.0
    pump_curve: tuple[tuple[float, float], ...] = ((0.0, 40.0), (60.0, 30.0), (88.0, 0.0))
    lip_bore_mm: float = 1.2  # leak of one covered cup, as a round hole
    port_bore_mm: float = 6.0  # what an uncovered cup that is turned up lets in
    vent_bore_mm: float = 20.0
    seal_diameter_mm: float = 60.0
    board_mm: float = 20.0
    permeability_m2: float = 0.0  # of the part under each covered cup
    seats_up: int = 12
    seats_covered: int = 12


class Table:
    """Air in the table's pipes and cups."""

    def __init__(self, numbers: TableNumbers) -> None:
        self.numbers = numbers
        self.pressure_pa = numbers.air_kpa * 1000.0
        self.vacuum_on = False
        self.vent_open = False
        self.seats_up = numbers.seats_up
        self.seats_covered = numbers.seats_covered
        self.leak_area_m2 = 0.0
        self._leak_goal_m2 = 0.0
        self._leak_rate_m2_s = math.inf

    @property
    def air_pa(self) -> float:
        """Air pressure outside."""
        return self.numbers.air_kpa * 1000.0

    @property
    def vacuum_kpa(self) -> float:
        """Vacuum in the table, below the air outside."""
        return (self.air_pa - self.pressure_pa) / 1000.0

    def set_leak(self, bore_mm: float, over_s: float = 0.0) -> None:
        """Open a leak of this bore, or close it with 0; its area grows evenly over ``over_s``."""
        self._leak_goal_m2 = bore_area_m2(bore_mm)
        change = abs(self._leak_goal_m2 - self.leak_area_m2)
        self._leak_rate_m2_s = change / over_s if over_s > 0.0 else math.inf

    def inflow_kg_s(self, inside_pa: float) -> float:
        """Air that comes in when the table is at ``inside_pa``."""
        numbers = self.numbers
        covered = min(self.seats_up, self.seats_covered)
        open_ports = self.seats_up - covered
        area_m2 = self.leak_area_m2
        area_m2 += covered * bore_area_m2(numbers.lip_bore_mm)
        area_m2 += open_ports * bore_area_m2(numbers.port_bore_mm)
        area_m2 += bore_area_m2(numbers.vent_bore_mm) if self.vent_open else 0.0
        board = through_board_kg_s(
            bore_area_m2(numbers.seal_diameter_mm),
            numbers.board_mm / 1000.0,
            numbers.permeability_m2,
            self.air_pa,
            inside_pa,
        )
        return through_hole_kg_s(area_m2, self.air_pa, inside_pa) + covered * board

    def outflow_kg_s(self, inside_pa: float) -> float:
        """Air that the pump takes; nothing while its valve is shut (a check valve holds)."""
        if not self.vacuum_on:
            return 0.0
        vacuum_kpa = (self.air_pa - inside_pa) / 1000.0
        free_m3_s = pumped_m3_h(self.numbers.pump_curve, vacuum_kpa) / 3600.0
        return density_kg_m3(self.air_pa) * free_m3_s

    def step(self, seconds: float, longest_s: float = LONGEST_STEP_S) -> None:
        """Let ``seconds`` pass, in steps no longer than ``longest_s``."""
        while seconds > 0.0:
            part_s = min(seconds, longest_s)
            self._open_leak(part_s)
            self._integrate(part_s)
            seconds -= part_s

    def _open_leak(self, seconds: float) -> None:
        goal, area = self._leak_goal_m2, self.leak_area_m2
        reach = self._leak_rate_m2_s * seconds
        self.leak_area_m2 = (
            goal if abs(goal - area) <= reach else area + math.copysign(reach, goal - area)
        )

    def _rate_pa_s(self, inside_pa: float) -> float:
        """Rise of pressure: d(pV)/dt = R T dm/dt at constant temperature."""
        gain = self.inflow_kg_s(inside_pa) - self.outflow_kg_s(inside_pa)
        return GAS_J_KG_K * TEMPERATURE_K / (self.numbers.volume_l / 1000.0) * gain

    def _integrate(self, seconds: float) -> None:
        """One classical Runge-Kutta step."""
        at = self.pressure_pa
        first = self._rate_pa_s(at)
        second = self._rate_pa_s(at + first * seconds / 2.0)
        third = self._rate_pa_s(at + second * seconds / 2.0)
        fourth = self._rate_pa_s(at + third * seconds)
        change = seconds / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
        self.pressure_pa = min(max(at + change, 1.0), self.air_pa)


@dataclass(frozen=True, slots=True)
class GaugeNumbers:
    """What does not change about the gauge during one run."""

    lag_s: float = 0.05
    noise_kpa: float = 0.05  # standard deviation
    offset_kpa: float = 0.0
    seed: int = 1


class TableGauge:
    """A transmitter at the table: first-order lag, offset and noise."""

    def __init__(self, numbers: GaugeNumbers) -> None:
        self.numbers = numbers
        self.vacuum_kpa = numbers.offset_kpa
        self._lagged_kpa = 0.0
        self._chance = random.Random(numbers.seed)

    def step(self, seconds: float, true_kpa: float) -> None:
        """Follow the true vacuum for ``seconds``."""
        share = 1.0 - math.exp(-seconds / self.numbers.lag_s) if self.numbers.lag_s else 1.0
        self._lagged_kpa += share * (true_kpa - self._lagged_kpa)
        noise_kpa = self._chance.gauss(0.0, self.numbers.noise_kpa)
        self.vacuum_kpa = self._lagged_kpa + self.numbers.offset_kpa + noise_kpa
