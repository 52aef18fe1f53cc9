"""Spoilt job, site, drawing and program files: a plan or one-line mistakes, never anything else."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from kiosk.job.plan import Plan
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput
from kiosk.site import load_site
from tests.job.jobs import DEMO_JOBS, JOB, SITE, SLOT, write_job

VALUES = ["-1", "0", "1e9", "nan", "inf", "true", '""', '"x"', "[]", "[[]]", "[[0.0, 0.0]]", "{}",
          "1979-05-27", "'", '"\\u0000"', "[1, [2]]"]  # fmt: skip


def spoilt(text: str, chance: random.Random) -> str:
    """The text with one to three lines dropped, doubled, moved, or given another value."""
    lines = text.splitlines()
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(lines))
        action = chance.randrange(5)
        if action == 0:
            del lines[at]
        elif action == 1:
            lines.insert(at, lines[chance.randrange(len(lines))])
        elif action == 2 and "=" in lines[at]:
            lines[at] = f"{lines[at].split('=')[0]}= {chance.choice(VALUES)}"
        elif action == 3:
            cut = chance.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + chance.choice('[]{}"=,#.\t') + lines[at][cut:]
        else:
            other = chance.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines) + "\n"


def outcome(folder: Path, job: str, site: str, program: str = SLOT) -> Plan | BadInput:
    site_path = folder / "x.site.toml"
    site_path.write_text(site, encoding="utf-8")
    try:
        return make_plan(write_job(folder, job, program), load_site(site_path))
    except BadInput as bad:
        return bad


def judge(result: Plan | BadInput) -> None:
    if isinstance(result, Plan):
        assert result.verdict in ("holds", "does not hold")
        assert result.verdict == "holds" or result.start_kpa is None or result.refused
        return
    assert result.mistakes
    for mistake in result.mistakes:
        told = str(mistake)
        assert "\n" not in told
        assert told.split(":", maxsplit=1)[0] in ("t.job.toml", "x.site.toml", "t.nc", "part.dxf")
        assert len(told) < 500


@pytest.mark.parametrize("seed", range(3))
def test_a_spoilt_job_or_site_is_planned_or_refused_in_words(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    refused = 0
    for _ in range(40):
        job = spoilt(JOB, chance) if chance.random() < 0.6 else JOB
        site = spoilt(SITE, chance) if job is JOB else SITE
        result = outcome(tmp_path, job, site)
        judge(result)
        refused += isinstance(result, BadInput)
    assert 10 < refused <= 40  # most spoilt files are found out


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 140))
def test_many_spoilt_files_are_planned_or_refused_in_words(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(100):
        judge(outcome(tmp_path, spoilt(JOB, chance), spoilt(SITE, chance)))


def test_a_spoilt_drawing_is_read_or_refused_in_words(tmp_path: Path) -> None:
    chance = random.Random(7)
    sound = (DEMO_JOBS / "shelf-rail.dxf").read_bytes()
    outline = "[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]"
    for _ in range(30):
        content = bytearray(sound)
        for _ in range(chance.randint(1, 40)):
            content[chance.randrange(len(content))] = chance.randrange(256)
        (tmp_path / "part.dxf").write_bytes(content[: chance.randint(len(content) // 2, 99_999)])
        judge(outcome(tmp_path, JOB.replace(outline, '"part.dxf"'), SITE))
