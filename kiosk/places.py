"""Where state goes on this machine: the data folder, the log, the socket, the jobs."""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path

_LONGEST_SOCKET_PATH = 100  # sun_path holds 108 bytes on Linux, 104 on macOS: unix(7)


def data_dir(option: str | None) -> Path:
    """The folder of ``--data``, else where the platform keeps a user's data.  Made when missing."""
    if option:
        path = Path(option).expanduser().resolve()
    elif sys.platform == "win32":
        path = Path(os.environ.get("LOCALAPPDATA", Path.home())) / "holdpoint"
    else:
        # XDG Base Directory Specification 0.8
        home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
        path = Path(home) / "holdpoint"
    path.mkdir(parents=True, exist_ok=True)
    return path


def log_file(data: Path) -> Path:
    """The log of one machine."""
    return data / "log.db"


def jobs_dir(data: Path, option: str | None) -> Path:
    """The folder of job files: ``--jobs``, else ``jobs`` in the data folder."""
    return Path(option).expanduser().resolve() if option else data / "jobs"


def socket_file(data: Path) -> Path:
    """The guard's socket: in the data folder, or a short path made from it when that is too long."""
    path = data / "guard.sock"
    if len(os.fsencode(path)) <= _LONGEST_SOCKET_PATH:
        return path
    mark = hashlib.sha256(os.fsencode(data)).hexdigest()[:16]
    root = Path(os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir())
    return root / f"holdpoint-{mark}.sock"
