"""A vacuum gauge that is read from Modbus registers: a number, or a current loop's milliamps."""

from __future__ import annotations

from collections.abc import Sequence

from hardware.current_loop import at_current, loop_fault
from hardware.frames import REGISTERS, number_of
from hardware.gauge import Trace
from hardware.modbus_link import Link, Request
from hardware.scaling import sample_of
from kiosk.interlock.reading import Fault, Sample
from kiosk.site import Layout


def reading_of(
    registers: Sequence[int], layout: Layout, air_kpa: float | None, taken_s: float
) -> Sample:
    """What a layout makes of its registers.

    registers  as many as its type takes, each 0 to 65535
    air_kpa    local air pressure; needed when the layout is absolute

    Raises ValueError when the count of registers is wrong, or the air's pressure missing.
    """
    raw = number_of(registers, layout.type, layout.word_order)
    value = raw * layout.scale + layout.offset
    if layout.span is not None:
        if fault := loop_fault(value, taken_s):
            return fault
        value = at_current(value, layout.span)
    return sample_of(raw, value, layout, air_kpa, taken_s)


class ModbusGauge:
    """Reads one block of registers at each poll.  With a ``span`` they hold milliamps."""

    def __init__(
        self,
        name: str,
        layout: Layout,
        link: Link,
        air_kpa: float | None,
        trace: Trace | None = None,
    ) -> None:
        self._name = name
        self._layout = layout
        self._link = link
        self._air_kpa = air_kpa
        self._trace = trace
        self._request = Request(layout.function, layout.register, REGISTERS[layout.type])

    @property
    def name(self) -> str:
        """See ``Gauge``."""
        return self._name

    def poll(self) -> Sample:
        """See ``Gauge``."""
        answer = self._link.ask(self._request)
        if isinstance(answer, Fault):
            return answer
        if self._trace is not None:
            self._trace(b"".join(number.to_bytes(2, "big") for number in answer.registers))
        return reading_of(answer.registers, self._layout, self._air_kpa, answer.taken_s)

    def close(self) -> None:
        """See ``Gauge``."""
        self._link.close()
