"""Whether the wall clock follows a time server, as the kernel says."""

from __future__ import annotations

import ctypes
import sys

_UNSYNCED = 5  # TIME_ERROR of adjtimex(2): "the system clock is not synchronized"
_ROOM = 512  # bytes for struct timex, which is smaller on every machine; zeros ask, and set nothing


def synced() -> bool | None:
    """True or False; None where it cannot be asked."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        answer = ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(_ROOM))
    except (OSError, AttributeError):
        return None
    return None if answer < 0 else answer != _UNSYNCED
