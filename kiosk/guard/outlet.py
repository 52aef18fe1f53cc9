"""The one thread that talks to the machine interface: writes contacts, reads contacts and inputs.

It writes what the loop last decided, once per step, newest wins, and never by itself: when the
loop stops, nothing is written, ALIVE stops toggling, and the contacts open outside the program.
What was decided longer ago than ``HUNG_S`` closes nothing: a process that stood still and goes on
in the middle of an exchange must not close again what has opened meanwhile.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import asdict

from hardware.machine_io import MachineIO
from kiosk.guard.worker import Shared, Worker
from kiosk.interlock.decision import Outputs
from kiosk.interlock.reading import Signals, SignalSample

HUNG_S = 1.0  # without a step: the pulse relay has opened both contacts by itself


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
        self._changed = threading.Condition()  # held for an assignment, never for an exchange
        self._wanted = Outputs()
        self._decided_s = 0.0
        self._put = 0  # number of the newest outputs
        self._sent = 0  # number of the newest that were sent
        self._stand: tuple[bool, bool] | None = (
            None  # permit and hold, when the last write was good
        )

    def put(self, outputs: Outputs, decided_s: float) -> None:
        """Have these contacts written, decided at that time; replaces what was not written yet.
        Never waits.
        """
        with self._changed:
            self._wanted, self._decided_s, self._put = outputs, decided_s, self._put + 1
            self._changed.notify_all()

    def settle(self, timeout_s: float) -> bool:
        """Wait until the newest outputs were sent once; False when that took too long."""
        with self._changed:
            number = self._put
            return self._changed.wait_for(lambda: self._sent >= number, timeout_s)

    def stop(self) -> None:
        """Ask the thread to end."""
        super().stop()
        with self._changed:
            self._changed.notify_all()

    def work(self) -> None:
        """One exchange for each step until stopped, and for what was still put."""
        while not self.stopping.is_set() or self._put > self._sent:
            self._next()
        self._machine.close()

    def _next(self) -> None:
        """Wait for outputs that were not sent yet, or the end; exchange them if there are any."""
        with self._changed:
            self._changed.wait_for(lambda: self._put > self._sent or self.stopping.is_set())
            outputs, until_s, number = self._wanted, self._decided_s + HUNG_S, self._put
        if number > self._sent:
            self._exchange(outputs, until_s, number)

    def _exchange(self, outputs: Outputs, until_s: float, number: int) -> None:
        """Contacts that change are written at once: they wait for one question on the line at most.
        Those that stay are read back before they are written again: else what another master
        wrote meanwhile would never be seen.
        """
        stays = self._stand == _both(outputs)
        if stays and not self._read(outputs):
            return
        self._write(outputs, until_s, number)
        if not stays:
            self._read(outputs)

    def _write(self, outputs: Outputs, until_s: float, number: int) -> None:
        if self._wired:
            fault = self._machine.write(self._named(outputs), until_s)
            self._stand = None
            if fault is None:
                self.written_s = self.shared.clock()
                self._stand = _both(outputs)
        with self._changed:
            self._sent = number
            self._changed.notify_all()

    def _read(self, outputs: Outputs) -> bool:
        """Both readings; False when contacts that change came between and cut them short."""
        before, self.inputs = self.inputs, self._machine.read_inputs()
        if _differs(before, self.inputs):
            self.shared.bell.ring()
        if self._changes(outputs):
            return False
        self.contacts = self._machine.read_contacts()
        return not self._changes(outputs)

    def _changes(self, outputs: Outputs) -> bool:
        """Whether newer outputs than these are waiting that switch a contact."""
        with self._changed:
            return _both(outputs) != _both(self._wanted)

    def _named(self, outputs: Outputs) -> Mapping[str, bool]:
        return {name: on for name, on in asdict(outputs).items() if name in self._wired}


def _both(outputs: Outputs) -> tuple[bool, bool]:
    """What the machine runs by."""
    return outputs.start_permit, outputs.hold_healthy


def _differs(before: SignalSample | None, after: SignalSample) -> bool:
    """True when a step is due at once: a signal changed, or signals came or went."""
    if isinstance(before, Signals) and isinstance(after, Signals):
        return before.values != after.values
    return type(before) is not type(after)
