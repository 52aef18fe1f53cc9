"""The materials of a shop: the shipped file, with the shop's own file over or beside it.

A material of the own file takes the place of the shipped one with its key; friction rows of the
own file come before the shipped ones, for every material.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from kiosk.hold.materials import BadMaterials, Material, MaterialsFile, materials_file_from
from kiosk.mistakes import BadInput, Mistake
from kiosk.resources import asset
from kiosk.toml_lines import TomlFile, Where, toml_from
from kiosk.toml_lines.source import content_of

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class Materials:
    """All materials by key; ``own`` names the keys that the shop's own file has."""

    by_key: dict[str, Material]
    own: frozenset[str]
    own_friction: bool  # the own file has friction rows
    contents: tuple[bytes, ...]  # of the files, for a digest


def read_materials(own: Path | None) -> Materials:
    """The shipped materials, with those of ``own`` over them.  Raises ``BadInput``."""
    path = asset("materials.toml")
    content = content_of(path, path.name)
    shipped = _shipped(content, path)
    if own is None:
        return Materials(dict(shipped.materials), frozenset(), False, (content,))
    own_content = content_of(own, own.name)
    found = _file_from(toml_from(own_content, own, own.name))
    rows = found.friction_rows + shipped.friction_rows
    both = {**shipped.materials, **found.materials}
    return Materials(
        by_key={key: replace(row, friction_rows=rows) for key, row in both.items()},
        own=frozenset(found.materials),
        own_friction=bool(found.friction_rows),
        contents=(content, own_content),
    )


@lru_cache(maxsize=2)  # the same in every plan of a process
def _shipped(content: bytes, path: Path) -> MaterialsFile:
    return _file_from(toml_from(content, path, path.name))


def _file_from(file: TomlFile) -> MaterialsFile:
    try:
        return materials_file_from(file.text)
    except BadMaterials as bad:
        raise BadInput(
            Mistake(file.name, file.line(_where(where)), f"{where}: {what}")
            for where, what in bad.faults
        ) from None


def _where(words: str) -> Where:
    """``friction[3].mu`` as ("friction", 3, "mu")."""
    return tuple(
        int(match[2]) if match[2] is not None else match[1] for match in _STEP.finditer(words)
    )
