"""Ordinary good jobs must not be refused, jobs that are known to fly must not pass.

Which is which is common practice, no source; the rows are in ``ordinary_jobs``.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.ordinary_jobs import BAD, GOOD, PAGE, Ordinary, page, plan_of


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
    assert PAGE.read_text(encoding="utf-8") == page(tmp_path)
