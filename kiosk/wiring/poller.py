"""One thread for each device that is watched, so that a silent one does not slow the others."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

from hardware.gauge import Gauge
from hardware.machine_io import MachineIO
from kiosk.interlock.reading import Reading, Sample, SignalSample

RATE_WINDOW_S = 2.0  # over which the achieved rate is counted, as the guard does
IO_HZ = 5.0


class Poller(threading.Thread):
    """Asks at a rate until stopped.  ``failure`` is what ended it before its time."""

    def __init__(self, ask: Callable[[], None], close: Callable[[], None], rate_hz: float,
                 clock: Callable[[], float]) -> None:  # fmt: skip
        super().__init__(daemon=True)
        self.failure: Exception | None = None
        self._ask = ask
        self._close = close
        self._period_s = 1.0 / rate_hz
        self._clock = clock
        self._stopping = threading.Event()

    def run(self) -> None:
        """Ask until stopped; a late one is not made up for."""
        due = self._clock()
        try:
            while not self._stopping.is_set():
                self._ask()
                now = self._clock()
                due = max(due + self._period_s, now)
                self._stopping.wait(due - now)
        except Exception as failure:  # top of a thread; told by whoever watches
            self.failure = failure
        finally:
            self._close()

    def stop(self) -> None:
        """End after the present question."""
        self._stopping.set()


class WatchedGauge:
    """A gauge's newest sample, what came on the wire, and how often it answers."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.newest: Sample | None = None
        self.raw = b""
        self._taken: deque[float] = deque(maxlen=1000)

    def traced(self, raw: bytes) -> None:
        """Keep what came."""
        self.raw = raw

    def poll(self, gauge: Gauge) -> None:
        """One more sample."""
        sample = gauge.poll()
        if isinstance(sample, Reading):
            self._taken.append(sample.taken_s)
        self.newest = sample

    def rate_hz(self, now_s: float) -> float:
        """Good readings per second over the last 2 s."""
        return sum(now_s - at <= RATE_WINDOW_S for at in tuple(self._taken)) / RATE_WINDOW_S


class WatchedSignals:
    """The newest of the machine's inputs and of the contacts as the module tells them."""

    def __init__(self) -> None:
        self.inputs: SignalSample | None = None
        self.contacts: SignalSample | None = None

    def poll(self, io: MachineIO) -> None:
        """Read both; nothing is written."""
        self.inputs, self.contacts = io.read_inputs(), io.read_contacts()
