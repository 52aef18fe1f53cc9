"""A vacuum gauge that sends lines of text on a serial line: one number on each."""

from __future__ import annotations

from hardware.gauge import Trace
from hardware.scaling import sample_of
from hardware.serial_text import TextPort
from kiosk.interlock.reading import Fault, Sample, Why
from kiosk.site import Layout, TextForm
from kiosk.site.textform import number_in

TEXT_LAYOUT = Layout(
    "", 0, 0, "text", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0), text=TextForm()
)  # a text gauge without a layout: sends by itself, vacuum in kPa, larger is stronger


class SerialGauge:
    """Reads one line at each poll."""

    def __init__(
        self,
        name: str,
        layout: Layout,
        port: TextPort,
        air_kpa: float | None,
        trace: Trace | None = None,
    ) -> None:
        self._name = name
        self._layout = layout
        self._form = layout.text or TextForm()
        self._port = port
        self._air_kpa = air_kpa
        self._trace = trace

    @property
    def name(self) -> str:
        """See ``Gauge``."""
        return self._name

    def poll(self) -> Sample:
        """See ``Gauge``."""
        came = self._port.line()
        if isinstance(came, Fault):
            return came
        line, taken_s = came
        if self._trace is not None:
            self._trace(line)
        raw = number_in(line, self._form, self._layout.unit)
        if raw is None:
            detail = f"not a number in {self._layout.unit}: {line[:60]!r}"
            return Fault(Why.GARBLED, detail, taken_s)
        value = raw * self._layout.scale + self._layout.offset
        return sample_of(raw, value, self._layout, self._air_kpa, taken_s)

    def close(self) -> None:
        """See ``Gauge``."""
        self._port.close()
