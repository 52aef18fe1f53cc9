"""One owner for the devices of a data folder: a lock that the system takes back by itself."""

from __future__ import annotations

from pathlib import Path
from typing import IO

from kiosk.mistakes import BadInput, Mistake


def hold(data: Path, taken: str, name: str = "guard.lock") -> IO[bytes]:
    """Hold the folder's lock until the returned file is closed or the process ends.

    taken  what is said when another process holds it, and what to do then
    name   of the lock: one for each thing that has one owner

    Raises BadInput in that case, and when the folder cannot be written.  flock(2).
    """
    import fcntl  # not on every platform: the caller has said so before

    path = data / name
    try:
        file = path.open("ab")
    except OSError as trouble:
        words = f"cannot be written ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(str(path), None, words)]) from None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.close()
        raise BadInput([Mistake(str(data), None, taken)]) from None
    return file
