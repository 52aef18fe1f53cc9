"""A vacuum gauge that is read from Modbus registers: a number, or a current loop's milliamps."""

from __future__ import annotations

from hardware.current_loop import at_current, loop_fault
from hardware.frames import REGISTERS, number_of
from hardware.modbus_link import Link, Request
from hardware.scaling import sample_of
from kiosk.interlock.reading import Fault, Sample
from kiosk.site import Layout


class ModbusGauge:
    """Reads one block of registers at each poll.  With a ``span`` they hold milliamps."""

    def __init__(self, name: str, layout: Layout, link: Link, air_kpa: float | None) -> None:
        self._name = name
        self._layout = layout
        self._link = link
        self._air_kpa = air_kpa
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
        layout = self._layout
        raw = number_of(answer.registers, layout.type, layout.word_order)
        value = raw * layout.scale + layout.offset
        if layout.span is not None:
            if fault := loop_fault(value, answer.taken_s):
                return fault
            value = at_current(value, layout.span)
        return sample_of(raw, value, layout, self._air_kpa, answer.taken_s)

    def close(self) -> None:
        """See ``Gauge``."""
        self._link.close()
