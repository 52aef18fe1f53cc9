"""Where state goes on this machine: the data folder, the log, the socket, the jobs."""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from pathlib import Path

from kiosk.mistakes import BadInput, Mistake

_LONGEST_SOCKET_PATH = 100  # sun_path holds 108 bytes on Linux, 104 on macOS: unix(7)


def data_path(option: str | None) -> Path:
    """The folder of ``--data``, else where the platform keeps a user's data.  May be missing."""
    if option:
        return Path(option).expanduser().resolve()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home())) / "holdpoint"
    # XDG Base Directory Specification 0.8
    home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(home) / "holdpoint"


def data_dir(option: str | None) -> Path:
    """As ``data_path``, and made when missing.  Raises BadInput when it cannot be made."""
    path = data_path(option)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as trouble:
        words = f"cannot be the data folder ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(option or str(path), None, words)]) from None
    return path


def shop_file(data: Path, option: str | None) -> Path:
    """The shop file: ``--shop``, else ``shop.toml`` in the data folder.  May be missing."""
    return Path(option).expanduser().resolve() if option else data / "shop.toml"


def shop_file_if_any(data: Path, option: str | None) -> Path | None:
    """As ``shop_file``; None when none is named and none is there."""
    path = shop_file(data, option)
    return path if option or path.is_file() else None


def is_there(path: Path) -> bool:
    """Whether a file that may be missing is there.  Raises ``BadInput`` when nobody can say."""
    try:
        path.stat()
    except FileNotFoundError:
        return False
    except OSError as trouble:
        words = f"cannot be read ({trouble.strerror}): run this as a user who may"
        raise BadInput([Mistake(str(path), None, words)]) from None
    return True


def log_file(data: Path) -> Path:
    """The log of one machine."""
    return data / "log.db"


def leaks_file(data: Path) -> Path:
    """The leak tests of the machine's zones.  May be missing."""
    return data / "leaks.toml"


def jobs_dir(data: Path, option: str | None) -> Path:
    """The folder of job files: ``--jobs``, else ``jobs`` in the data folder."""
    return Path(option).expanduser().resolve() if option else data / "jobs"


def socket_file(data: Path) -> Path:
    """The guard's socket: in the data folder, or a short path made from it when it is too long."""
    path = data / "guard.sock"
    if len(os.fsencode(path)) <= _LONGEST_SOCKET_PATH:
        return path
    mark = hashlib.sha256(os.fsencode(data)).hexdigest()[:16]
    root = Path(os.environ.get("XDG_RUNTIME_DIR") or tempfile.gettempdir())
    return root / f"holdpoint-{mark}.sock"
