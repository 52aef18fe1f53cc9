"""Reads a shop file into a ``Shop``, or tells every mistake in it at once.

What a row says it comes to must follow from its readings: ``mean`` within 1 %, ``used`` on the
cautious side.  So a slip of a hand in the file is found, and a shop may be more cautious.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from pathlib import Path

from kiosk.hold.cutter import WEAR
from kiosk.hold.materials import CONTACTS, LIPS, SURFACES, UNDERSIDES, Material
from kiosk.mistakes import BadInput
from kiosk.shop.cutting import GRAINS, CutTest, check_geometry, grained
from kiosk.shop.friction import METHODS, FrictionTest
from kiosk.shop.materials import Materials, read_materials
from kiosk.shop.repeats import LEAST, MOST, down, up
from kiosk.toml_lines import Table, TomlFile, read_toml

RENEW_MONTHS = 12  # after this a measured number is told to be old: common practice, no source
_COUNTS = (LEAST, MOST)
_NEAR = 0.01  # of a number that a person may have rounded


@dataclass(frozen=True, slots=True)
class Shop:
    """What a shop has of its own.  ``file`` None: nothing measured.

    ``today`` judges ages; ``contents`` are the bytes that a plan's digest covers, the shipped
    materials first.
    """

    file: str | None
    materials: Materials
    friction: tuple[FrictionTest, ...]
    cutting: tuple[CutTest, ...]
    renew_months: int
    today: datetime.date
    contents: tuple[bytes, ...]


def load_shop(path: Path | None, today: datetime.date, own_materials: Path | None = None) -> Shop:
    """The shop of a shop file; with ``path`` None a shop with nothing measured.

    ``own_materials`` stands over the file that the shop file names.  Raises ``BadInput`` with
    every mistake of both files.
    """
    if path is None:
        materials = read_materials(own_materials)
        return Shop(None, materials, (), (), RENEW_MONTHS, today, materials.contents)
    return shop_from(read_toml(path), today, own_materials)


def shop_from(file: TomlFile, today: datetime.date, own_materials: Path | None = None) -> Shop:
    """As ``load_shop``, from a file that is read already."""
    whole = Table(file)
    whole.whole("format", 1, 1)
    renew_months = whole.whole("renew_months", 1, 60, RENEW_MONTHS)
    named = whole.text("materials", None)
    if own_materials is not None:
        named = None
    path = file.path.parent / named if named else own_materials
    materials = _materials(whole, path, named)
    known = {} if materials is None else materials.by_key
    friction = tuple(read_friction(row, known) for row in whole.rows("friction"))
    cutting = tuple(read_cut(row, known) for row in whole.rows("cutting"))
    whole.done()
    whole.raise_mistakes()
    assert materials is not None  # else there was a mistake
    contents = (*materials.contents, file.content)
    return Shop(file.name, materials, friction, cutting, renew_months, today, contents)


def _materials(whole: Table, path: Path | None, named: str | None) -> Materials | None:
    if named and path is not None and not path.is_file():
        whole.wrong(f'materials "{named}" is not there: put it beside this file', "materials")
        return None
    try:
        return read_materials(path)
    except BadInput as bad:
        whole.mistakes.extend(bad.mistakes)
        return None


def _material_key(row: Table, known: dict[str, Material]) -> str:
    key: str = row.choice("material", tuple(known)) if known else row.text("material")
    return key


# -- friction ------------------------------------------------------------------------------


def read_friction(row: Table, known: dict[str, Material]) -> FrictionTest:
    """One ``[[friction]]`` row."""
    before = len(row.mistakes)
    method = row.choice("method", METHODS)
    contact = row.choice("contact", CONTACTS)
    test = FrictionTest(
        material=_material_key(row, known),
        underside=row.choice("underside", UNDERSIDES),
        surface=row.choice("surface", SURFACES),
        contact=contact,
        lip=row.choice("lip", LIPS) if contact == "lip" else None,
        method=method,
        date=row.day("date"),
        person=row.text("person", longest=20),
        conditions=row.text("conditions", longest=120),
    )
    test = _with_readings(row, test)
    mean, used = row.number("mean", 0.0, 10.0), row.number("used", 0.001, 10.0)
    _read_unit(row, "1")
    row.done()
    if len(row.mistakes) == before:
        _check_friction(row, test, mean, used)
    return replace(test, stated=used)


def _with_readings(row: Table, test: FrictionTest) -> FrictionTest:
    if test.method == "tilt":
        return replace(test, angles_deg=row.numbers("angles_deg", _COUNTS, 1.0, 75.0))
    test = replace(
        test,
        pulls_n=row.numbers("pulls_n", _COUNTS, 0.1, 20_000.0),
        mass_kg=row.number("mass_kg", 0.001, 5000.0),
    )
    if test.method == "weight":
        return test
    return replace(
        test,
        cups=row.whole("cups", 1, 400),
        seal_diameter_mm=row.number("seal_diameter_mm", 5.0, 400.0),
        vacuum_kpa=row.number("vacuum_kpa", 5.0, 101.0),
        gauge_error_kpa=row.number("gauge_error_kpa", 0.0, 20.0),
    )


def _check_friction(row: Table, test: FrictionTest, mean: float, used: float) -> None:
    key = "angles_deg" if test.method == "tilt" else "pulls_n"
    if (trouble := test.trouble()) is not None:
        row.wrong(f"{key}: {trouble}", key)
        return
    _check_mean(row, mean, test.repeats.mean)
    if used > test.allowed * (1.0 + _NEAR):
        row.wrong(
            f"used is {used:g}, more than the repeats allow: write at most {down(test.allowed):g}",
            "used",
        )


# -- cutting -------------------------------------------------------------------------------


def read_cut(row: Table, known: dict[str, Material]) -> CutTest:
    """One ``[[cutting]]`` row."""
    before = len(row.mistakes)
    key = _material_key(row, known)
    material = known.get(key) if len(row.mistakes) == before else None
    test = CutTest(
        material=key,
        grain=_grain(row, material),
        edge=row.choice("edge", tuple(WEAR)),
        date=row.day("date"),
        person=row.text("person", longest=20),
        conditions=row.text("conditions", longest=120),
        diameter_mm=row.number("diameter_mm", 0.1, 400.0),
        flutes=row.whole("flutes", 1, 24),
        depth_mm=row.number("depth_mm", 0.05, 200.0),
        width_mm=row.number("width_mm", 0.05, 400.0),
        feed_mm_min=row.number("feed_mm_min", 10.0, 100_000.0),
        spindle_rpm=row.number("spindle_rpm", 100.0, 100_000.0),
        powers_w=row.numbers("powers_w", _COUNTS, 1.0, 200_000.0),
        idle_w=row.numbers("idle_w", (1, MOST), 1.0, 200_000.0),
        efficiency=row.number("efficiency", 0.5, 1.0, 1.0),
    )
    mean, used = row.number("mean", 0.0, 1e5), row.number("used", 0.1, 1e5)
    _read_unit(row, "N/mm2")
    row.done()
    if len(row.mistakes) == before and material is not None:
        _check_cut(row, test, material, mean, used)
    return replace(test, stated=used)


def _grain(row: Table, material: Material | None) -> str | None:
    if material is not None and grained(material):
        grain: str = row.choice("grain", GRAINS)
        return grain
    row.known.append("grain")
    if material is not None and row.has("grain"):
        row.wrong(f"{material.name} cuts the same all ways: leave grain out", "grain")
    return None


def _check_cut(row: Table, test: CutTest, material: Material, mean: float, used: float) -> None:
    faults = check_geometry(test)
    for key, words in faults:
        row.wrong(f"{key} {words}", key)
    if faults:
        return
    if (trouble := test.trouble()) is not None:
        row.wrong(f"powers_w: {trouble}", "powers_w")
        return
    _check_mean(row, mean, test.repeats.mean)
    allowed = test.allowed(test.row_of(material))
    if used < allowed * (1.0 - _NEAR):
        row.wrong(
            f"used is {used:g}, less than the repeats allow: write at least {up(allowed):g}", "used"
        )


# -- both ----------------------------------------------------------------------------------


def _read_unit(row: Table, unit: str) -> None:
    if row.text("unit", longest=10) not in ("", unit):
        row.wrong(f'unit is another one: write "{unit}"', "unit")


def _check_mean(row: Table, stated: float, worked_out: float) -> None:
    if abs(stated - worked_out) > _NEAR * worked_out:
        row.wrong(
            f"mean is {stated:g}, but the readings give {worked_out:.4g}: write that, or mend "
            "the readings",
            "mean",
        )
