"""The guard with a wall clock that a file moves: the offset in seconds is read at each look.

    python stepped_guard.py guard --site ... --data DIR

DIR/clock holds the number.  The monotonic clock stays as it is, as it does when a person or a time
server sets the wall clock.
"""

from __future__ import annotations

import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

OFFSET = Path(sys.argv[sys.argv.index("--data") + 1]) / "clock"
_real_time = time.time


def offset_s() -> float:
    """The offset now; 0 while there is no file."""
    try:
        return float(OFFSET.read_text())
    except (OSError, ValueError):
        return 0.0


class Moved(datetime):
    """``datetime`` whose now is moved."""

    @classmethod
    def now(cls, tz: object = None) -> datetime:  # type: ignore[override]
        return datetime.now(UTC) + timedelta(seconds=offset_s())


def main() -> int:
    """Move the clocks that the guard reads, then run it."""
    from kiosk import cli
    from kiosk.guard import failure

    time.time = lambda: _real_time() + offset_s()
    failure.datetime = Moved  # type: ignore[attr-defined]
    return cli.main(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
