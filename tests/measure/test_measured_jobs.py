"""From a measurement to a minimum: the whole way, over the public commands."""

from __future__ import annotations

import datetime
import io
import json
import math
from pathlib import Path
from typing import Any

import pytest

from kiosk import cli
from kiosk.guard import planner_child
from kiosk.guard.planner import OwnFiles
from kiosk.hold.materials import friction
from kiosk.job.plan import Input, Plan, from_json, weakest
from kiosk.job.planning import make_plan
from kiosk.shop import load_shop
from kiosk.site import load_site
from tests.measure.measure_lines import CUT_LINE, PULL_LINE, words_of
from tests.measure.shop_files import HEAD, TODAY, shop_of

ROOT = Path(__file__).resolve().parents[2]
DEMO_SITE = ROOT / "hardware" / "site" / "demo.site.toml"
COVER = ROOT / "assets" / "jobs" / "cover-panel.job.toml"
AREA_M2 = math.pi * 0.034**2  # one cup of the demo site, 68 mm

# The demo's cover panel as it lies, pushed in the middle of four cups at the height of the seals:
# it can only slide.  Seats A1 A3 C1 C3 stand at 75 and 295 mm, their middle at 185 mm.
SLIDING = """\
format = 1
id = "CP-045-S"
title = "Cover panel, pushed in the middle"
cups_up = ["A1", "A3", "C1", "C3"]
[part]
outline = [[0.0, 0.0], [562.0, 0.0], [562.0, 342.0], [0.0, 342.0]]
thickness_mm = 10.0
material = "pmma"
underside = "film"
surface = "clean"
mass_kg = 0.001
[placement]
x_mm = 14.0
y_mm = 14.0
[[load]]
at_mm = [171.0, 171.0, 0.0]
force_n = [200.0, 0.0, 0.0]
any_direction = true
"""
PMMA = {**PULL_LINE, "--material": "pmma", "--underside": "film", "--surface": "clean"}


@pytest.fixture(autouse=True)
def no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO())


def check(
    capsys: pytest.CaptureFixture[str], job: Path, data: Path, *more: str
) -> tuple[dict[str, Any], str]:
    """The JSON object and the words of ``holdpoint check``."""
    words = ["check", str(job), "--site", str(DEMO_SITE), "--data", str(data), *more]
    capsys.readouterr()
    cli.main([*words, "--json"])
    told = json.loads(capsys.readouterr().out)
    cli.main(words)
    return told, capsys.readouterr().out


def measure(*words: str, data: Path) -> None:
    assert cli.main([*words, "--cautions-read", "--keep", "--data", str(data)]) == 0


def named(told: dict[str, Any], name: str) -> dict[str, Any]:
    return next(row for row in told["inputs"] if row["name"] == name)


def test_a_measured_friction_changes_a_sliding_minimum_as_one_over_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """p = 2 x 200 N / (mu x 4 A): 61.19 kPa at the table's 0.45."""
    job = tmp_path / "sliding.job.toml"
    job.write_text(SLIDING, encoding="utf-8")
    before, words = check(capsys, job, tmp_path)
    assert before["model_kpa"] == pytest.approx(400.0 / (0.45 * 4.0 * AREA_M2) / 1e3, rel=2e-3)
    assert "friction 0.45 (B)" in words
    measure(*words_of("friction", PMMA), data=tmp_path)
    used = load_shop(tmp_path / "shop.toml", TODAY).friction[0].used
    assert used == pytest.approx(0.249)  # as worked in test_measure_command.py
    after, words = check(capsys, job, tmp_path)
    assert after["model_kpa"] == pytest.approx(400.0 / (used * 4.0 * AREA_M2) / 1e3, rel=2e-3)
    assert after["model_kpa"] / before["model_kpa"] == pytest.approx(0.45 / used, rel=1e-3)
    assert after["verdict"] == "does not hold"  # 110 kPa: more than there is air
    # and it says so
    assert "friction 0.249 (A, measured here 2026-11-20)" in " ".join(words.split())
    found = {row["code"]: row["text"] for row in after["findings"]}
    assert found["measured_here"] == (
        "Friction 0.249 instead of the table's 0.450: measured here on 2026-11-20 by 07, 3 repeats."
    )
    row = named(after, "friction")
    assert (row["value"], row["grade"], row["measured"]) == (used, "A", "2026-11-20")
    assert row["source"].startswith("measured here 2026-11-20 by 07: pull, 3 repeats")
    assert "measured_here" not in {f["code"] for f in before["findings"]}
    assert after["job"]["digest"] != before["job"]["digest"]


@pytest.mark.long
def test_a_demo_job_with_a_measured_friction_is_the_job_that_states_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("cover-panel.nc", "cover-panel.job.toml"):
        (tmp_path / name).write_bytes((COVER.parent / name).read_bytes())
    job = tmp_path / "cover-panel.job.toml"
    table, _ = check(capsys, job, tmp_path)
    measure(*words_of("friction", PMMA), data=tmp_path)
    measured, _ = check(capsys, job, tmp_path)
    text = job.read_text(encoding="utf-8").replace("[hold]", "[hold]\nfriction = 0.249")
    job.write_text(text, encoding="utf-8")
    stated, _ = check(capsys, job, tmp_path)
    assert measured["model_kpa"] == stated["model_kpa"] > table["model_kpa"]
    # what the job states goes before what was measured, and is told as stated
    assert named(stated, "friction")["source"] == "stated in the job file"
    assert named(stated, "friction")["grade"] == "C"
    assert "measured_here" not in {row["code"] for row in stated["findings"]}


SLOT_JOB = SLIDING[: SLIDING.index("[[load]]")].replace('"pmma"', '"particleboard"').replace(
    '"film"', '"laminate"') + """\
[program]
file = "t.nc"
z_zero = "top"
[[tool]]
number = 1
kind = "straight"
diameter_mm = 10.0
flutes = 2
edge = "sharp"
[hold]
friction = 0.5
"""  # fmt: skip
SLOT = "G21 G17 G90 G94 G54\nT1 M6\nS18000 M3\nG0 X-20 Y171 Z5\nG1 Z-5 F6000\nG1 X580\nG0 Z5\nM30\n"


def test_a_measured_cutting_force_changes_the_push_in_proportion(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same slot with twice the force at 0.1 mm pushes twice as hard: Kienzle is linear."""
    job = tmp_path / "slot.job.toml"
    job.write_text(SLOT_JOB, encoding="utf-8")
    (tmp_path / "t.nc").write_text(SLOT, encoding="utf-8")
    table, _ = check(capsys, job, tmp_path)
    assert named(table, "cutting force")["value"] == 50.0  # the table's high end
    # 1920 and 3840 W over 38.4 cm3/s: 50 and 100 N/mm2 at their chip
    plans = []
    for powers, day in (("2420 2420 2420", "2026-11-20"), ("4340 4340 4340", "2026-11-21")):
        measure(*words_of("cutting", CUT_LINE, power_w=powers, date=day), data=tmp_path)
        plans.append(check(capsys, job, tmp_path))
    rows = [named(told, "cutting force") for told, _ in plans]
    assert [row["measured"] for row in rows] == ["2026-11-20", "2026-11-21"]
    assert {(row["grade"], row["unit"]) for row in rows} == {("A", "N/mm2")}
    assert rows[1]["value"] / rows[0]["value"] == pytest.approx(2.0, rel=2e-3)
    push = [math.hypot(*told["governed_by"]["force_n"][:2]) for told, _ in plans]
    assert push[1] / push[0] == pytest.approx(2.0, rel=5e-3)
    told, words = plans[1]
    shown = f"cutting force {rows[1]['value']:.3g} N/mm2 (A, measured here 2026-11-21)"
    assert shown in " ".join(words.split())
    assert "measured_here" in {found["code"] for found in told["findings"]}


def test_a_job_without_a_program_uses_no_cutting_force(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "sliding.job.toml"
    job.write_text(SLIDING.replace('"pmma"', '"particleboard"'), encoding="utf-8")
    measure(*words_of("cutting", CUT_LINE), data=tmp_path)
    told, _ = check(capsys, job, tmp_path)
    assert "measured_here" not in {row["code"] for row in told["findings"]}
    assert {row["name"] for row in told["inputs"]} == {"friction", "load", "mass"}


# -- age, materials, wrong files -----------------------------------------------------------


def plan_with(tmp_path: Path, *rows: str, today: datetime.date = TODAY, head: str = HEAD) -> Plan:
    job = tmp_path / "sliding.job.toml"
    job.write_text(SLIDING, encoding="utf-8")
    shop = shop_of(tmp_path, *rows, head=head, today=today)
    return make_plan(job, load_site(DEMO_SITE), shop=shop)


@pytest.mark.parametrize(
    ("today", "code"),
    [(TODAY, None), (datetime.date(2028, 1, 1), "measured_long_ago"),
     (datetime.date(2025, 1, 1), "measured_ahead")],
)  # fmt: skip
def test_an_old_number_is_still_used_with_a_note(
    tmp_path: Path, today: datetime.date, code: str | None
) -> None:
    from tests.measure.shop_files import PULL

    row = PULL.replace('"mdf"', '"pmma"').replace('"machined"', '"film"')
    plan = plan_with(tmp_path, row, today=today)
    found = {finding.code: finding for finding in plan.findings}
    assert ({"measured_long_ago", "measured_ahead"} & set(found)) == ({code} if code else set())
    assert plan.inputs[0].value == 0.40
    if code is not None:
        assert found[code].severity == "note"
        assert "2026-11-20" in found[code].text


def test_a_material_of_the_shops_own_is_used_and_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from kiosk.resources import asset

    text = asset("materials.toml").read_text(encoding="utf-8")
    begin = text.index("[material.pmma]")
    block = text[begin : text.index("[material.polycarbonate]")]
    own = tmp_path / "ours.toml"
    own.write_text(HEAD + block.replace("material.pmma", "material.our_pmma"), encoding="utf-8")
    job = tmp_path / "own.job.toml"
    job.write_text(SLIDING.replace('"pmma"', '"our_pmma"'), encoding="utf-8")
    status = cli.main(["check", str(job), "--site", str(DEMO_SITE), "--data", str(tmp_path)])
    assert status == 2
    assert 'material "our_pmma" is not known' in capsys.readouterr().err
    told, _ = check(capsys, job, tmp_path, "--materials", str(own))
    assert "own_material" in {row["code"] for row in told["findings"]}
    own.write_text(HEAD + block.replace("material.pmma", "material.our_pmma") + "\n# more\n")
    again, _ = check(capsys, job, tmp_path, "--materials", str(own))
    assert again["job"]["digest"] != told["job"]["digest"]


def test_mistakes_of_site_shop_and_job_are_told_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job, site, shop = (tmp_path / n for n in ("a.job.toml", "a.site.toml", "a.shop.toml"))
    job.write_text(SLIDING.replace("thickness_mm", "thicknes_mm"), encoding="utf-8")
    site.write_text(DEMO_SITE.read_text().replace("count = [10, 6]", "count = [0, 6]"))
    shop.write_text("format = 9\n", encoding="utf-8")
    status = cli.main(["check", str(job), "--site", str(site), "--shop", str(shop)])
    assert status == 2
    files = {line.split(":")[0] for line in capsys.readouterr().err.splitlines()}
    assert files == {"a.job.toml", "a.site.toml", "a.shop.toml"}


def test_a_named_shop_file_must_be_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = str(tmp_path / "gone.shop.toml")
    assert cli.main(["check", str(COVER), "--site", str(DEMO_SITE), "--shop", gone]) == 2
    assert "gone.shop.toml: there is no such file" in capsys.readouterr().err


def test_check_writes_nothing_not_even_its_data_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check(capsys, COVER, tmp_path / "none")
    assert not (tmp_path / "none").exists()


# -- the guard's planner -------------------------------------------------------------------


def test_the_guards_planner_makes_the_plan_that_check_makes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    measure(*words_of("friction", PMMA), data=tmp_path)
    told, _ = check(capsys, COVER, tmp_path)
    request = {"job": str(COVER), "site": str(DEMO_SITE), **OwnFiles(tmp_path).named()}
    plan = from_json(json.dumps(json.loads(planner_child.plan(request))["plan"]))
    assert plan.digest == told["job"]["digest"]
    assert plan.minimum_kpa == pytest.approx(told["minimum_kpa"], abs=1e-6)
    assert plan.inputs[0].measured == "2026-11-20"


def test_the_guards_planner_refuses_in_words_when_the_shop_file_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("format = 2\n", encoding="utf-8")
    request = {"job": str(COVER), "site": str(DEMO_SITE), **OwnFiles(tmp_path).named()}
    answer = json.loads(planner_child.plan(request))
    assert answer["refused"].startswith("shop.toml:1: ")


def test_the_guard_looks_for_the_shop_file_at_each_plan(tmp_path: Path) -> None:
    own = OwnFiles(tmp_path)
    assert own.named() == {"shop": None, "materials": None}
    (tmp_path / "shop.toml").write_text(HEAD, encoding="utf-8")
    assert own.named()["shop"] == str(tmp_path / "shop.toml")
    gone = str(tmp_path / "gone.toml")
    assert OwnFiles(tmp_path, gone, gone).named() == {"shop": gone, "materials": gone}
    assert OwnFiles().named() == {"shop": None, "materials": None}


@pytest.mark.parametrize("option", ["--shop", "--materials"])
def test_a_guard_is_not_started_with_a_file_that_is_not_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], option: str
) -> None:
    gone = str(tmp_path / "gone.toml")
    words = ["guard", "--site", str(DEMO_SITE), "--data", str(tmp_path), option, gone]
    assert cli.main(words) == 2
    assert capsys.readouterr().err == f"{gone}: there is no such file: check the name\n"


# -- the weakest number --------------------------------------------------------------------


def number(name: str, low: float, high: float, grade: str, governs: bool = True) -> Input:
    return Input(name, low, low, (low + high) / 2.0, high, "", grade, "of the test", governs)


@pytest.mark.parametrize(
    ("rows", "name"),
    [
        ((number("friction", 0.4, 0.6, "B"), number("cutting force", 50, 60, "C")),
         "cutting force"),
        ((number("friction", 0.2, 0.6, "C"), number("cutting force", 50, 60, "C")), "friction"),
        ((number("friction", 0.2, 0.6, "A"), number("cutting force", 50, 60, "C", False)),
         "friction"),
        # it stands square to the force: 1.12 at most, whatever its sign
        ((number("cutting force", 50, 60, "C"), number("radial share", -0.2, 0.5, "C")),
         "cutting force"),
        ((number("friction", 0.2, 0.6, "C", False),), None),
    ],
)  # fmt: skip
def test_the_weakest_is_of_the_poorest_grade_and_the_widest_range(
    rows: tuple[Input, ...], name: str | None
) -> None:
    found = weakest(rows)
    assert (None if found is None else found.name) == name


def test_nothing_governs_where_the_floor_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "light.job.toml"
    job.write_text(SLIDING.replace("200.0, 0.0, 0.0", "20.0, 0.0, 0.0"), encoding="utf-8")
    told, words = check(capsys, job, tmp_path)
    assert told["governed_by"]["mode"] == "floor"
    assert not any(row["governs"] for row in told["inputs"])
    assert "Weakest" not in words


def test_friction_does_not_govern_a_part_that_lifts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "lift.job.toml"
    job.write_text(SLIDING.replace("200.0, 0.0, 0.0", "0.0, 0.0, 250.0"), encoding="utf-8")
    told, _ = check(capsys, job, tmp_path)
    assert told["governed_by"]["mode"] == "lift"
    assert [row["name"] for row in told["inputs"] if row["governs"]] == ["load"]
    assert named(told, "load")["value"] == 250.0


def test_every_input_of_a_plan_has_a_grade_and_a_source_and_survives_json(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    plan = make_plan(COVER, load_site(DEMO_SITE))
    assert from_json(plan.to_json()) == plan
    assert [row.name for row in plan.inputs if row.governs] == [
        "friction", "cutting force", "radial share",
    ]  # fmt: skip
    for row in plan.inputs:
        assert row.grade in "ABC"
        assert len(row.source) > 5
        assert row.low <= row.typical <= row.high
    material = load_shop(None, TODAY).materials.by_key["pmma"]
    table = friction(material, "film", "clean", "nitrile", "lip")
    assert (plan.inputs[0].low, plan.inputs[0].source) == (table.low, table.source)
    old = json.loads(plan.to_json())
    del old["inputs"]  # as a log of an earlier version has it
    assert from_json(json.dumps(old)).inputs == ()
