"""Where the files that come with the program are: in the wheel, or in a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def asset(name: str) -> Path:
    """Path of a shipped file below ``assets/``, such as ``materials.toml``.

    Raises FileNotFoundError when the installation is incomplete.
    """
    for root in (_PACKAGE / "assets", _PACKAGE.parent / "assets"):
        path = root / name
        if path.exists():
            return path
    raise FileNotFoundError(f"assets/{name} is missing: install the program again")
