"""Scheduled callbacks that survive their own mistakes.

The clock of the drawing library cancels an interval for ever when its callback raises once: the
screen would freeze and look alive.  Every scheduled callback goes through ``safely``.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable
from typing import Any

_seen: list[str] = []
_on_fault: list[Callable[[str], None]] = []


def tell(listener: Callable[[str], None]) -> None:
    """Call ``listener`` with one line whenever a callback failed."""
    _on_fault.append(listener)


def forget() -> None:
    """Drop all listeners and what was seen."""
    _on_fault.clear()
    _seen.clear()


def faults() -> tuple[str, ...]:
    """One line for each failed callback so far."""
    return tuple(_seen)


def safely(callback: Callable[..., Any]) -> Callable[..., None]:
    """The callback, with any exception printed, remembered and told instead of raised."""

    def wrapped(*args: Any) -> None:
        try:
            callback(*args)
        except Exception as fault:
            line = f"{type(fault).__name__}: {fault}"
            if line not in _seen:
                traceback.print_exc(file=sys.stderr)
                _seen.append(line)
            for listener in list(_on_fault):
                listener(line)

    return wrapped
