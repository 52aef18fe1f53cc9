"""The machine's signals through a Modbus module with discrete inputs and coils."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

from hardware.modbus_link import Link, Request
from kiosk.interlock.reading import Fault, Signals, SignalSample, Why

FIRST = ("start_permit", "hold_healthy")  # what the machine runs by


def runs_of(addresses: Iterable[int]) -> list[tuple[int, int]]:
    """Addresses as runs (first, count), so that no coil between two of ours is ever written."""
    runs: list[tuple[int, int]] = []
    for address in sorted(set(addresses)):
        if runs and address == runs[-1][0] + runs[-1][1]:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        else:
            runs.append((address, 1))
    return runs


class ModbusIO:
    """Inputs by function 2; contacts written by function 5 or 15 and read back by function 1."""

    def __init__(
        self,
        inputs: Mapping[str, int],
        outputs: Mapping[str, int],
        link: Link,
        clock: Callable[[], float],
    ) -> None:
        self._inputs = dict(inputs)
        self._outputs = dict(outputs)
        self._link = link
        self._clock = clock
        self._runs = sorted(runs_of(self._outputs.values()), key=self._rank)

    def write(self, contacts: Mapping[str, bool], until_s: float = math.inf) -> Fault | None:
        """See ``MachineIO``."""
        closed = {at: contacts.get(name) is True for name, at in self._outputs.items()}
        opened = dict.fromkeys(closed, False)
        met: Fault | None = None
        for run in self._runs:
            if _line_in_trouble(met) and self._rank(run) == len(FIRST):
                continue  # each try may cost a time-out, and newer contacts may be waiting
            answer = self._link.ask(_writing(run, closed if self._clock() <= until_s else opened))
            if isinstance(answer, Fault):
                met = met or answer
        return met

    def _rank(self, run: tuple[int, int]) -> int:
        """0 for a run with the permit, 1 with the hold, 2 for any other."""
        at = [self._outputs.get(name) for name in FIRST]
        inside = [rank for rank, coil in enumerate(at) if coil in range(run[0], sum(run))]
        return min(inside, default=len(FIRST))

    def read_inputs(self) -> SignalSample:
        """See ``MachineIO``."""
        return self._bits(2, self._inputs)

    def read_contacts(self) -> SignalSample:
        """See ``MachineIO``."""
        return self._bits(1, self._outputs)

    def close(self) -> None:
        """See ``MachineIO``."""
        self._link.close()

    def _bits(self, function: int, names: dict[str, int]) -> SignalSample:
        """The named bits, as old as the oldest answer among them."""
        taken_s = self._clock()
        values: dict[int, bool] = {}
        for first, count in runs_of(names.values()):
            answer = self._link.ask(Request(function, first, count))
            if isinstance(answer, Fault):
                return answer
            taken_s = answer.taken_s if not values else taken_s
            values |= {first + step: bit for step, bit in enumerate(answer.bits)}
        return Signals(taken_s, {name: values[at] for name, at in names.items()})


def _writing(run: tuple[int, int], closed: Mapping[int, bool]) -> Request:
    first, count = run
    bits = tuple(closed[first + step] for step in range(count))
    return Request(5 if count == 1 else 15, first, count, bits)


def _line_in_trouble(met: Fault | None) -> bool:
    """A refusal is about one coil; anything else is about the line."""
    return met is not None and met.why is not Why.REFUSED
