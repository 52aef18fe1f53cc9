"""One thread for each gauge: polls it at its rate and keeps the newest sample.

It knows neither plan nor state.  A silent or garbled gauge is a Fault and polled on.
"""

from __future__ import annotations

from collections import deque

from hardware.gauge import Gauge
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.reading import Reading, Sample

RATE_WINDOW_S = 2.0  # over which the achieved rate is counted


class Reader(Worker):
    """Polls one gauge.  ``newest`` is its newest sample, None until the first."""

    def __init__(
        self,
        gauge: Gauge,
        rate_hz: float,
        shared: Shared,
    ) -> None:
        super().__init__(f"gauge {gauge.name}", shared)
        self.gauge = gauge.name
        self.newest: Sample | None = None
        self._period_s = 1.0 / rate_hz
        self._gauge = gauge
        self._taken: deque[float] = deque(maxlen=1000)

    def work(self) -> None:
        """Poll until stopped; a late poll is not made up for."""
        due = self.shared.clock()
        while not self.stopping.is_set():
            self._keep(self._gauge.poll())
            now = self.shared.clock()
            due = max(due + self._period_s, now)
            self.stopping.wait(due - now)
        self._gauge.close()

    def _keep(self, sample: Sample) -> None:
        if isinstance(sample, Reading):
            self._taken.append(sample.taken_s)
        self.newest = sample
        self.shared.bell.ring()

    def rate_hz(self, now_s: float) -> float:
        """Good readings per second over the last 2 s."""
        recent = sum(1 for at in tuple(self._taken) if now_s - at <= RATE_WINDOW_S)
        return recent / RATE_WINDOW_S
