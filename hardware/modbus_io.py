"""The machine's signals through a Modbus module with discrete inputs and coils."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from hardware.modbus_link import Link, Request
from kiosk.interlock.reading import Fault, Signals, SignalSample


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

    def write(self, contacts: Mapping[str, bool]) -> Fault | None:
        """See ``MachineIO``."""
        closed = {at: contacts.get(name) is True for name, at in self._outputs.items()}
        for first, count in runs_of(closed):
            bits = tuple(closed[first + step] for step in range(count))
            function = 5 if count == 1 else 15
            answer = self._link.ask(Request(function, first, count, bits))
            if isinstance(answer, Fault):
                return answer
        return None

    def read(self) -> tuple[SignalSample, SignalSample]:
        """See ``MachineIO``."""
        return self._bits(2, self._inputs), self._bits(1, self._outputs)

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
