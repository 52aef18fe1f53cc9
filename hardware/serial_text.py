"""A serial port on which a gauge writes lines of text, by itself or when it is asked.

Only whole lines are read: a serial port's own line reader gives up in the middle of a line when
its time is over, and both halves would parse.

An answer in text does not say which question it answers.  So a gauge that must be asked has one
question out at a time; after anything but one whole line for it, nothing is asked before the line
was quiet for ``QUIET_S``, and what comes until then is thrown away.  An answer that is later than
``TIMEOUT_S`` and ``QUIET_S`` together cannot be told from the answer to the next question.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

from hardware.frames import WholeLines
from hardware.modbus_link import AGAIN_S, QUIET_S, TIMEOUT_S
from hardware.serial_port import TerminalError, open_port
from kiosk.interlock.reading import Fault, Why
from kiosk.site.address import SerialAddress
from kiosk.site.textform import TextForm

OLD_S = 0.25  # what waited longer than this in the system's buffer is no fresh sample
_FULL = 4095  # bytes a terminal line of the system holds; then newer ones are lost (tty(4))

Line = tuple[bytes, float]  # without its end, and when it came, seconds of the clock


class TextPort(ABC):
    """A port that comes back by itself."""

    def __init__(self, address: SerialAddress, clock: Callable[[], float]) -> None:
        self._address = address
        self._clock = clock
        self._port: Any = None
        self._tried_s: float | None = None
        self._last = Fault(Why.CLOSED, "not opened yet", clock())

    def line(self) -> Line | Fault:
        """The newest whole line, or why there is none.  Never raises for what the gauge does."""
        now_s = self._clock()
        waiting = self._tried_s is not None and now_s - self._tried_s < AGAIN_S
        if self._port is None and waiting:
            return Fault(self._last.why, self._last.detail, now_s)
        try:
            if self._port is None:
                self._tried_s = now_s
                self._port = open_port(self._address, 0.0)
                self._opened()
            return self._take(self._port)
        except (OSError, TerminalError) as gone:
            self.close()
            self._last = Fault(Why.CLOSED, f"{self._address.port}: {gone}", self._clock())
            return self._last

    def close(self) -> None:
        """Let the port go.  May be called twice."""
        if self._port is not None:
            self._port.close()
        self._port = None

    @abstractmethod
    def _opened(self) -> None:
        """Nothing is known of what comes on the port."""

    @abstractmethod
    def _take(self, port: Any) -> Line | Fault:
        """The newest whole line.  Raises what the port raises."""


class StreamedText(TextPort):
    """A gauge that sends by itself, at its own rate.  Nothing is ever sent to it."""

    def __init__(
        self, address: SerialAddress, form: TextForm, clock: Callable[[], float]
    ) -> None:  # fmt: skip
        super().__init__(address, clock)
        self._lines = WholeLines(form.ends)
        self._read_s = clock()

    def _opened(self) -> None:
        self._read_s = self._clock()
        self._lines.resync()

    def _take(self, port: Any) -> Line | Fault:
        port.timeout = 0.0
        waiting = port.read(_FULL)
        if len(waiting) >= _FULL or self._clock() - self._read_s > OLD_S:
            self._lines.resync()
            waiting = b""
        self._read_s = self._clock()
        lines = self._lines.feed(waiting)
        ends_s = self._read_s + TIMEOUT_S
        while not lines and (left_s := ends_s - self._clock()) > 0.0:
            port.timeout = left_s
            lines = self._lines.feed(port.read(max(1, port.in_waiting)))
            self._read_s = self._clock()
        if not lines:
            return Fault(Why.SILENT, f"no line in {TIMEOUT_S:g} s", self._clock())
        return lines[-1], self._read_s


class AskedText(TextPort):
    """A gauge that sends one line for each request."""

    def __init__(
        self, address: SerialAddress, form: TextForm, clock: Callable[[], float]
    ) -> None:  # fmt: skip
        super().__init__(address, clock)
        self._request = form.asks or b""
        self._form = form
        self._owing = True  # bytes may still come that are no answer to the next request

    def _opened(self) -> None:
        self._owing = True

    def _take(self, port: Any) -> Line | Fault:
        if noise := self._noise(port):
            self._owing = True
            detail = f"{len(noise)} bytes came unasked: waiting for a quiet line"
            return Fault(Why.GARBLED, detail, self._clock())
        self._owing = True
        port.write_timeout = TIMEOUT_S
        port.write(self._request)
        return self._answer(port)

    def _noise(self, port: Any) -> bytes:
        """What came unasked; the end of a line that was read already is none."""
        port.timeout = QUIET_S if self._owing else 0.0
        came: bytes = port.read(_FULL)
        return came if self._owing else came.strip(b" \t\r\n")

    def _answer(self, port: Any) -> Line | Fault:
        reader = WholeLines(self._form.ends, whole_from_start=True)
        echo, heard, lines = self._request.strip(b"\r\n"), b"", list[bytes]()
        ends_s = self._clock() + TIMEOUT_S
        while not lines and (left_s := ends_s - self._clock()) > 0.0:
            port.timeout = left_s
            data = port.read(max(1, port.in_waiting))
            heard += data
            lines = [line for line in reader.feed(data) if line.strip(b"\r\n") != echo]
        now_s = self._clock()
        if not heard:
            return Fault(Why.SILENT, f"no answer in {TIMEOUT_S:g} s", now_s)
        if len(lines) != 1 or reader.rest.strip():
            return Fault(Why.GARBLED, f"not one whole line came: {heard[:60]!r}", now_s)
        self._owing = False
        return lines[0], now_s


def open_text(address: SerialAddress, form: TextForm, clock: Callable[[], float]) -> TextPort:
    """The port for a form; nothing is opened or sent before the first line is wanted."""
    kind = StreamedText if form.asks is None else AskedText
    return kind(address, form, clock)
