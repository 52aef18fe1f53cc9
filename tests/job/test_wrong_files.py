"""Wrong files of every kind through the real command: exit 2, one line for each mistake.

Every file in ``wrong/`` but the four named ``good`` is wrong; ``NAME.expected`` beside it holds
the lines that ``holdpoint check`` must say, written down after reading each for its file, its
line and its mend.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from kiosk import cli
from tests.job.jobs import ROOT

WRONG = Path(__file__).parent / "wrong"
GOOD = ("good.job.toml", "good.site.toml", "good.nc", "good.dxf")
CASES = sorted(
    path.name for path in WRONG.iterdir() if path.suffix != ".expected" and path.name not in GOOD
)
SEVERAL = [name for name in CASES if name.startswith("many_")]
BY_PROCESS = ("many_at_once.job.toml", "missing_air.site.toml", "open.dxf", "unknown_code.nc")


def words_for(folder: Path, name: str) -> list[str]:
    """The words of the command that checks one file of ``wrong/``, in a folder of its own."""
    for good in (*GOOD, name):
        shutil.copy(WRONG / good, folder)
    job, site = folder / "good.job.toml", folder / "good.site.toml"
    if name.endswith(".job.toml"):
        job = folder / name
    elif name.endswith(".site.toml"):
        site = folder / name
    else:
        old = "good.nc" if name.endswith(".nc") else "good.dxf"
        job.write_text(job.read_text(encoding="utf-8").replace(old, name), encoding="utf-8")
    return ["check", str(job), "--site", str(site)]


def expected(name: str) -> list[str]:
    return (WRONG / f"{name}.expected").read_text(encoding="utf-8").splitlines()


def test_there_are_sixty_wrong_files_and_each_has_its_words() -> None:
    assert len(CASES) >= 60
    there = {path.name for path in WRONG.glob("*.expected")}
    assert there == {f"{name}.expected" for name in CASES}


def test_the_good_files_are_good(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(words_for(tmp_path, "good.nc")) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("name", CASES)
def test_a_wrong_file_is_told_in_one_line_for_each_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    assert cli.main(words_for(tmp_path, name)) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.splitlines() == expected(name)


@pytest.mark.parametrize("name", CASES)
def test_the_words_name_the_file_and_a_mend(name: str) -> None:
    """``file:line: what is wrong: what to do``; a drawing has no lines that a person could see."""
    for line in expected(name):
        where = r"good\.job\.toml:\d+|" if name.endswith(("dxf", "svg")) else ""
        head = rf"^({where}{re.escape(name)}(:\d+)?): (?P<text>.+)$"
        match = re.match(head, line)
        assert match is not None, line
        assert ": " in match["text"], line
        assert len(line) < 400
        assert "Traceback" not in line


@pytest.mark.parametrize("name", SEVERAL)
def test_several_mistakes_are_all_told_in_order(name: str) -> None:
    numbers = [int(re.split(":", line)[1]) for line in expected(name) if line.count(":") > 1
               and re.split(":", line)[1].isdigit()]  # fmt: skip
    assert len(expected(name)) >= 6
    assert numbers == sorted(numbers)


@pytest.mark.parametrize("name", BY_PROCESS)
def test_the_command_itself_ends_with_2_and_no_traceback(tmp_path: Path, name: str) -> None:
    run = subprocess.run(
        [sys.executable, "-m", "kiosk", *words_for(tmp_path, name)],
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert (run.returncode, run.stdout) == (2, "")
    assert run.stderr.splitlines() == expected(name)


@pytest.mark.parametrize(
    ("name", "kind"),
    [("good.nc", "an NC program"), ("good.dxf", "a drawing"), ("PART.TAP", "an NC program"),
     ("plain", "an NC program"), ("some.SVG", "a drawing")],
)  # fmt: skip
def test_a_file_that_a_job_file_names_is_not_taken_for_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, kind: str
) -> None:
    words = words_for(tmp_path, "good.nc")
    source = WRONG / ("good.dxf" if kind == "a drawing" else "good.nc")
    shutil.copy(source, tmp_path / name)
    assert cli.main([words[0], str(tmp_path / name), *words[2:]]) == 2
    assert capsys.readouterr().err == (
        f"{name}: is {kind}, not a job file: give the *.job.toml file that names it\n"
    )


@pytest.mark.parametrize("site", ["good.site.toml", "missing_air.site.toml"])
def test_drawing_and_program_are_told_together_whatever_the_site_file_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], site: str
) -> None:
    words_for(tmp_path, site)
    for name in ("open.dxf", "unknown_code.nc"):
        shutil.copy(WRONG / name, tmp_path)
    job = tmp_path / "both.job.toml"
    text = (WRONG / "good.job.toml").read_text(encoding="utf-8")
    text = text.replace("good.dxf", "open.dxf").replace("good.nc", "unknown_code.nc")
    job.write_text(text, encoding="utf-8")
    assert cli.main(["check", str(job), "--site", str(tmp_path / site)]) == 2
    of_site = expected(site) if site.startswith("missing") else []
    told = [*of_site, *expected("open.dxf"), *expected("unknown_code.nc")]
    assert capsys.readouterr().err.splitlines() == told
