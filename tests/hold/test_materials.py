"""The shipped materials, and what a materials file may not say."""

import re

import pytest

from kiosk.hold.materials import (
    CONTACTS,
    GRADES,
    LIPS,
    SURFACES,
    UNDERSIDES,
    Value,
    friction,
    materials_from,
)
from kiosk.resources import asset

TEXT = asset("materials.toml").read_text(encoding="utf-8")
MATERIALS = materials_from(TEXT)

WANTED = {
    "beech", "oak", "maple", "pine", "spruce", "birch_plywood", "mdf", "particleboard", "hpl",
    "solid_surface", "pmma", "polycarbonate", "hdpe", "uhmw_pe", "pvc", "phenolic",
    "aluminium_6061", "aluminium_6082", "aluminium_5083", "brass",
}  # fmt: skip


def values_in(thing):
    """Every Value below a dataclass."""
    if isinstance(thing, Value):
        yield thing
    elif isinstance(thing, tuple):
        for item in thing:
            yield from values_in(item)
    else:
        for name in getattr(thing, "__slots__", ()):
            yield from values_in(getattr(thing, name))


def test_the_usual_materials_are_there():
    assert not WANTED - set(MATERIALS)


@pytest.mark.parametrize("key", sorted(MATERIALS))
def test_every_number_has_a_grade_and_a_source(key):
    found = list(values_in(MATERIALS[key]))
    assert len(found) > 12
    for value in found:
        assert value.grade in GRADES
        assert value.low <= value.typical <= value.high
        assert re.search(r"[a-z]{4}", value.source)
        if value.grade in "AB":
            assert not value.source.startswith(("common practice", "judgement", "from memory"))


def test_no_number_in_the_file_stands_alone():
    bare = [
        line
        for line in TEXT.splitlines()
        if re.search(r"=\s*-?[\d.]", line.split("{")[0].split("#")[0])
        and not line.startswith(("format", "at_chip_mm"))
    ]
    assert bare == []


def without(text, line_start):
    """The text with the first line that starts so left out."""
    lines = text.splitlines()
    index = next(i for i, line in enumerate(lines) if line.startswith(line_start))
    return "\n".join(lines[:index] + lines[index + 1 :])


@pytest.mark.parametrize(
    ("bad", "words"),
    [
        (re.sub(r', source = "[^"]*"', "", TEXT, count=1), "needs its source"),
        (re.sub(r'source = "[^"]*"', 'source = ""', TEXT, count=1), "needs its source"),
        (re.sub(r'grade = "[ABC]"', 'grade = "D"', TEXT, count=1), "grade must be"),
        (re.sub(r"low = [\d.]+", "low = 1e9", TEXT, count=1), "does not hold"),
        (re.sub(r"poisson = \{[^}]*\}", "poisson = 0.3", TEXT, count=1), "material.beech.poisson"),
        (without(TEXT, "k_mpa"), "kc_along.k_mpa"),
        (TEXT.replace("at_chip_mm = 0.1", "at_chip_mm = 0.2", 1), "must be 0.1 or 1.0"),
        (TEXT.replace('family = "wood"', 'family = "tree"', 1), "family"),
        (TEXT.replace('name = "Beech"', 'name = "Beech"\ncolour = 3', 1), "unknown key colour"),
        (TEXT.replace('surface = "dusty"', 'surface = "sandy"', 1), "friction"),
        (TEXT.replace("format = 1", "format = 2", 1), "format"),
        (TEXT + "\n[[", "file"),
    ],
)
def test_a_bad_table_is_refused_in_words_that_name_the_key(bad, words):
    assert bad != TEXT
    with pytest.raises(ValueError, match=re.escape(words)):
        materials_from(bad)


@pytest.mark.parametrize("lip", LIPS)
@pytest.mark.parametrize("contact", CONTACTS)
@pytest.mark.parametrize("surface", SURFACES)
def test_friction_is_known_for_every_material_and_underside(lip, contact, surface):
    for material in MATERIALS.values():
        for underside in UNDERSIDES:
            value = friction(material, underside, surface, lip, contact)
            assert 0.0 < value.low <= 0.9


def test_friction_keeps_the_order_that_tests_of_rubber_found():
    # Roth, Driscoll and Holt 1942: dust lowers it much; Int. J. Eng. 72945: oil below water.
    for material in MATERIALS.values():
        clean, dusty, wet, oily = (
            friction(material, "planed", surface, "nitrile", "lip").low
            for surface in ("clean", "dusty", "wet", "oily")
        )
        assert clean > dusty > oily
        assert clean > wet > oily


def test_friction_agrees_with_the_cargo_code():
    # CTU Code Annex 7 App. 2: rubber mat 0.6 (EN 12195-1), moving friction 75 % of it;
    # plastic pallet on aluminium 0.15
    beech, hdpe = MATERIALS["beech"], MATERIALS["hdpe"]
    rubber = friction(beech, "planed", "clean", "nitrile", "lip")
    assert (rubber.typical, rubber.low) == pytest.approx((0.6, 0.75 * 0.6))
    assert friction(hdpe, "machined", "clean", "nitrile", "stop").low == pytest.approx(0.15)


@pytest.mark.parametrize(
    "words",
    [("rough", "clean", "nitrile", "lip"), ("planed", "sandy", "nitrile", "lip"),
     ("planed", "clean", "cork", "lip"), ("planed", "clean", "nitrile", "pin")],
)  # fmt: skip
def test_an_unknown_word_of_friction_is_refused(words):
    with pytest.raises(ValueError, match="is not one of"):
        friction(MATERIALS["beech"], *words)
