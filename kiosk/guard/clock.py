"""The wall clock: whether it follows a time server, as the kernel says, and whether it was set."""

from __future__ import annotations

import ctypes
import sys
from datetime import UTC, datetime, timedelta

from kiosk.interlock.decision import Note

_UNSYNCED = 5  # TIME_ERROR of adjtimex(2): "the system clock is not synchronized"
_ROOM = 512  # bytes for struct timex, which is smaller on every machine; zeros ask, and set nothing
# A step beyond this is a row of the log: our own choice (common practice, no source).
SET_S = 2.0


def synced() -> bool | None:
    """True or False; None where it cannot be asked."""
    if not sys.platform.startswith("linux"):
        return None
    try:
        answer = ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(_ROOM))
    except (OSError, AttributeError):
        return None
    return None if answer < 0 else answer != _UNSYNCED


class ClockWatch:
    """Rows for the log that say how far its labels may be believed.

    The wall clock orders nothing and gives no age; it only labels.  So it is told when it was set,
    and what the kernel says of it whenever that changes, the first time too.
    """

    def __init__(self) -> None:
        self._last: tuple[float, datetime] | None = None
        self._told: tuple[bool | None] | None = None

    def look(
        self, now_s: float, utc: str, follows: bool | None, cycle: str | None
    ) -> tuple[Note, ...]:
        """Notes after one more look.  ``now_s``: monotonic; ``utc``: the label of the same step."""
        wall, notes = datetime.fromisoformat(utc), list[Note]()
        if self._last is not None:
            due = self._last[1] + timedelta(seconds=now_s - self._last[0])
            step_s = (wall - due).total_seconds()
            if abs(step_s) > SET_S:
                data = {"change": "set", "from": _label(due), "to": utc, "step_s": round(step_s, 3)}
                notes.append(Note("clock", cycle, {**data, "synced": follows}))
        if self._told != (follows,):
            notes.append(Note("clock", cycle, {"change": "synced", "synced": follows}))
        self._last, self._told = (now_s, wall), (follows,)
        return tuple(notes)


def _label(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
