"""How threads hand things to the loop and back: nobody waits for anybody."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

Clock = Callable[[], float]  # monotonic seconds
T = TypeVar("T")


class Bell:
    """Wakes the loop.  A ring while the loop is awake is kept for its next wait."""

    def __init__(self) -> None:
        self._rung = threading.Event()

    def ring(self) -> None:
        """Ask for a step now."""
        self._rung.set()

    def wait(self, timeout_s: float) -> bool:
        """Wait for a ring, at most so long; True when it rang."""
        rang = self._rung.wait(max(0.0, timeout_s))
        self._rung.clear()
        return rang


class Tray(Generic[T]):
    """A short queue that refuses when full, so that a flood cannot grow the process."""

    def __init__(self, room: int) -> None:
        self._room = room
        self._items: deque[T] = deque()
        self._lock = threading.Lock()

    def put(self, item: T) -> bool:
        """Add an item; False when there is no room for it."""
        with self._lock:
            if len(self._items) >= self._room:
                return False
            self._items.append(item)
            return True

    def take_all(self) -> tuple[T, ...]:
        """Everything in order of arrival; the tray is empty afterwards."""
        with self._lock:
            items = tuple(self._items)
            self._items.clear()
            return items
