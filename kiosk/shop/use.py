"""Which of the shop's own numbers a job uses, and the material with them in it.

The newest measurement that fits counts; of one day, the most cautious.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace

from kiosk.hold.materials import FrictionRow, Material, Value, face_of, friction
from kiosk.shop.cutting import CutTest, grained
from kiosk.shop.friction import FrictionTest
from kiosk.shop.reader import Shop

_DAYS_A_MONTH = 365.2425 / 12.0  # of the Gregorian calendar


@dataclass(frozen=True, slots=True)
class Measured:
    """One of the shop's numbers in use, and what it took the place of.

    what  "friction", "cutting force along the grain" and the like; ``used`` and ``table`` in
          ``unit``; ``table`` is None when the table has no such row
    """

    what: str
    used: float
    table: float | None
    unit: str
    date: datetime.date
    person: str
    repeats: int


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a friction is asked for: words of the job file and of the site's cup."""

    underside: str
    surface: str
    lip: str
    contact: str


def with_shop_values(
    shop: Shop, material: Material, around: Surroundings | None
) -> tuple[Material, tuple[Measured, ...]]:
    """``material`` with the shop's numbers over the table's, and which these are.

    ``around`` None: friction is stated by the job and not asked for here.
    """
    found: list[Measured] = []
    if around is not None and (test := friction_test(shop, material.key, around)) is not None:
        found.append(_measured_friction(test, material, around))
        row = FrictionRow(
            around.contact,
            (around.lip,),
            face_of(material, around.underside),
            around.surface,
            test.value(),
        )
        material = replace(material, friction_rows=(row, *material.friction_rows))
    for grain in ("along", "across") if grained(material) else (None,):
        cut = cut_test(shop, material, grain)
        if cut is not None:
            found.append(_measured_cut(cut, material))
            material = _with_cut(material, cut)
    return material, tuple(found)


def friction_test(shop: Shop, material: str, around: Surroundings) -> FrictionTest | None:
    """The measurement that counts for this material as it lies, if there is one."""
    words = (around.underside, around.surface, around.lip, around.contact)
    fitting = [test for test in shop.friction if test.fits(material, *words)]
    return max(fitting, key=lambda test: (test.date, -test.used), default=None)


def cut_test(shop: Shop, material: Material, grain: str | None) -> CutTest | None:
    """The measurement that counts for cutting this material."""
    fitting = [t for t in shop.cutting if t.material == material.key and t.grain == grain]
    return max(fitting, key=lambda t: (t.date, t.used(t.row_of(material))), default=None)


def _with_cut(material: Material, cut: CutTest) -> Material:
    row = cut.kienzle(cut.row_of(material))
    along = material.kc_along if cut.grain == "across" else row
    across = material.kc_across if cut.grain == "along" else row
    return replace(material, kc_along=along, kc_across=across)


def _measured_friction(test: FrictionTest, material: Material, around: Surroundings) -> Measured:
    table = table_friction(material, around)
    count = len(test.repeats.values)
    low = None if table is None else table.low
    return Measured("friction", test.used, low, "", test.date, test.person, count)


def table_friction(material: Material, around: Surroundings) -> Value | None:
    """The table's value for the same; None when it has none."""
    try:
        return friction(material, around.underside, around.surface, around.lip, around.contact)
    except ValueError:
        return None


def _measured_cut(cut: CutTest, material: Material) -> Measured:
    row = cut.row_of(material)
    what = "cutting force" if cut.grain is None else f"cutting force {cut.grain} the grain"
    table = row.k_ref_pa.high / 1e6
    return Measured(what, cut.used(row), table, "N/mm2", cut.date, cut.person,
                    len(cut.powers_w))  # fmt: skip


def is_old(shop: Shop, when: datetime.date) -> bool:
    """True when a number of that day should be measured again."""
    return (shop.today - when).days > shop.renew_months * _DAYS_A_MONTH


def is_ahead(shop: Shop, when: datetime.date) -> bool:
    """True when that day has not come yet: the clock or the file is wrong."""
    return when > shop.today
