"""Ctrl-C while libraries are loaded: some make an error of their own of it."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator


@contextlib.contextmanager
def ctrl_c_later() -> Iterator[None]:
    """Let Ctrl-C wait until the block is done.  Off the main thread nothing is changed."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or before is None:
        yield
        return
    pressed: list[int] = []
    signal.signal(signal.SIGINT, lambda number, _frame: pressed.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if pressed:
        signal.raise_signal(signal.SIGINT)
