"""Ctrl-C while libraries are loaded: some make an error of their own of it."""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Iterator


@contextlib.contextmanager
def ctrl_c_later() -> Iterator[None]:
    """Let Ctrl-C wait until the block is done."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
