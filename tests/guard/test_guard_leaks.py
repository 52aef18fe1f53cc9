"""The guard's look at the kept leak tests: the worst zone, after each change of the file."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from guard_clients import ADDRESSES, eventually, running

from kiosk.demo import folder
from kiosk.guard.leak_look import LeakLook
from kiosk.guard.worker import Shared
from kiosk.site import Site, load_site

HEAD = "format = 1\n"


def row(site: str, zone: str, day: int, end_kpa: float) -> str:
    """A test of a minute from 70 kPa."""
    return f"""
[[leak]]
site = "{site}"
zone = "{zone}"
date = 2026-11-{day:02}
person = "07"
conditions = "blank"
begin_kpa = 70.0
end_kpa = {end_kpa}
seconds = 60.0
rise_kpa_min = {70.0 - end_kpa}
baseline = false
"""


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return load_site(folder.fill(tmp_path, ADDRESSES))


@pytest.fixture
def look(
    tmp_path: Path, site: Site, shared: Shared, monkeypatch: pytest.MonkeyPatch
) -> Iterator[LeakLook]:
    monkeypatch.setattr(LeakLook, "every_s", 0.05)
    with running(LeakLook(tmp_path / "leaks.toml", site, shared)) as made:
        yield made


def write(tmp_path: Path, *rows: str) -> None:
    beside = tmp_path / "leaks.new"
    beside.write_text(HEAD + "".join(rows))
    beside.replace(tmp_path / "leaks.toml")


def test_the_worst_zone_is_told_and_again_after_each_change(
    tmp_path: Path, site: Site, look: LeakLook
) -> None:
    zones = sorted({seat.zone for seat in site.seats})
    first, second = zones[:2]
    rows = [row(site.name, first, 1, 69.0), row(site.name, second, 1, 68.0)]
    write(tmp_path, *rows)
    assert eventually(lambda: look.worst is not None and look.worst[1] == 1.0, 20.0)
    rows.append(row(site.name, second, 2, 65.0))
    write(tmp_path, *rows)
    assert eventually(lambda: look.worst == (second, pytest.approx(2.5)), 20.0)
    rows.append(row(site.name, second, 3, 67.0))
    write(tmp_path, *rows)
    assert eventually(lambda: look.worst == (second, pytest.approx(1.5)), 20.0)
    file = tmp_path / "leaks.toml"
    told = file.stat()
    write(tmp_path, *rows[:-1], row(site.name, second, 3, 66.0))
    os.utime(file, ns=(told.st_atime_ns, told.st_mtime_ns))  # as a copy that keeps its time
    assert file.stat().st_size == told.st_size
    assert eventually(lambda: look.worst == (second, pytest.approx(2.0)), 20.0)
    file.unlink()
    assert eventually(lambda: look.worst is None, 20.0)


def test_a_file_with_a_mistake_counts_as_none_and_is_told_once(
    tmp_path: Path, site: Site, look: LeakLook, capfd: pytest.CaptureFixture[str]
) -> None:
    zone = site.seats[0].zone
    write(tmp_path, row(site.name, zone, 1, 69.0))
    assert eventually(lambda: look.worst is not None, 20.0)
    write(tmp_path, row(site.name, zone, 1, 69.0).replace("rise_kpa_min = 1.0", "rise_kpa_min = 9"))
    told: list[str] = []
    looks, mark = [0], look.mark

    def counted() -> object:
        looks[0] += 1
        return mark()

    look.mark = counted  # type: ignore[method-assign]

    def complained() -> bool:
        told.append(capfd.readouterr().err)
        return "leaks.toml:12" in "".join(told)

    assert eventually(complained, 20.0)
    assert look.worst is None
    before = looks[0]
    assert eventually(lambda: looks[0] > before + 10, 20.0)
    complained()
    assert "".join(told).count("of no use") == 1


def test_tests_of_another_machine_do_not_count(tmp_path: Path, site: Site, look: LeakLook) -> None:
    zone = site.seats[0].zone
    write(tmp_path, row("another machine", zone, 1, 69.0), row("another machine", zone, 2, 60.0),
          row(site.name, zone, 1, 69.0))  # fmt: skip
    assert eventually(lambda: look.worst == (zone, 1.0), 20.0)
