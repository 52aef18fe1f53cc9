"""Memory of what was taken off the screen, given back at once."""

from __future__ import annotations

import contextlib
import ctypes
import gc


def give_back() -> None:
    """Collect, and return free pages to the system where the C library can, malloc_trim(3).

    Properties of a widget hold each other, and so its pictures, until a collection; that else
    comes when tens of megabytes are waiting, and their gaps stay the process's.
    """
    gc.collect()
    with contextlib.suppress(AttributeError, OSError):
        ctypes.CDLL(None).malloc_trim(0)
