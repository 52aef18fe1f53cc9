"""Ordinary good jobs must not be refused, jobs that are known to fly must not pass.

Which is which is common practice, no source; the rows are in ``ordinary_jobs``.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from kiosk.job.cures import cures_of
from tests.job.ordinary_jobs import BAD, DISPUTED, GOOD, Ordinary
from tests.job.ordinary_page import PAGE, page, spread_told, spreads
from tests.job.ordinary_plans import plan_of, worked_of


@pytest.mark.parametrize("row", GOOD, ids=lambda row: row.name)
def test_an_ordinary_job_holds_with_a_level_that_a_pump_gives(
    row: Ordinary, tmp_path: Path
) -> None:
    plan = plan_of(row, tmp_path)
    assert plan.verdict == "holds", [f.text for f in plan.findings if f.severity == "refuse"]
    assert plan.start_kpa is not None
    assert 20.0 < plan.start_kpa < 75.0


@pytest.mark.parametrize("row", BAD, ids=lambda row: row.name)
def test_a_job_that_is_known_to_fly_is_refused(row: Ordinary, tmp_path: Path) -> None:
    assert plan_of(row, tmp_path).refused


def test_there_are_enough_of_both() -> None:
    assert len(GOOD) >= 30
    assert len(BAD) >= 8


def test_the_page_is_what_the_tool_says_today(tmp_path: Path) -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text.startswith(page(tmp_path))
    for row in (GOOD[3], DISPUTED[2], BAD[2]):
        assert spread_told(row, tmp_path) in text.splitlines()


@pytest.mark.long
def test_all_spreads_of_the_page_are_what_the_tool_says_today(tmp_path: Path) -> None:
    assert PAGE.read_text(encoding="utf-8") == page(tmp_path) + spreads(tmp_path)


def bare_kpa(row: Ordinary) -> float:
    """What the page says that typical numbers need without a factor of safety."""
    told = PAGE.read_text(encoding="utf-8").split("How sure")[1].splitlines()
    (line,) = (line for line in told if line.startswith(f"| {row.name} |"))
    cell = line.split("|")[6].strip()
    return math.inf if cell == "none" else float(cell)


def test_what_flies_and_what_is_open_to_dispute_lie_far_apart() -> None:
    """With typical numbers and no factor; 88 kPa is the end of the pump."""
    assert min(bare_kpa(row) for row in BAD) > 88.0
    assert max(bare_kpa(row) for row in (*GOOD, *DISPUTED)) < 88.0 / 2.0


@pytest.mark.parametrize("row", DISPUTED, ids=lambda row: row.name)
def test_what_is_refused_in_dispute_is_told_a_way_to_hold(row: Ordinary, tmp_path: Path) -> None:
    _, worked = worked_of(row, tmp_path)
    best = cures_of(worked)[0]
    level = worked.supply.levels(best.minimum_kpa)
    assert level is not None
    assert level.start_pa / 1e3 < worked.supply.most_kpa
