"""The whole simulated plant: table, gauge, machine, output module and pulse relay together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from hardware.plant.faults import DRIFT_KPA_PER_S, Faults
from hardware.plant.machine import COILS, Machine, MachineNumbers, OutputModule, PulseRelay
from hardware.plant.model import GaugeNumbers, Table, TableGauge, TableNumbers

STEP_S = 0.01
INPUTS = (
    "cycle_running", "standstill", "valve_open", "stop_healthy", "key_bypass", "contact_feedback",
)  # by discrete input number # fmt: skip
FULL_SCALE_KPA = 100.0  # of the current loop: 4 mA at 0, 20 mA here
_OVER_RANGE_KPA = 250.0


@dataclass(frozen=True, slots=True)
class Numbers:
    """What does not change during one run."""

    table: TableNumbers = field(default_factory=TableNumbers)
    gauge: GaugeNumbers = field(default_factory=GaugeNumbers)
    machine: MachineNumbers = field(default_factory=MachineNumbers)


class Plant:
    """Everything behind the wires.  ``advance`` lets time pass in even steps."""

    def __init__(self, numbers: Numbers) -> None:
        self.numbers = numbers
        self.table = Table(numbers.table)
        self.gauge = TableGauge(numbers.gauge)
        self.machine = Machine(numbers.machine)
        self.module = OutputModule()
        self.relay = PulseRelay()
        self.faults = Faults()
        self.now_s = 0.0
        self._stuck_kpa: float | None = None
        self._drift_kpa = 0.0

    def advance(self, to_s: float) -> None:
        """Let time pass until ``to_s``, seconds since the start."""
        while to_s - self.now_s >= STEP_S:
            self._step(STEP_S)
            self.now_s += STEP_S

    def _step(self, seconds: float) -> None:
        machine_faults = self.faults.machine
        self._stick()
        self.module.watches = "watch_off" not in machine_faults
        self.module.step(seconds)
        self.relay.step(seconds, self.module.coils["alive"])
        self.machine.ignores_hold = "ignores_hold" in machine_faults
        self.machine.step(seconds, self.contact("start_permit"), self.contact("hold_healthy"))
        asked = self.table.vacuum_on
        self.table.vacuum_on = asked and "pump_off" not in machine_faults
        self.table.step(seconds)
        self.table.vacuum_on = asked
        self.gauge.step(seconds, self.table.vacuum_kpa)
        self._drift(seconds)

    def _drift(self, seconds: float) -> None:
        ways = {"drifts_up": DRIFT_KPA_PER_S, "drifts_down": -DRIFT_KPA_PER_S}
        standing = ways.keys() & self.faults.value
        self._drift_kpa += sum(seconds * ways[name] for name in standing)
        if not standing:
            self._drift_kpa = 0.0

    def _stick(self) -> None:
        faults = {"permit_stuck": "start_permit", "hold_stuck": "hold_healthy"}
        self.module.stuck = {faults[name] for name in faults.keys() & self.faults.machine}

    def contact(self, name: str) -> bool:
        """A contact as the machine sees it: its coil and the pulse relay in series."""
        return self.module.coils[name] and self.relay.closed

    def write_coils(self, values: Mapping[str, bool]) -> None:
        """What the master wrote to the output module.  The relay sees every change of ALIVE."""
        self._stick()
        self.module.write(values)
        self.relay.step(0.0, self.module.coils["alive"])

    def inputs(self) -> dict[str, bool]:
        """The discrete inputs, by name, in the order of their numbers."""
        feedback = self.contact("start_permit") != ("feedback_wrong" in self.faults.machine)
        if "inputs_dead" in self.faults.machine:
            return dict.fromkeys(INPUTS, False)
        values = (
            self.machine.cycle_running and "running_lost" not in self.faults.machine,
            self.machine.standstill,
            self.table.vacuum_on,
            not self.machine.stop_pressed,
            self.machine.key,
            feedback,
        )
        return dict(zip(INPUTS, values, strict=True))

    def gauge_kpa(self) -> float | None:
        """What the gauge says, vacuum in kPa; None when its sensor gives no number."""
        standing = self.faults.value
        if "stuck" not in standing:
            self._stuck_kpa = None
        elif self._stuck_kpa is None:
            self._stuck_kpa = self.gauge.vacuum_kpa
        if "not_a_number" in standing:
            return None
        if "over_range" in standing:
            return _OVER_RANGE_KPA
        said_kpa = self.gauge.vacuum_kpa if self._stuck_kpa is None else self._stuck_kpa
        return said_kpa + self._drift_kpa

    def status(self) -> dict[str, Any]:
        """Everything, for whoever stands at the machine."""
        said_kpa = self.gauge_kpa()
        return {
            "now_s": round(self.now_s, 3),
            "vacuum_kpa": round(self.table.vacuum_kpa, 3),
            "gauge_kpa": None if said_kpa is None else round(said_kpa, 3),
            "vacuum_on": self.table.vacuum_on,
            "vent_open": self.table.vent_open,
            "seats_up": self.table.seats_up,
            "seats_covered": self.table.seats_covered,
            "leak_mm2": round(self.table.leak_area_m2 * 1e6, 3),
            "cycle": str(self.machine.cycle),
            "held_by_contact": self.machine.held_by_contact,
            "spindle_on": self.machine.spindle_on,
            "inputs": self.inputs(),
            "coils": dict(self.module.coils),
            "relay_closed": self.relay.closed,
            "contacts": {name: self.contact(name) for name in COILS[:2]},
            "faults": self.faults.standing(),
        }
