"""Leak tests of a machine's zones, as kept in ``leaks.toml`` of the data folder, and what they say.

One row is one test: a closed volume under vacuum, read twice.  Air that comes in at a constant
mass flow raises the pressure evenly, V dp / dt (EN 1779), so the rise in kPa/min compares a zone
with itself: same cups, same blank.  Knows no gauge, no clock and no alarm.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path

from kiosk.toml_lines import Table, TomlFile, read_toml

# A change of vacuum under this says nothing: judgement.  A gauge's stated error is mostly an
# offset, which falls out of a difference; what stays is reading, noise and warmth.
FLOOR_KPA = 0.5
USUAL_S = 60.0
SHORTEST_S, LONGEST_S = 10.0, 600.0
LEAST_KPA, MOST_KPA = 5.0, 101.0
_NEAR = 0.01  # of a number that a person may have rounded
_NEAR_KPA_MIN = 0.005


@dataclass(frozen=True, slots=True)
class LeakTest:
    """One test of a zone.  Vacuum in kPa at its begin and end; ``baseline``: all was found good."""

    site: str
    zone: str
    date: datetime.date
    person: str
    conditions: str
    begin_kpa: float
    end_kpa: float
    seconds: float
    baseline: bool = False

    @property
    def rise_kpa_min(self) -> float:
        """How fast the pressure rose; never below zero."""
        return max(self.begin_kpa - self.end_kpa, 0.0) / self.seconds * 60.0

    @property
    def trouble(self) -> str | None:
        """Why the readings are no test, and the mend; None when they are."""
        if self.end_kpa > self.begin_kpa + FLOOR_KPA:
            return (
                "the vacuum is greater at the end than at the beginning: close the valve between "
                "pump and table, wait, and begin again"
            )
        return None


@dataclass(frozen=True, slots=True)
class Found:
    """What the newest test of a zone says.  ``ratio``: its rise to that of its baseline."""

    test: LeakTest
    base: LeakTest

    @property
    def floor_kpa_min(self) -> float:
        """The least rise that counts as a baseline: shorter tests tell less apart."""
        return FLOOR_KPA / min(self.test.seconds, self.base.seconds, USUAL_S) * 60.0

    @property
    def ratio(self) -> float:
        """Times the baseline, the baseline never under the floor."""
        return self.test.rise_kpa_min / max(self.base.rise_kpa_min, self.floor_kpa_min)


def found(tests: Iterable[LeakTest]) -> Found | None:
    """The newest of one zone's tests and the newest baseline up to it, or the zone's first test.

    Of one day the later row is the newer one.
    """
    rows = sorted(tests, key=lambda test: test.date)  # stable: rows of a day keep their order
    if not rows:
        return None
    return Found(rows[-1], next((row for row in reversed(rows) if row.baseline), rows[0]))


def of_zone(tests: Iterable[LeakTest], site: str, zone: str) -> tuple[LeakTest, ...]:
    """The tests of that zone of that machine, as they stand in the file."""
    return tuple(test for test in tests if (test.site, test.zone) == (site, zone))


def worst(tests: Collection[LeakTest], site: str) -> Found | None:
    """Of a machine's zones the one that leaks most against its baseline; None without a test."""
    zones = sorted({test.zone for test in tests if test.site == site})
    each = [found(of_zone(tests, site, zone)) for zone in zones]
    return max((one for one in each if one is not None), key=lambda one: one.ratio, default=None)


def load_leaks(
    path: Path, site: str, zones: Collection[str], today: datetime.date | None = None
) -> tuple[LeakTest, ...]:
    """Every test of a file.  Raises ``BadInput`` with every mistake in it."""
    return leaks_from(read_toml(path), site, zones, today)


def leaks_from(
    file: TomlFile, site: str, zones: Collection[str], today: datetime.date | None = None
) -> tuple[LeakTest, ...]:
    """As ``load_leaks``, from a file that is read already.

    ``zones`` are those of the machine named ``site``; zones of other machines are not judged.
    ``today`` None: dates are not judged, for who cannot trust the clock.
    """
    whole = Table(file)
    whole.whole("format", 1, 1)
    tests = tuple(_test(row, site, zones, today) for row in whole.rows("leak"))
    whole.done()
    whole.raise_mistakes()
    return tests


def _test(row: Table, site: str, zones: Collection[str], today: datetime.date | None) -> LeakTest:
    before = len(row.mistakes)
    test = LeakTest(
        site=row.text("site"),
        zone=row.text("zone", longest=8),
        date=row.day("date"),
        person=row.text("person", longest=20),
        conditions=row.text("conditions", longest=120),
        begin_kpa=row.number("begin_kpa", LEAST_KPA, MOST_KPA),
        end_kpa=row.number("end_kpa", 0.0, MOST_KPA),
        seconds=row.number("seconds", SHORTEST_S, LONGEST_S),
        baseline=row.flag("baseline"),
    )
    rise = row.number("rise_kpa_min", 0.0, 60.0 * MOST_KPA / SHORTEST_S)
    row.done()
    if len(row.mistakes) == before:
        _check(row, test, rise)
        if test.site == site and test.zone not in zones:
            known = ", ".join(zones)
            row.wrong(
                f'zone "{test.zone}" is not in the grid of {site}: write one that it has '
                f"({known}), or take the row out",
                "zone",
            )
        if today is not None and test.date > today:
            row.wrong(f"date {test.date} is after today: write the day of the test", "date")
    return test


def _check(row: Table, test: LeakTest, rise: float) -> None:
    if test.trouble is not None:
        row.wrong(f"end_kpa: {test.trouble}", "end_kpa")
    elif abs(rise - test.rise_kpa_min) > max(_NEAR * test.rise_kpa_min, _NEAR_KPA_MIN):
        row.wrong(
            f"rise_kpa_min is {rise:g}, but the readings give {test.rise_kpa_min:.4g}: write that, "
            "or mend the readings",
            "rise_kpa_min",
        )
