"""The one thread that talks to the machine interface: writes contacts, reads contacts and inputs.

It writes what the loop last decided, once per step, newest wins, and never by itself: when the
loop stops, nothing is written, ALIVE stops toggling, and the contacts open outside the program.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import asdict

from hardware.machine_io import MachineIO
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.decision import Outputs
from kiosk.interlock.reading import Signals, SignalSample


class Outlet(Worker):
    """``inputs`` and ``contacts`` are the newest samples; ``written_s`` the last good write."""

    def __init__(
        self,
        wired: frozenset[str],
        machine: MachineIO,
        shared: Shared,
    ) -> None:
        super().__init__("machine signals", shared)
        self.inputs: SignalSample | None = None
        self.contacts: SignalSample | None = None
        self.written_s: float | None = None
        self._wired = wired
        self._machine = machine
        self._wanted: Outputs | None = None
        self._asked = threading.Event()
        self._done = threading.Event()

    def put(self, outputs: Outputs) -> None:
        """Have these contacts written; replaces what was not written yet.  Never waits."""
        self._wanted = outputs
        self._done.clear()
        self._asked.set()

    def settle(self, timeout_s: float) -> bool:
        """Wait until the newest outputs were sent once; False when that took too long."""
        return self._done.wait(timeout_s)

    def stop(self) -> None:
        """Ask the thread to end."""
        super().stop()
        self._asked.set()

    def work(self) -> None:
        """One exchange for each step until stopped."""
        while not self.stopping.is_set():
            self._asked.wait()
            self._asked.clear()
            if self._wanted is not None:
                self._exchange(self._wanted)
        self._machine.close()

    def _exchange(self, outputs: Outputs) -> None:
        if self._wired:
            fault = self._machine.write(self._named(outputs))
            if fault is None:
                self.written_s = self.shared.clock()
        if not self._asked.is_set():
            self._done.set()
        inputs, contacts = self._machine.read()
        news = _differs(self.inputs, inputs)
        self.inputs, self.contacts = inputs, contacts
        if news:
            self.shared.bell.ring()

    def _named(self, outputs: Outputs) -> Mapping[str, bool]:
        return {name: on for name, on in asdict(outputs).items() if name in self._wired}


def _differs(before: SignalSample | None, after: SignalSample) -> bool:
    """True when a step is due at once: a signal changed, or signals came or went."""
    if isinstance(before, Signals) and isinstance(after, Signals):
        return before.values != after.values
    return type(before) is not type(after)
