"""The simulated machine: its program cycle and spindle, and the contacts it looks at.

Contacts reach it through an output module that opens everything when its master falls quiet, and
through a pulse relay in series that opens when the ALIVE line stops changing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

COILS = ("start_permit", "hold_healthy", "alive", "beacon")  # by coil number
MASTER_QUIET_S = 1.0
PULSE_S = 1.0


class Cycle(StrEnum):
    """Where the machine is with its program."""

    IDLE = "idle"
    RUNNING = "running"
    STOPPING = "stopping"  # feed hold was asked, the axes still move
    HELD = "held"


@dataclass(frozen=True, slots=True)
class MachineNumbers:
    """What does not change about the machine during one run."""

    stop_s: float = 0.3  # from feed hold to axes at rest
    coast_s: float = 3.0  # spindle from full speed to rest
    hold_spindle_stop_s: float | None = 2.0  # spindle off so long after a hold by the contact
    program_s: float | None = None  # length of the program; None: runs until it is ended


class OutputModule:
    """Four coils that all open when nobody has written for ``MASTER_QUIET_S`` and ``watches``."""

    def __init__(self) -> None:
        self.coils = dict.fromkeys(COILS, False)
        self.stuck: set[str] = set()
        self.watches = True
        self._since_write_s = 0.0

    def write(self, values: Mapping[str, bool]) -> None:
        """Take what the master wrote."""
        self._since_write_s = 0.0
        self._set(values)

    def step(self, seconds: float) -> None:
        """Let time pass; open everything when the master is quiet."""
        self._since_write_s += seconds
        if self.watches and self._since_write_s > MASTER_QUIET_S:
            self._set(dict.fromkeys(COILS, False))

    def _set(self, values: Mapping[str, bool]) -> None:
        free = {name: value for name, value in values.items() if name not in self.stuck}
        self.coils |= free


class PulseRelay:
    """Closed while its line has changed within the last ``PULSE_S``; open from the start."""

    def __init__(self) -> None:
        self._line = False
        self._since_edge_s = PULSE_S

    @property
    def closed(self) -> bool:
        """Whether its contact is closed."""
        return self._since_edge_s < PULSE_S

    def step(self, seconds: float, line: bool) -> None:
        """Look at the line after ``seconds``."""
        self._since_edge_s = 0.0 if line != self._line else self._since_edge_s + seconds
        self._line = line


class Machine:
    """The machine's own control, as far as the signals between it and a panel go.

    ``permit`` and ``healthy`` are the contacts as the machine sees them at the last step.
    """

    def __init__(self, numbers: MachineNumbers) -> None:
        self.numbers = numbers
        self.cycle = Cycle.IDLE
        self.permit = False
        self.healthy = False
        self.key = False
        self.stop_pressed = False
        self.ignores_hold = False
        self.held_by_contact = False
        self.spindle_on = False
        self._spindle = 0.0  # share of full speed
        self._left_s = 0.0  # of the axes' stop
        self._held_s = 0.0
        self._run_s = 0.0

    @property
    def cycle_running(self) -> bool:
        """An automatic program moves, or has not come to rest yet."""
        return self.cycle in (Cycle.RUNNING, Cycle.STOPPING)

    @property
    def standstill(self) -> bool:
        """Axes and spindle are at rest."""
        return not self.cycle_running and self._spindle == 0.0

    def start(self, force: bool) -> str | None:
        """Cycle start; the words of why not, or None.  ``force``: the permit is not looked at."""
        if self.stop_pressed:
            return "the emergency stop is pressed"
        if self.cycle is not Cycle.IDLE:
            return f"a program is {self.cycle}: end it first"
        if not (self.permit or self.key or force):
            return "no permit: the start permit contact is open"
        self.cycle, self.spindle_on, self.held_by_contact, self._run_s = (
            Cycle.RUNNING, True, False, 0.0,
        )  # fmt: skip
        return None

    def hold(self) -> str | None:
        """Feed hold by the operator."""
        if self.cycle is not Cycle.RUNNING:
            return f"the program is {self.cycle}"
        self._feed_hold(by_contact=False)
        return None

    def resume(self) -> str | None:
        """Cycle start out of a feed hold: needs both contacts, or the key."""
        if self.cycle is not Cycle.HELD:
            return f"the program is {self.cycle}"
        if not self.key and not (self.permit and self.healthy):
            return "no permit: the start permit contact or the hold contact is open"
        self.cycle, self.spindle_on, self.held_by_contact = Cycle.RUNNING, True, False
        return None

    def end(self) -> str | None:
        """The program has finished, or the operator broke it off."""
        if self.cycle is Cycle.IDLE:
            return "no program runs"
        self.cycle, self.spindle_on = Cycle.IDLE, False
        return None

    def press_stop(self, pressed: bool) -> None:
        """Emergency stop: motion and spindle off; vacuum is not touched."""
        self.stop_pressed = pressed
        if pressed:
            self.cycle, self.spindle_on = Cycle.IDLE, False

    def step(self, seconds: float, permit: bool, healthy: bool) -> None:
        """Let ``seconds`` pass with the contacts as given."""
        self.permit, self.healthy = permit, healthy
        obeys = not (self.key or self.ignores_hold)
        if self.cycle is Cycle.RUNNING and not healthy and obeys:
            self._feed_hold(by_contact=True)
        self._move(seconds)
        coast = seconds / self.numbers.coast_s if self.numbers.coast_s > 0.0 else 1.0
        self._spindle = 1.0 if self.spindle_on else max(0.0, self._spindle - coast)

    def _feed_hold(self, by_contact: bool) -> None:
        self.cycle, self.held_by_contact = Cycle.STOPPING, by_contact
        self._left_s, self._held_s = self.numbers.stop_s, 0.0

    def _move(self, seconds: float) -> None:
        if self.cycle is Cycle.RUNNING:
            self._run_s += seconds
            if self.numbers.program_s is not None and self._run_s >= self.numbers.program_s:
                self.end()
        elif self.cycle is Cycle.STOPPING:
            self._left_s -= seconds
            self.cycle = Cycle.HELD if self._left_s <= 0.0 else Cycle.STOPPING
        elif self.cycle is Cycle.HELD and self.held_by_contact:
            self._held_s += seconds
            limit_s = self.numbers.hold_spindle_stop_s
            if limit_s is not None and self._held_s >= limit_s:
                self.spindle_on = False
