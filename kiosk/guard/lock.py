"""One guard for one data folder: a lock that the system takes back when its holder dies."""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO

from kiosk.mistakes import BadInput, Mistake


def hold(data: Path) -> IO[bytes]:
    """Hold the folder's lock until the returned file is closed or the process ends.

    Raises BadInput when another guard holds it or the folder cannot be written.  flock(2).
    """
    import fcntl  # not on every platform: the caller has said so before

    path = data / "guard.lock"
    try:
        file = path.open("ab")
    except OSError as trouble:
        words = f"cannot be written ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(str(path), None, words)]) from None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.close()
        words = "another guard runs on this data folder: stop it, or give --data another folder"
        raise BadInput([Mistake(str(data), None, words)]) from None
    return file


def tighten(data: Path) -> None:
    """Take the rights of others away from a data folder of our own; a shared one stays."""
    mode = data.stat().st_mode
    if data.stat().st_uid == os.getuid() and not mode & 0o1000:
        data.chmod(mode & 0o750)
