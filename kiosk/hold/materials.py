"""Materials: cutting force, friction, stiffness and permeability, each number with its source.

Reads the *text* of a materials file; knows no file and no job.  A number without a source or a
grade is refused.  Grades: A measured (and published, or in the shop itself), B derived from
published values, C judgement ("common practice, no source" or "from memory: ...").
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

GRADES = ("A", "B", "C")
FAMILIES = ("wood", "panel", "laminate", "plastic", "polyolefin", "metal")
UNDERSIDES = ("planed", "sawn", "laminate", "film", "machined", "coated")
SURFACES = ("clean", "dusty", "wet", "oily")
LIPS = ("nitrile", "natural rubber", "polyurethane", "silicone")
CONTACTS = ("lip", "stop")
CHIP_REF_M = 1e-4  # k_ref is given at this chip thickness, the habit for wood


@dataclass(frozen=True, slots=True)
class Value:
    """One number as a range.  ``grade`` A, B or C; ``source`` says where it comes from."""

    low: float
    typical: float
    high: float
    grade: str
    source: str

    def scaled(self, factor: float) -> Value:
        """The same value in another unit."""
        return replace(
            self, low=self.low * factor, typical=self.typical * factor, high=self.high * factor
        )


@dataclass(frozen=True, slots=True)
class Kienzle:
    """k_c(h) = k_ref (h / 0.1 mm)^-m; ``m_thin`` below 0.1 mm, ``m_thick`` above.

    ``k_ref_pa`` is the specific cutting force at a chip 0.1 mm thick with a sharp edge.
    """

    k_ref_pa: Value
    m_thin: Value
    m_thick: Value


@dataclass(frozen=True, slots=True)
class FrictionRow:
    """Static friction of one pair: what carries it, on which face, in which state."""

    contact: str
    lips: tuple[str, ...]
    face: str  # raw | smooth | polyolefin
    surface: str
    value: Value


@dataclass(frozen=True, slots=True)
class Material:
    """One material.  ``thrust_*_n`` is the least drilling thrust of one spindle, or None.

    ``modulus_along_pa`` and ``_across_pa``: with and against the grain, equal for a sheet without
    one; ``permeability_m2`` is through the thickness with faces intact, ``core_permeability_m2``
    towards the edge.
    """

    key: str
    name: str
    family: str
    density_kg_m3: Value
    kc_along: Kienzle
    kc_across: Kienzle
    kr: Value
    thrust_sharp_n: Value | None
    thrust_worn_n: Value | None
    modulus_along_pa: Value
    modulus_across_pa: Value
    poisson: Value
    permeability_m2: Value
    core_permeability_m2: Value
    friction_rows: tuple[FrictionRow, ...]


class BadMaterials(ValueError):
    """What is wrong in a materials file: pairs of the key that it is about and words."""

    def __init__(self, faults: Iterable[tuple[str, str]]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(f"materials: {where}: {what}" for where, what in self.faults))


@dataclass(frozen=True, slots=True)
class MaterialsFile:
    """What one materials file has: materials by key, with its own friction rows, in order."""

    materials: dict[str, Material]
    friction_rows: tuple[FrictionRow, ...]


# What a number can be at all, by the last part of its key: a slip of a power of ten is refused.
_SPANS = {
    "density_kg_m3": (1.0, 25_000.0),
    "kr": (-2.0, 2.0),
    "thrust_sharp_n": (0.0, 5000.0),
    "thrust_worn_n": (0.0, 5000.0),
    "modulus_along_gpa": (1e-3, 1000.0),
    "modulus_across_gpa": (1e-3, 1000.0),
    "poisson": (0.0, 0.5),
    "permeability_m2": (0.0, 1e-6),
    "core_permeability_m2": (0.0, 1e-6),
    "k_mpa": (1.0, 5000.0),
    "m_thin": (0.0, 0.9),
    "m_thick": (0.0, 0.9),
    "mu": (0.01, 2.0),
}


def _fail(where: str, what: str) -> BadMaterials:
    return BadMaterials([(where, what)])


def _value(row: Mapping[str, Any], key: str, where: str) -> Value:
    """``key = {low, typical, high, grade, source}``; a single number may not stand alone."""
    place = f"{where}.{key}"
    entry = row.get(key)
    if not isinstance(entry, dict):
        raise _fail(place, "write { low, typical, high, grade, source }")
    low, typical, high = _three(entry, place)
    grade, source = entry.get("grade"), entry.get("source")
    if grade not in GRADES:
        raise _fail(place, "grade must be A, B or C")
    if not isinstance(source, str) or len(source.strip()) < 5:
        raise _fail(place, 'every number needs its source, or "common practice, no source"')
    if not low <= typical <= high:
        raise _fail(place, "low <= typical <= high does not hold")
    least, most = _SPANS[key]
    if low < least or high > most:
        raise _fail(place, f"must lie from {least:g} to {most:g}")
    if unknown := set(entry) - {"low", "typical", "high", "grade", "source"}:
        raise _fail(place, f"unknown key {min(unknown)}")
    return Value(low, typical, high, grade, source)


def _three(entry: Mapping[str, Any], place: str) -> tuple[float, float, float]:
    numbers = [entry.get(name) for name in ("low", "typical", "high")]
    if not all(isinstance(n, int | float) and not isinstance(n, bool) for n in numbers):
        raise _fail(place, "low, typical and high must be numbers")
    low, typical, high = (float(n) for n in numbers if n is not None)
    if not all(map(math.isfinite, (low, typical, high))):
        raise _fail(place, "low, typical and high must be finite")
    return low, typical, high


def _kienzle(row: Mapping[str, Any], key: str, where: str) -> Kienzle:
    """A table of cutting force, brought to a chip of 0.1 mm when the source has 1 mm."""
    entry, place = row.get(key), f"{where}.{key}"
    if not isinstance(entry, dict):
        raise _fail(place, "write a table with k_mpa, at_chip_mm, m_thin, m_thick")
    if unknown := set(entry) - {"k_mpa", "at_chip_mm", "m_thin", "m_thick"}:
        raise _fail(place, f"unknown key {min(unknown)}")
    at_chip_mm = entry.get("at_chip_mm")
    if at_chip_mm not in (0.1, 1.0):
        raise _fail(f"{place}.at_chip_mm", "must be 0.1 or 1.0")
    thin, thick = (_value(entry, name, place) for name in ("m_thin", "m_thick"))
    to_ref = float(at_chip_mm / 0.1) ** thick.typical
    return Kienzle(_value(entry, "k_mpa", place).scaled(1e6 * to_ref), thin, thick)


def _friction_row(row: object, where: str) -> FrictionRow:
    if not isinstance(row, dict):
        raise _fail(where, "write it as a table, [[friction]]")
    if unknown := set(row) - {"contact", "lips", "face", "surface", "mu"}:
        raise _fail(where, f"unknown key {min(unknown)}")
    if row.get("contact") not in CONTACTS:
        raise _fail(f"{where}.contact", "must be lip or stop")
    lips = row.get("lips", [])
    if not isinstance(lips, list) or not all(isinstance(lip, str) for lip in lips):
        raise _fail(f"{where}.lips", 'write a list of names, ["nitrile"]')
    if bad := set(lips) - set(LIPS):
        raise _fail(f"{where}.lips", f"unknown lip {min(bad)}")
    if row.get("face") not in ("raw", "smooth", "polyolefin"):
        raise _fail(f"{where}.face", "must be raw, smooth or polyolefin")
    if row.get("surface") not in SURFACES:
        raise _fail(f"{where}.surface", f"must be one of {', '.join(SURFACES)}")
    value = _value(row, "mu", where)
    return FrictionRow(row["contact"], tuple(lips), row["face"], row["surface"], value)


_KEYS = {
    "name", "family", "density_kg_m3", "kc_along", "kc_across", "kr", "thrust_sharp_n",
    "thrust_worn_n", "modulus_along_gpa", "modulus_across_gpa", "poisson", "permeability_m2",
    "core_permeability_m2",
}  # fmt: skip


def _material(key: str, row: object, rows: tuple[FrictionRow, ...]) -> Material:
    where = f"material.{key}"
    if not isinstance(row, dict):
        raise _fail(where, f"write it as a table, [{where}]")
    if unknown := set(row) - _KEYS:
        raise _fail(where, f"unknown key {min(unknown)}")
    if row.get("family") not in FAMILIES:
        raise _fail(f"{where}.family", f"must be one of {', '.join(FAMILIES)}")
    if not isinstance(row.get("name"), str) or not row["name"].strip():
        raise _fail(f"{where}.name", "is missing")
    return Material(
        key=key,
        name=row["name"],
        family=row["family"],
        density_kg_m3=_value(row, "density_kg_m3", where),
        kc_along=_kienzle(row, "kc_along", where),
        kc_across=_kienzle(row, "kc_across", where),
        kr=_value(row, "kr", where),
        thrust_sharp_n=_value(row, "thrust_sharp_n", where) if "thrust_sharp_n" in row else None,
        thrust_worn_n=_value(row, "thrust_worn_n", where) if "thrust_worn_n" in row else None,
        modulus_along_pa=_value(row, "modulus_along_gpa", where).scaled(1e9),
        modulus_across_pa=_value(row, "modulus_across_gpa", where).scaled(1e9),
        poisson=_value(row, "poisson", where),
        permeability_m2=_value(row, "permeability_m2", where),
        core_permeability_m2=_value(row, "core_permeability_m2", where),
        friction_rows=rows,
    )


_Made = TypeVar("_Made", FrictionRow, Material)


def _each(makers: Iterable[Callable[[], _Made]], faults: list[tuple[str, str]]) -> list[_Made]:
    """What could be made; what could not adds its fault."""
    made = []
    for maker in makers:
        try:
            made.append(maker())
        except BadMaterials as bad:
            faults.extend(bad.faults)
    return made


def materials_file_from(text: str) -> MaterialsFile:
    """What the text of a materials file has.

    Raises BadMaterials, a ValueError, in words that name the key when a table is bad or a number
    has no source: the first fault of every material and every friction row.
    """
    try:
        whole = tomllib.loads(text)
    except tomllib.TOMLDecodeError as trouble:
        raise _fail("file", str(trouble)) from None
    friction_list, tables = whole.get("friction", []), whole.get("material", {})
    if whole.get("format") != 1:
        raise _fail("format", "must be 1")
    if unknown := set(whole) - {"format", "friction", "material"}:
        raise _fail(min(unknown), "unknown key: a file has format, [material.KEY], [[friction]]")
    if not isinstance(friction_list, list) or not isinstance(tables, dict):
        raise _fail("file", "write [material.KEY] tables and [[friction]] rows")
    faults: list[tuple[str, str]] = []
    makers = (partial(_friction_row, row, f"friction[{i}]") for i, row in enumerate(friction_list))
    rows = tuple(_each(makers, faults))
    materials = _each((partial(_material, *item, rows) for item in tables.items()), faults)
    if faults:
        raise BadMaterials(faults)
    return MaterialsFile({material.key: material for material in materials}, rows)


def materials_from(text: str) -> dict[str, Material]:
    """All materials in the text of a materials file, by key.  Raises BadMaterials."""
    return materials_file_from(text).materials


def face_of(material: Material, underside: str) -> str:
    """The friction face that an underside of this material has: raw, smooth or polyolefin."""
    if material.family == "polyolefin":
        return "polyolefin"
    if material.family in ("wood", "panel") and underside in ("planed", "sawn", "machined"):
        return "raw"
    return "smooth"


def friction(material: Material, underside: str, surface: str, lip: str, contact: str) -> Value:
    """Static friction; the low value decides.  ValueError when a word or the row is unknown."""
    words = ((underside, UNDERSIDES), (surface, SURFACES), (lip, LIPS), (contact, CONTACTS))
    for word, known in words:
        if word not in known:
            raise ValueError(f"{word!r} is not one of {', '.join(known)}")
    face = face_of(material, underside)
    for row in material.friction_rows:
        fits = row.contact == contact and row.face == face and row.surface == surface
        if fits and (contact == "stop" or lip in row.lips):
            return row.value
    raise ValueError(f"no friction row for {contact} on {face}, {surface}, {lip}")
