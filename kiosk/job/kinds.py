"""Kinds of file that a person may give in place of a job file: drawings and NC programs."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

from kiosk.mistakes import BadInput, Mistake

DRAWINGS = (".dxf", ".svg")
_LOOKED_AT = 4096  # bytes
_NC_LINE = re.compile(rb"^\s*(?:%|(?:N\d+\s*)?[GMTS]\d)", re.MULTILINE | re.IGNORECASE)


def refuse_other_kinds(path: Path) -> None:
    """Raise ``BadInput`` when the file is one that a job file names, by its ending or lines."""
    if path.suffix.lower() == ".toml" or not path.is_file():
        return
    with contextlib.suppress(OSError), path.open("rb") as file:
        begins = file.read(_LOOKED_AT)
        if path.suffix.lower() in DRAWINGS:
            raise _other_kind(path, "a drawing")
        if _NC_LINE.search(begins):
            raise _other_kind(path, "an NC program")


def _other_kind(path: Path, kind: str) -> BadInput:
    text = f"is {kind}, not a job file: give the *.job.toml file that names it"
    return BadInput([Mistake(path.name, None, text)])
