"""The shop file: what is read from it, and wrong ones with file, line and mend."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from kiosk.mistakes import BadInput
from kiosk.shop import load_shop
from tests.measure.shop_files import CUT, HEAD, PULL, TILT, TODAY, shop_of, write_shop

OWN_BEECH = """\
[material.beech]
name = "Beech, steamed"
family = "wood"
density_kg_m3 = { low = 640, typical = 660, high = 700, grade = "A", source = "weighed here" }
kr = { low = -0.2, typical = 0.2, high = 0.5, grade = "C", source = "common practice, no source" }
modulus_along_gpa = { low = 11, typical = 12, high = 13, grade = "C", source = "no source" }
modulus_across_gpa = { low = 1, typical = 1, high = 1, grade = "C", source = "no source" }
poisson = { low = 0.3, typical = 0.3, high = 0.3, grade = "C", source = "no source" }
permeability_m2 = { low = 0, typical = 0, high = 0, grade = "C", source = "no source" }
core_permeability_m2 = { low = 0, typical = 0, high = 0, grade = "C", source = "no source" }
[material.beech.kc_along]
k_mpa = { low = 20, typical = 30, high = 40, grade = "C", source = "no source" }
at_chip_mm = 0.1
m_thin = { low = 0.4, typical = 0.4, high = 0.4, grade = "C", source = "no source" }
m_thick = { low = 0.2, typical = 0.2, high = 0.2, grade = "C", source = "no source" }
[material.beech.kc_across]
k_mpa = { low = 40, typical = 60, high = 80, grade = "C", source = "no source" }
at_chip_mm = 0.1
m_thin = { low = 0.4, typical = 0.4, high = 0.4, grade = "C", source = "no source" }
m_thick = { low = 0.2, typical = 0.2, high = 0.2, grade = "C", source = "no source" }
"""
OWN_FRICTION = """\
[[friction]]
contact = "lip"
lips = ["nitrile"]
face = "raw"
surface = "dusty"
mu = { low = 0.2, typical = 0.25, high = 0.3, grade = "C", source = "the lip maker's sheet" }
"""


def test_a_shop_with_nothing_measured_has_the_shipped_materials() -> None:
    shop = load_shop(None, TODAY)
    assert "mdf" in shop.materials.by_key
    assert (shop.file, shop.friction, shop.cutting, len(shop.contents)) == (None, (), (), 1)


def test_every_reading_is_read(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, PULL, TILT, CUT)
    pull, tilt = shop.friction
    assert (pull.pulls_n, pull.cups, pull.mass_kg) == ((60.0, 62.0, 61.0), 1, 2.0)
    assert (pull.date, pull.person) == (datetime.date(2026, 11, 20), "07")
    # 1 cup of 60 mm at 30 kPa: 84.82 N, and 2 kg: 104.44 N; 60 N moves it: 0.5745
    assert pull.repeats.values[0] == pytest.approx(0.57450, abs=1e-4)
    assert tilt.angles_deg == (31.0, 30.0, 31.5)
    assert shop.cutting[0].powers_w == (1943.84, 1923.84, 1963.84)
    assert shop.contents[-1] == (tmp_path / "bench.shop.toml").read_bytes()


def test_a_lower_friction_and_a_higher_force_may_be_stated(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, PULL.replace("used = 0.40", "used = 0.25"),
                   CUT.replace("used = 50.0", "used = 95.0"))  # fmt: skip
    assert shop.friction[0].used == 0.25
    row = shop.materials.by_key["particleboard"].kc_across
    assert shop.cutting[0].used(row) == 95.0


# What is changed in PULL (from line 2 on), CUT (from line 2 on) or the head; line; words.
WRONG = [
    (PULL, 'material = "mdf"', 'material = "mfd"', 3, 'write "mdf"'),
    (PULL, 'underside = "machined"', 'underside = "rough"', 4, '"planed" or "sawn"'),
    (PULL, 'surface = "clean"', 'surface = "clear"', 5, 'write "clean"'),
    (PULL, 'contact = "lip"', 'contact = "pad"', 6, '"lip" or "stop"'),
    (PULL, 'lip = "nitrile"\n', "", 2, '"lip" is missing'),
    (PULL, 'method = "pull"', 'method = "push"', 8, 'write "pull"'),
    (PULL, "date = 2026-11-20", 'date = "2026-11-20"', 9, "without quotes"),
    (PULL, "date = 2026-11-20", "date = 2026-11-20T10:00:00", 9, "is not a day"),
    (PULL, "date = 2026-11-20\n", "", 2, '"date" is missing'),
    (PULL, 'person = "07"', 'person = ""', 10, "person is empty"),
    (PULL, 'conditions = "swept, 21 C"', "conditions = 21", 11, "write text in quotes"),
    (PULL, "cups = 1", "cups = 1.5", 12, "write a whole number"),
    (PULL, "seal_diameter_mm = 60.0", "seal_diameter_mm = 0.6", 13, "from 5 to 400"),
    (PULL, "vacuum_kpa = 30.0", "vacuum_kpa = -30.0", 14, "from 5 to 101"),
    (PULL, "gauge_error_kpa = 1.0\n", "", 2, '"gauge_error_kpa" is missing'),
    (PULL, "mass_kg = 2.0", "mass_kg = 0.0", 16, "from 0.001 to 5000"),
    (PULL, "[60.0, 62.0, 61.0]", "[60.0, 62.0]", 17, "has 2 numbers: write 3 to 20"),
    (PULL, "[60.0, 62.0, 61.0]", '[60.0, "62", 61.0]', 17, "number 2 of pulls_n is text"),
    (PULL, "[60.0, 62.0, 61.0]", "60.0", 17, "write [0.0, ...]"),
    (PULL, "[60.0, 62.0, 61.0]", "[60.0, 70.0, 61.0]", 17, "measure 2 more"),
    (PULL, "[60.0, 62.0, 61.0]", "[60.0, 99.0, 61.0]", 17, "find what differs"),
    (PULL, "[60.0, 62.0, 61.0]", "[600.0, 620.0, 610.0]", 17, "not believed"),
    (PULL, 'unit = "1"', 'unit = "%"', 18, 'write "1"'),
    (PULL, "mean = 0.5846", "mean = 0.65", 19, "the readings give 0.5841"),
    (PULL, "used = 0.40", "used = 0.58", 20, "more than the repeats allow: write at most 0.414"),
    (PULL, "used = 0.40", "used = 0.40\nangles_deg = [3.0]", 21, 'unknown key "angles_deg"'),
    (CUT, 'material = "particleboard"', 'material = "granite"', 3, '"granite" is not known'),
    (CUT, 'edge = "sharp"', 'edge = "sharp"\ngrain = "across"', 5, "leave grain out"),
    (CUT, '"particleboard"', '"oak"', 2, '"grain" is missing'),
    (CUT, '"particleboard"\n', '"oak"\ngrain = "along"\n', 4, 'write "across"'),
    (CUT, 'edge = "sharp"', 'edge = "dull"', 4, '"sharp" or "used" or "blunt"'),
    (CUT, "flutes = 2", "flutes = 0", 9, "from 1 to 24"),
    (CUT, "width_mm = 20.0", "width_mm = 22.0", 11, "write its diameter for a slot"),
    (CUT, "feed_mm_min = 14400.0", "feed_mm_min = 200.0", 14, "change the feed"),
    (CUT, "spindle_rpm = 18000.0", "spindle_rpm = inf", 13, "out of range"),
    (CUT, "idle_w = [500.0]", "idle_w = [1900.0]", 14, "cut deeper or feed faster"),
    (CUT, "idle_w = [500.0]", "idle_w = [500.0, 510.0]", 15, "one for each of powers_w"),
    (CUT, "efficiency = 1.0", "efficiency = 80.0", 16, "from 0.5 to 1"),
    (CUT, 'unit = "N/mm2"', 'unit = "MPa"', 17, 'write "N/mm2"'),
    (CUT, "mean = 37.6", "mean = 3.76", 18, "the readings give 37.6"),
    (CUT, "used = 50.0", "used = 30.0", 19, "less than the repeats allow: write at least"),
    (HEAD, "format = 1", "format = 2", 1, "write 1"),
    (HEAD, "format = 1", "format = 1\nrenew_months = 0", 2, "from 1 to 60"),
    (HEAD, "format = 1", 'format = 1\nmaterials = "none.toml"', 2, "put it beside this file"),
    (HEAD, "format = 1", "format = 1\n[[frictions]]", 2, 'write "friction"'),
    (HEAD, "format = 1", "format = 1\nfriction = 3", 2, "write each as [[friction]]"),
    (HEAD, "format = 1", "format = 1\n[[friction", 2, "write key = value"),
]  # fmt: skip


@pytest.mark.parametrize("wrong", WRONG, ids=lambda wrong: wrong[4][:40])
def test_a_wrong_file_is_refused_with_file_line_and_mend(
    tmp_path: Path, wrong: tuple[str, str, str, int, str]
) -> None:
    row, old, new, line, words = wrong
    assert row.count(old) == 1
    bad = row.replace(old, new)
    text = bad if row is HEAD else HEAD + bad
    path = tmp_path / "bench.shop.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_shop(path, TODAY)
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert len(told) == 1
    assert told[0].startswith(f"bench.shop.toml:{line}: ")
    assert words in told[0]


def test_all_mistakes_are_told_at_once_in_the_order_of_lines(tmp_path: Path) -> None:
    bad = PULL.replace("cups = 1", "cups = 0"), CUT.replace("flutes = 2", "flutes = 0")
    with pytest.raises(BadInput) as caught:
        shop_of(tmp_path, *bad, head="format = 3\n")
    assert [mistake.line for mistake in caught.value.mistakes] == [1, 12, 28]


def test_a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such file"):
        load_shop(tmp_path / "gone.shop.toml", TODAY)


# -- materials of the shop -----------------------------------------------------------------


def test_own_materials_stand_over_the_shipped_ones_or_beside_them(tmp_path: Path) -> None:
    beside = OWN_BEECH.replace("material.beech", "material.cherry").replace("Beech", "Cherry")
    own = HEAD + OWN_BEECH + beside + OWN_FRICTION
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    shop = shop_of(tmp_path, head=HEAD + 'materials = "own.toml"\n')
    found = shop.materials
    assert found.by_key["beech"].name == "Beech, steamed"
    assert found.by_key["cherry"].density_kg_m3.low == 640
    assert found.by_key["oak"].name == "Oak"
    assert found.own == {"beech", "cherry"}
    assert found.by_key["oak"].friction_rows[0].value.source == "the lip maker's sheet"
    assert len(found.by_key["oak"].friction_rows) == len(found.by_key["cherry"].friction_rows) > 30
    assert shop.contents[1] == own.encode()


def test_a_named_materials_file_goes_before_that_of_the_shop_file(tmp_path: Path) -> None:
    path = tmp_path / "named.toml"
    path.write_text(HEAD + OWN_BEECH, encoding="utf-8")
    shop_file = write_shop(tmp_path, head=HEAD + 'materials = "gone.toml"\n')
    assert load_shop(shop_file, TODAY, path).materials.own == {"beech"}
    assert load_shop(None, TODAY, path).materials.own == {"beech"}


WRONG_MATERIALS = [
    ("low = 640, ", "", 5, "low, typical and high must be numbers"),
    (', source = "weighed here"', "", 5, "every number needs its source"),
    ('grade = "A", source = "weighed here"', 'grade = "X", source = "weighed here"', 5, "grade"),
    ("high = 700", "high = inf", 5, "must be finite"),
    ("low = 640, typical = 660, high = 700", "low = 0.64, typical = 0.66, high = 0.7", 5,
     "must lie from 1 to 25000"),
    ('family = "wood"', 'family = "tree"', 4, "must be one of wood"),
    ("[material.beech.kc_along]", "[material.beech.kc_alon]", 2, "unknown key kc_alon"),
    ("poisson = {", "poison = {", 2, "unknown key poison"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "words"), WRONG_MATERIALS)
def test_a_wrong_materials_file_is_told_with_its_line(
    tmp_path: Path, old: str, new: str, line: int, words: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_text(HEAD + OWN_BEECH.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_shop(None, TODAY, path)
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert len(told) == 1
    assert told[0].startswith(f"own.toml:{line}: material.beech")
    assert words in told[0]


def test_mistakes_of_both_files_are_told_together(tmp_path: Path) -> None:
    bad_row = OWN_FRICTION.replace('"dusty"', '"sandy"')
    (tmp_path / "own.toml").write_text(
        HEAD + OWN_BEECH.replace("poisson", "poison") + bad_row, encoding="utf-8"
    )
    head = HEAD + 'materials = "own.toml"\nrenew_months = 99\n'
    with pytest.raises(BadInput) as caught:
        shop_of(tmp_path, PULL.replace("cups = 1", "cups = 0"), head=head)
    files = [(mistake.file, mistake.line) for mistake in caught.value.mistakes]
    assert files == [("bench.shop.toml", 3), ("bench.shop.toml", 14), ("own.toml", 2),
                     ("own.toml", 26)]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "",
        "format = 1\nmaterial = 3\n",
        "format = 1\nfriction = [1]\n",
        "format = 1\nmaterial.x = 1\n",
        "format = [",
        "format = 1\na = 1",
        "format = 1\n[[friction]]\ncontact = []\nlips = 4\n",
    ],
)
def test_a_materials_file_of_the_wrong_shape_is_told_and_does_not_crash(
    tmp_path: Path, text: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_shop(None, TODAY, path)
    assert all(mistake.file == "own.toml" for mistake in caught.value.mistakes)
