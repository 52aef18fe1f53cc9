"""The name of a thread, as ps and top show it."""

from __future__ import annotations

import contextlib
import threading
from pathlib import Path


def tell_name() -> None:
    """Give the kernel the present thread's name, proc(5); nothing hangs on it."""
    with contextlib.suppress(OSError):
        own = Path(f"/proc/self/task/{threading.get_native_id()}/comm")
        own.write_text(threading.current_thread().name[:15], encoding="utf-8")
