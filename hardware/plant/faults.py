"""How the simulated devices misbehave, by name."""

from __future__ import annotations

from dataclasses import dataclass, field

# What a face does with an answer, or in place of it.
LINE_FAULTS = (
    "silent",  # takes the request, answers nothing, does nothing
    "slow",  # answers after SLOW_S
    "garbled",  # answers bytes that are no frame
    "wrong_function",  # answers as if another function had been asked
    "wrong_unit",  # answers for another unit
    "wrong_transaction",  # answers with transaction 0 (TCP), with a wrong check sum (serial)
    "short",  # two bytes of data fewer, lengths agree with it
    "long",  # two bytes of data more, lengths agree with it
    "exception",  # answers exception 4, server device failure
    "dribble",  # sends an answer byte by byte, DRIBBLE_S apart
    "reset",  # breaks the connection off when asked
    "closed",  # refuses connections and drops those there are
)
# What the gauge says, in an answer that is whole.
VALUE_FAULTS = (
    "stuck",
    "not_a_number",
    "over_range",
    "drifts_up",  # says DRIFT_KPA_PER_S more with every second
    "drifts_down",
)
# What the machine or the output module does.
MACHINE_FAULTS = (
    "ignores_hold",  # the machine goes on when HOLD HEALTHY opens
    "permit_stuck",  # the permit's coil stays as it is
    "hold_stuck",  # the hold contact's coil stays as it is
    "feedback_wrong",  # the feedback input says the opposite
    "running_lost",  # the wire of the input "cycle running" is broken
    "inputs_dead",  # the supply of the inputs has failed: all are off
    "watch_off",  # the module stays as it is when its master is quiet
    "pump_off",  # the pump stands still, its valve says open
)
SLOW_S = 0.45
DRIBBLE_S = 0.05
DRIFT_KPA_PER_S = 1.0
FACES = ("gauge", "io")


@dataclass(slots=True)
class Faults:
    """The faults that stand now."""

    line: dict[str, set[str]] = field(default_factory=lambda: {face: set() for face in FACES})
    value: set[str] = field(default_factory=set)
    machine: set[str] = field(default_factory=set)

    def set(self, name: str, on: bool, face: str = "gauge") -> str | None:
        """Raise or clear one; the words of why not, or None."""
        if name in LINE_FAULTS and face in FACES:
            standing = self.line[face]
        elif name in VALUE_FAULTS:
            standing = self.value
        elif name in MACHINE_FAULTS:
            standing = self.machine
        else:
            return f"no fault {name!r} on {face!r}"
        if on:
            standing.add(name)
        else:
            standing.discard(name)
        return None

    def standing(self) -> list[str]:
        """Every fault that stands, those of a face as face.name."""
        lines = [f"{face}.{name}" for face in FACES for name in self.line[face]]
        return sorted([*lines, *self.value, *self.machine])
