"""A thread that looks after files: what reads them is a process of its own, for each change."""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

from kiosk.guard.child import Child
from kiosk.guard.failure import say
from kiosk.guard.worker import Shared, Worker

READ_WITHIN_S = 20.0
_NEVER = object()  # the mark of what was not looked at yet


class Looker(Worker):
    """Reads at the start and after every change; subclasses say what, and keep what came of it.

    What could not be read is said, and tried again at the next look.
    """

    every_s = 2.0  # between two looks

    def __init__(self, name: str, shared: Shared) -> None:
        super().__init__(name, shared)
        self._seen: object = _NEVER
        self._child = Child()

    @abstractmethod
    def mark(self) -> object:
        """Something that differs when there is anything new to read; None for nothing there."""

    @abstractmethod
    def request(self) -> dict[str, object]:
        """What the process is asked."""

    @abstractmethod
    def keep(self, answer: dict[str, Any] | None) -> None:
        """What came of it; None where nothing is there any more."""

    def work(self) -> None:
        """Look until stopped."""
        while not self.stopping.is_set():
            mark = self.mark()
            if mark != self._seen:
                self._read(mark)
            self.stopping.wait(self.every_s)

    def _read(self, mark: object) -> None:
        self._child = Child()
        if self.stopping.is_set():
            return  # ``stop`` may have ended the child before
        answer = None if mark is None else self._child.ask(self.request(), READ_WITHIN_S)
        if isinstance(answer, str):
            if not self.stopping.is_set():
                say(f"{self.name} not read: {answer}")
            return
        self._seen = mark
        self.keep(answer)

    def stop(self) -> None:
        """Ask the thread to end, and its child."""
        super().stop()
        self._child.end()
