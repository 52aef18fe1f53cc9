"""How sure a minimum is: each number at its ends, against a check with that number in the files."""

from __future__ import annotations

import datetime
import json
import math
import tomllib
from pathlib import Path

import pytest

from kiosk import cli
from kiosk.hold.verdict import Caution
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.job.spread import Moved, Spread, spread_of
from kiosk.job.spread_table import spread_as_text
from kiosk.shop import load_shop
from kiosk.site import load_site
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, ROOT, SITE, write_job

CUT = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-8. F9000\nG1 X420.\nG0 Z5.\nM30\n"
MATERIALS = ROOT / "assets" / "materials.toml"
TOP_LOAD = "[[load]]\nat_mm = [200.0, 150.0, 0.0]\nforce_n = [{x}, 0.0, {z}]\n"


def worked_of(folder: Path, job: str = JOB, materials: Path | None = None) -> Worked:
    (folder / "x.site.toml").write_text(SITE, encoding="utf-8")
    path = write_job(folder, job, CUT)
    shop = load_shop(None, datetime.date(2026, 1, 1), materials)
    return work_out(path, load_site(folder / "x.site.toml"), shop=shop)[1]


def row_of(spread: Spread, name: str) -> Moved:
    return next(row for row in spread.moved if row.name == name)


def sure_mdf(folder: Path, **numbers: float) -> Path:
    """A materials file with MDF of the shipped table, every number certain: typical, or given."""
    shipped = tomllib.loads(MATERIALS.read_text(encoding="utf-8"))["material"]["mdf"]
    lines = ["format = 1", "[material.mdf]"]
    for key, entry in shipped.items():
        if isinstance(entry, str):
            lines.append(f'{key} = "{entry}"')
        elif "k_mpa" in entry:
            inner = (
                f"{k} = {v if k == 'at_chip_mm' else sure(v, k, numbers)}" for k, v in entry.items()
            )
            lines.append(f"{key} = {{ {', '.join(inner)} }}")
        else:
            lines.append(f"{key} = {sure(entry, key, numbers)}")
    path = folder / "own.materials.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def sure(entry: dict[str, object], key: str, numbers: dict[str, float]) -> str:
    value = numbers.get(key, entry["typical"])
    return f'{{ low = {value}, typical = {value}, high = {value}, grade = "C", source = "a test" }}'


@pytest.mark.parametrize(
    ("name", "key", "end"),
    [
        ("cutting force", "k_mpa", "high"),
        ("cutting force", "k_mpa", "low"),
        ("radial share", "kr", "high"),
        ("m, thick chip", "m_thick", "high"),
        ("density", "density_kg_m3", "low"),
    ],
)
def test_a_number_at_its_end_gives_what_a_check_with_that_number_gives(
    name: str, key: str, end: str, tmp_path: Path
) -> None:
    spread = spread_of(worked_of(tmp_path))
    stated = JOB + "friction = 0.6\n"
    certain = worked_of(tmp_path, stated, sure_mdf(tmp_path))
    assert spread.typical_kpa == pytest.approx(certain.model_kpa, rel=1e-6)
    row = row_of(spread, name)
    number = getattr(row, end)
    changed = worked_of(tmp_path, stated, sure_mdf(tmp_path, **{key: number}))
    assert getattr(row, f"at_{end}_kpa") == pytest.approx(changed.model_kpa, rel=1e-4)
    assert changed.model_kpa != certain.model_kpa


def test_the_wear_of_the_edge_goes_from_sharp_to_blunt(tmp_path: Path) -> None:
    row = row_of(spread_of(worked_of(tmp_path)), "wear of the edge")
    assert (row.low, row.typical, row.high, row.grade) == (1.0, 1.3, 1.6, "C")
    sharp = worked_of(
        tmp_path, JOB.replace('"used"', '"sharp"') + "friction = 0.6\n", sure_mdf(tmp_path)
    )
    assert row.at_low_kpa == pytest.approx(sharp.model_kpa, rel=1e-6)


def test_friction_at_its_ends_by_hand(tmp_path: Path) -> None:
    """A push in the middle of twelve cups of 60 mm: p = (2 F / mu - weight) / area.

    600 N; lips on clean MDF 0.45 / 0.6 / 0.9; MDF of 400 x 300 x 20 mm.
    """
    job = JOB[: JOB.index("[program]")] + TOP_LOAD.format(x=600.0, z=0.0)
    spread = spread_of(worked_of(tmp_path, job))
    density = tomllib.loads(MATERIALS.read_text("utf-8"))["material"]["mdf"]["density_kg_m3"]
    weight = density["typical"] * 0.4 * 0.3 * 0.02 * 9.80665
    area = 12 * math.pi * 0.030**2
    row = row_of(spread, "friction")
    low, high = ((2.0 * 600.0 / mu - weight) / area / 1e3 for mu in (0.45, 0.9))
    assert row.at_low_kpa == pytest.approx(low, rel=1e-3)
    assert row.at_high_kpa == pytest.approx(high, rel=1e-3)
    assert spread.bare_kpa == pytest.approx((600.0 / 0.6 - weight) / area / 1e3, rel=1e-3)
    assert spread.caution.product == pytest.approx(0.6 / 0.45 * 2.0)
    assert {row.name for row in spread.moved} == {"friction", "density"}


def test_of_a_part_that_lifts_friction_is_no_caution(tmp_path: Path) -> None:
    job = JOB[: JOB.index("[program]")] + TOP_LOAD.format(x=0.0, z=900.0)
    spread = spread_of(worked_of(tmp_path, job))
    assert spread.caution.product == pytest.approx(2.0)
    assert row_of(spread, "friction").swing_kpa < 0.01


@pytest.mark.parametrize(
    "name", [pytest.param("cover-panel", marks=pytest.mark.long), "bracket-pair"]
)
def test_the_minima_stand_in_order_and_the_rows_by_what_moves_most(name: str) -> None:
    job = DEMO_JOBS / f"{name}.job.toml"
    spread = spread_of(work_out(job, load_site(DEMO_SITE))[1])
    sizes = (spread.better_kpa, spread.typical_kpa, spread.decided_kpa, spread.worse_kpa)
    assert None not in sizes
    assert list(sizes) == sorted(size for size in sizes if size is not None)
    swings = [row.swing_kpa for row in spread.moved]
    assert swings == sorted(swings, reverse=True)
    assert spread.weakest is not None
    assert spread.weakest.grade == max(row.grade for row in spread.moved if row.swing_kpa > 0.05)


def test_the_command_prints_a_table_or_one_object(capsys: pytest.CaptureFixture[str]) -> None:
    """PMMA: 190 over 125 N/mm2, 0.6 over 0.45, factor 2: 4.05."""
    words = ["check", str(DEMO_JOBS / "cover-panel.job.toml"), "--site", str(DEMO_SITE), "--spread"]
    assert cli.main(words) == 0
    text = capsys.readouterr().out
    assert "cutting force 1.52 x friction 1.33 x factor of safety 2 = 4.1" in text
    assert "Weakest number that moves it: cutting force (C)" in text
    assert max(map(len, text.splitlines())) <= 80
    assert cli.main([*words, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["caution"]["product"] == pytest.approx(190 / 125 * 0.6 / 0.45 * 2.0)
    assert told["moved"][0]["name"] == "cutting force"


def test_a_row_of_an_end_that_does_not_hold_says_none() -> None:
    row = Moved("friction", 0.0, 0.3, 0.6, "", "C", "a test", None, 20.0)

    spread = Spread(None, 20.0, 30.0, None, 10.0, Caution(1.0, 2.0, 2.0), (row,))
    lines = spread_as_text(spread).splitlines()
    assert lines[1].endswith("none")
    assert "none    20.0" in lines[-3]
