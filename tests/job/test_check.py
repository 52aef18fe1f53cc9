"""``holdpoint check``: exit status, the JSON object, one screen of words."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from kiosk import cli
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, ROOT, SITE, write_job

# Every key of the object, and what is inside those that are objects.
KEYS = {
    "format": None,
    "job": {"id", "title", "digest"},
    "verdict": None,
    "model_kpa": None,
    "minimum_kpa": None,
    "required_kpa": None,
    "start_kpa": None,
    "predicted_kpa": None,
    "ceiling_kpa": None,
    "allowances_kpa": {"drop", "gauge_error"},
    "governed_by": {"mode", "at_mm", "tip_mm", "force_n", "torque_nm", "factor", "tool", "line"},
    "governing": None,
    "load_cases": None,
    "cups": {"up", "down", "blocked"},
    "program": {"moves", "cut_length_mm", "rapid_length_mm", "min_mm", "max_mm", "tools",
                "seconds"},
    "flex": {"deflection_mm", "limit_mm", "at_mm", "cups", "places"},
    "cures": None,
    "inputs": None,
    "findings": None,
}  # fmt: skip

LOAD = JOB[: JOB.index("[program]")] + (
    "[[load]]\nat_mm = [10.0, 20.0, 20.0]\nforce_n = [{n}, 0.0, 40.0]\nany_direction = true\n"
)


def site_file(folder: Path) -> Path:
    path = folder / "x.site.toml"
    path.write_text(SITE, encoding="utf-8")
    return path


def run(job: Path, site: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str]:
    status = cli.main(["check", str(job), "--site", str(site), *more])
    return status, capsys.readouterr().out


@pytest.mark.parametrize(
    ("newton", "status", "verdict"), [(60.0, 0, "holds"), (9e4, 1, "does not hold")]
)
def test_the_exit_status_is_the_verdict(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    newton: float,
    status: int,
    verdict: str,
) -> None:
    job = write_job(tmp_path, LOAD.format(n=newton))
    found, text = run(job, site_file(tmp_path), capsys, "--json")
    assert (found, json.loads(text)["verdict"]) == (status, verdict)


@pytest.mark.parametrize("name", ["shelf-rail", "cover-panel", "bracket-pair"])
def test_the_json_object_has_every_key_and_no_other(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _, text = run(DEMO_JOBS / f"{name}.job.toml", DEMO_SITE, capsys, "--json")
    told = json.loads(text)
    assert set(told) == set(KEYS)
    for key, inside in KEYS.items():
        if inside is not None and told[key] is not None:
            assert set(told[key]) == inside
    assert all(set(row) == {"code", "severity", "text"} for row in told["findings"])
    assert len(text.splitlines()) == 1


def test_numbers_that_do_not_exist_are_null(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = LOAD.format(n=50.0).replace("\nx_mm = 0.0", "\nx_mm = 5000.0")
    status, out = run(write_job(tmp_path, text), site_file(tmp_path), capsys, "--json")
    told = json.loads(out)
    assert status == 1
    for key in ("model_kpa", "minimum_kpa", "required_kpa", "start_kpa", "governed_by", "program"):
        assert told[key] is None
    assert told["ceiling_kpa"] == pytest.approx(81.06)


def test_a_load_row_has_no_line_and_a_cut_has_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = site_file(tmp_path)
    _, out = run(write_job(tmp_path, LOAD.format(n=900.0)), site, capsys, "--json")
    assert json.loads(out)["governed_by"]["line"] is None
    program = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-5. F3000\nG1 X420. F3000\nG0 Z5.\nM30\n"
    _, out = run(write_job(tmp_path, JOB, program), site, capsys, "--json")
    assert json.loads(out)["governed_by"]["line"] == 6


def test_a_cut_and_its_force_are_told_without_the_factor(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = site_file(tmp_path)
    forces = []
    for factor in ("2.0", "3.0"):
        text = JOB.replace("safety_factor = 2.0", f"safety_factor = {factor}")
        _, out = run(write_job(tmp_path, text), site, capsys, "--json")
        governed = json.loads(out)["governed_by"]
        assert governed["factor"] == float(factor)
        forces.append(sum(n * n for n in governed["force_n"]))
    assert forces[0] == pytest.approx(forces[1], rel=1e-6)


@pytest.mark.parametrize("name", ["shelf-rail", "cover-panel", "bracket-pair"])
def test_the_words_fit_one_screen_of_80_by_24(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _, text = run(DEMO_JOBS / f"{name}.job.toml", DEMO_SITE, capsys)
    lines = text.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert lines[0].split(":")[0] in ("HOLDS", "DOES NOT HOLD")
    assert ("To start, the gauge must show" in text) is lines[0].startswith("HOLDS")
    assert "not a safety device" in lines[-1]
    assert not re.search(r"\de[+-]\d", text)  # no powers of ten for a person


def test_the_words_fit_with_many_blocked_seats_and_findings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = tmp_path / "x.site.toml"
    site.write_text(SITE.replace("count = [6, 4]", "count = [30, 20]"), encoding="utf-8")
    text = JOB.replace("400.0", "2900.0").replace("300.0", "1900.0")
    text = text.replace('"Test panel"', f'"{"Long title " * 7}"')
    text = text.replace('"auto"', '["A1", "A2", "D4", "D5", "D6", "D7", "D8", "E9"]')
    cuts = "".join(
        f"G0 X-20. Y{y}. Z5.\nG1 Z-45. F3000\nG1 X2950.\nG0 Z5.\n" for y in range(50, 1900, 150)
    )
    job = write_job(tmp_path, text, HEAD.replace("G21 ", "") + cuts + "M30\n")
    status, out = run(job, site, capsys)
    lines = out.splitlines()
    assert status == 1
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert any(line.startswith("and ") and "more" in line for line in lines)


def test_bad_input_is_status_2_with_words_on_stderr_and_no_traceback(tmp_path: Path) -> None:
    job = write_job(tmp_path, JOB.replace("thickness_mm = 20.0", "thickness_mm = 0.0"))
    words = [sys.executable, "-m", "kiosk", "check", str(job), "--site", str(site_file(tmp_path))]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("t.job.toml:8: thickness_mm is 0, out of range")
    assert "Traceback" not in done.stderr


def test_mistakes_of_site_and_job_are_told_together(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = write_job(tmp_path, JOB.replace("thickness_mm = 20.0", "thickness_mm = 0.0"))
    site = tmp_path / "x.site.toml"
    site.write_text(SITE.replace("lift_mm = 20.0", "lift = 20.0"), encoding="utf-8")
    assert cli.main(["check", str(job), "--site", str(site)]) == 2
    told = capsys.readouterr().err
    assert "x.site.toml:" in told
    assert "t.job.toml:8:" in told
