"""A vacuum gauge that sends lines of text on a serial line, by itself, at its own rate.

A line is one number, and its unit if it likes: ``-80.25 kPa``.  Only whole lines are read: a
serial port's own line reader gives up in the middle of a line when its time is over, and both
halves would parse.  Nothing is ever sent to the gauge.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from hardware.frames import WholeLines
from hardware.gauge import Trace
from hardware.modbus_link import AGAIN_S, TIMEOUT_S
from hardware.scaling import sample_of
from hardware.serial_port import TerminalError, open_port
from kiosk.interlock.reading import Fault, Sample, Why
from kiosk.site import Layout
from kiosk.site.address import SerialAddress

OLD_S = 0.25  # what waited longer than this in the system's buffer is no fresh sample
_FULL = 4095  # bytes a terminal line of the system holds; then newer ones are lost (tty(4))
_LINE = re.compile(rb"[ \t]*([+-]?\d{1,6}(?:\.\d{1,6})?)(?:[ \t]*([A-Za-z]{1,5}))?[ \t]*")

TEXT_LAYOUT = Layout(
    "text", 3, 0, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0)
)  # a text gauge without a layout: vacuum in kPa, larger is stronger


def number_in(line: bytes, unit: str) -> float | None:
    """The number on a line; None when the line is anything else, or in another unit."""
    match = _LINE.fullmatch(line)
    if match is None or (match[2] or unit.encode()) != unit.encode():
        return None
    return float(match[1])


class SerialGauge:
    """Reads the newest whole line at each poll, and waits for one when there is none."""

    def __init__(
        self,
        name: str,
        address: SerialAddress,
        layout: Layout,
        clock: Callable[[], float],
        air_kpa: float | None,
        *,
        trace: Trace | None = None,
    ) -> None:
        self._trace = trace
        self._name = name
        self._address = address
        self._layout = layout
        self._clock = clock
        self._air_kpa = air_kpa
        self._lines = WholeLines()
        self._port: Any = None
        self._tried_s: float | None = None
        self._read_s = clock()
        self._last = Fault(Why.CLOSED, "not opened yet", clock())

    @property
    def name(self) -> str:
        """See ``Gauge``."""
        return self._name

    def poll(self) -> Sample:
        """See ``Gauge``."""
        now_s = self._clock()
        waiting = self._tried_s is not None and now_s - self._tried_s < AGAIN_S
        if self._port is None and waiting:
            return Fault(self._last.why, self._last.detail, now_s)
        try:
            line = self._newest_line()
        except (OSError, TerminalError) as gone:
            self.close()
            self._last = Fault(Why.CLOSED, f"{self._address.port}: {gone}", self._clock())
            return self._last
        return self._sample(line)

    def close(self) -> None:
        """See ``Gauge``."""
        if self._port is not None:
            self._port.close()
        self._port = None

    def _open(self) -> None:
        self._tried_s = self._read_s = self._clock()
        self._port = open_port(self._address, 0.0)
        self._lines.resync()

    def _newest_line(self) -> bytes | None:
        """The newest whole line, None when none came in time.  Raises what the port raises."""
        if self._port is None:
            self._open()
        self._port.timeout = 0.0
        waiting = self._port.read(_FULL)
        if len(waiting) >= _FULL or self._clock() - self._read_s > OLD_S:
            self._lines.resync()
            waiting = b""
        self._read_s = self._clock()
        lines = self._lines.feed(waiting)
        ends_s = self._read_s + TIMEOUT_S
        while not lines and (left_s := ends_s - self._clock()) > 0.0:
            self._port.timeout = left_s
            lines = self._lines.feed(self._port.read(max(1, self._port.in_waiting)))
            self._read_s = self._clock()
        return lines[-1] if lines else None

    def _sample(self, line: bytes | None) -> Sample:
        if line is None:
            return Fault(Why.SILENT, f"no line in {TIMEOUT_S:g} s", self._clock())
        if self._trace is not None:
            self._trace(line)
        raw = number_in(line, self._layout.unit)
        if raw is None:
            return Fault(Why.GARBLED, f"not a number in {self._layout.unit}: {line!r}",
                         self._read_s)  # fmt: skip
        value = raw * self._layout.scale + self._layout.offset
        return sample_of(raw, value, self._layout, self._air_kpa, self._read_s)
