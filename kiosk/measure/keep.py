"""Writes a measurement into its file: behind what is there, whole or not at all."""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from kiosk.mistakes import BadInput, Mistake
from kiosk.shop import CutTest, FrictionTest
from kiosk.shop.repeats import down, up
from kiosk.toml_lines import TomlFile, toml_from

SHOP_HEAD = """\
# The shop's own numbers.  They stand over the table's; every row is one measurement, as read.
# A row may be taken out, and "used" made more cautious, by hand.
format = 1
"""


def friction_row(test: FrictionTest) -> str:
    """The ``[[friction]]`` row of a test."""
    pairs: list[tuple[str, object]] = [
        ("material", test.material),
        ("underside", test.underside),
        ("surface", test.surface),
        ("contact", test.contact),
        *([] if test.lip is None else [("lip", test.lip)]),
        ("method", test.method),
        ("date", test.date),
        ("person", test.person),
        ("conditions", test.conditions),
    ]
    if test.method == "pull":
        pairs += [
            ("cups", test.cups),
            ("seal_diameter_mm", test.seal_diameter_mm),
            ("vacuum_kpa", test.vacuum_kpa),
            ("gauge_error_kpa", test.gauge_error_kpa),
        ]
    if test.method == "tilt":
        pairs.append(("angles_deg", test.angles_deg))
    else:
        pairs += [("mass_kg", test.mass_kg), ("pulls_n", test.pulls_n)]
    mean = float(f"{test.repeats.mean:.4g}")
    pairs += [("unit", "1"), ("mean", mean), ("used", down(test.used))]
    return toml_row("friction", pairs)


def cut_row(test: CutTest, used_mpa: float) -> str:
    """The ``[[cutting]]`` row of a test."""
    return toml_row(
        "cutting",
        [
            ("material", test.material),
            *([] if test.grain is None else [("grain", test.grain)]),
            ("edge", test.edge),
            ("date", test.date),
            ("person", test.person),
            ("conditions", test.conditions),
            ("diameter_mm", test.diameter_mm),
            ("flutes", test.flutes),
            ("depth_mm", test.depth_mm),
            ("width_mm", test.width_mm),
            ("feed_mm_min", test.feed_mm_min),
            ("spindle_rpm", test.spindle_rpm),
            ("powers_w", test.powers_w),
            ("idle_w", test.idle_w),
            ("efficiency", test.efficiency),
            ("unit", "N/mm2"),
            ("mean", float(f"{test.repeats.mean:.4g}")),
            ("used", up(used_mpa)),
        ],
    )


def toml_row(name: str, pairs: list[tuple[str, object]]) -> str:
    """A row of a file, ``[[name]]`` and its pairs in order."""
    return "\n".join([f"[[{name}]]", *(f"{key} = {_toml(value)}" for key, value in pairs), ""])


def _toml(value: object) -> str:
    """A value in TOML 1.0; text on one line is written as in JSON, whose escapes TOML shares."""
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def put(path: Path, row: str, head: str, check: Callable[[TomlFile], object]) -> None:
    """Append a row to a file, made with ``head`` when missing.

    ``check`` reads the whole file back first, as whoever uses it would.  Raises ``BadInput`` with
    the row in words when it cannot be written, so that a measurement is not lost.
    """
    try:
        before = path.read_bytes().decode("utf-8") if path.exists() else head
        content = f"{before.rstrip()}\n\n{row}".encode()
        check(toml_from(content, path, path.name))
        path.parent.mkdir(parents=True, exist_ok=True)
        _replace(path, content)
    except OSError as trouble:
        words = f"cannot be written ({trouble.strerror}): put these lines in by hand\n\n{row}"
        raise BadInput([Mistake(str(path), None, words)]) from None


def _replace(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".measured-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
