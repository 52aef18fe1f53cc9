"""One guard for one data folder, and who may look into it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO

from kiosk import owner


def hold(data: Path) -> IO[bytes]:
    """Hold the folder's lock until the returned file is closed or the process ends.

    Raises BadInput when another guard holds it or the folder cannot be written.
    """
    words = "another guard runs on this data folder: stop it, or give --data another folder"
    return owner.hold(data, words)


def tighten(data: Path) -> None:
    """Take the rights of others away from a data folder of our own; a shared one stays."""
    mode = data.stat().st_mode
    if data.stat().st_uid == os.getuid() and not mode & 0o1000:
        data.chmod(mode & 0o2750)  # a set-group-ID bit stays
