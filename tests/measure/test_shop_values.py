"""Which of a shop's numbers a job uses, and when they are told to be old."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from kiosk.hold.materials import friction
from kiosk.shop import Surroundings, load_shop, with_shop_values
from kiosk.shop.use import is_ahead, is_old
from tests.measure.shop_files import CUT, PULL, TILT, TODAY, shop_of

AROUND = Surroundings("machined", "clean", "nitrile", "lip")
OAK = CUT.replace('"particleboard"', '"oak"\ngrain = "{}"').replace("width_mm = 20.0",
                                                                    "width_mm = 5.0")  # fmt: skip
OAK = OAK.replace("mean = 37.6", "mean = 150.4").replace("used = 50.0", "used = 300.0")


def test_a_measured_friction_stands_over_the_table_for_what_it_was_measured_on(
    tmp_path: Path,
) -> None:
    shop = shop_of(tmp_path, PULL)
    mdf = shop.materials.by_key["mdf"]
    material, found = with_shop_values(shop, mdf, AROUND)
    value = friction(material, "machined", "clean", "nitrile", "lip")
    assert (value.low, value.grade) == (0.40, "A")
    table = friction(mdf, "machined", "clean", "nitrile", "lip").low
    assert [(row.what, row.used, row.table) for row in found] == [("friction", 0.40, table)]
    # every other pair keeps the table's value
    for words in (("machined", "dusty", "nitrile", "lip"), ("machined", "clean", "silicone", "lip"),
                  ("machined", "clean", "nitrile", "stop"),
                  ("laminate", "clean", "nitrile", "lip")):  # fmt: skip
        assert friction(material, *words) == friction(mdf, *words)


@pytest.mark.parametrize(
    "around",
    [Surroundings("sawn", "clean", "nitrile", "lip"), Surroundings("machined", "wet", "nitrile",
     "lip"), Surroundings("machined", "clean", "silicone", "lip"), None],
)  # fmt: skip
def test_nothing_is_taken_where_the_measurement_does_not_fit(
    tmp_path: Path, around: Surroundings | None
) -> None:
    shop = shop_of(tmp_path, PULL, TILT)
    mdf = shop.materials.by_key["mdf"]
    assert with_shop_values(shop, mdf, around) == (mdf, ())


def test_the_newest_counts_and_of_one_day_the_most_cautious(tmp_path: Path) -> None:
    newer = PULL.replace("2026-11-20", "2026-11-24").replace("used = 0.40", "used = 0.35")
    lower = newer.replace("used = 0.35", "used = 0.30")
    older = PULL.replace("2026-11-20", "2026-01-01").replace("used = 0.40", "used = 0.10")
    shop = shop_of(tmp_path, newer, PULL, lower, older)
    _, found = with_shop_values(shop, shop.materials.by_key["mdf"], AROUND)
    assert [row.used for row in found] == [0.30]
    dearer = CUT.replace("used = 50.0", "used = 60.0")
    old = CUT.replace("2026-11-22", "2026-11-21").replace("used = 50.0", "used = 90.0")
    shop = shop_of(tmp_path, dearer, CUT, old)
    _, found = with_shop_values(shop, shop.materials.by_key["particleboard"], None)
    assert [row.used for row in found] == [60.0]


def test_a_material_that_is_the_same_all_ways_gets_one_force(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, CUT)
    board = shop.materials.by_key["particleboard"]
    material, found = with_shop_values(shop, board, None)
    assert material.kc_along == material.kc_across
    assert material.kc_across.k_ref_pa.high == 50e6
    assert found[0].table == board.kc_across.k_ref_pa.high / 1e6


@pytest.mark.parametrize("grain", ["along", "across"])
def test_wood_gets_its_force_in_the_measured_direction_only(tmp_path: Path, grain: str) -> None:
    shop = shop_of(tmp_path, OAK.format(grain))
    oak = shop.materials.by_key["oak"]
    material, found = with_shop_values(shop, oak, None)
    changed, kept = ("kc_along", "kc_across") if grain == "along" else ("kc_across", "kc_along")
    assert getattr(material, changed).k_ref_pa.high == 300e6
    assert getattr(material, kept) == getattr(oak, kept)
    assert [row.what for row in found] == [f"cutting force {grain} the grain"]


def test_both_directions_of_wood_can_be_measured(tmp_path: Path) -> None:
    shop = shop_of(tmp_path, OAK.format("along"), OAK.format("across"))
    material, found = with_shop_values(shop, shop.materials.by_key["oak"], None)
    assert len(found) == 2
    assert material.kc_along.k_ref_pa.grade == material.kc_across.k_ref_pa.grade == "A"


@pytest.mark.parametrize(
    ("today", "old", "ahead"),
    [
        (TODAY, False, False),
        # 2026-11-20 and twelve months are 365.24 days
        (datetime.date(2027, 11, 20), False, False),
        (datetime.date(2027, 11, 21), True, False),
        (datetime.date(2026, 11, 20), False, False),
        (datetime.date(2026, 11, 19), False, True),
    ],
)
def test_old_numbers_and_numbers_of_tomorrow_are_still_used(
    tmp_path: Path, today: datetime.date, old: bool, ahead: bool
) -> None:
    shop = shop_of(tmp_path, PULL, today=today)
    _, found = with_shop_values(shop, shop.materials.by_key["mdf"], AROUND)
    assert found[0].used == 0.40
    assert (is_old(shop, found[0].date), is_ahead(shop, found[0].date)) == (old, ahead)


def test_the_shop_says_itself_when_a_number_is_old(tmp_path: Path) -> None:
    late = datetime.date(2026, 12, 25)  # 35 days on
    shop = shop_of(tmp_path, PULL, head="format = 1\nrenew_months = 1\n", today=late)
    assert is_old(shop, shop.friction[0].date)
    assert not is_old(shop_of(tmp_path, PULL, today=late), shop.friction[0].date)


def test_a_shop_without_a_file_changes_nothing() -> None:
    shop = load_shop(None, TODAY)
    for material in shop.materials.by_key.values():
        assert with_shop_values(shop, material, AROUND) == (material, ())
