"""One cup turned and the job asked again: the same answer as a full check, and a quick one."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.planning import make_plan, work_out
from kiosk.job.resolve import Answer, Worked, resolve, usable
from kiosk.site import load_site
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, JOB, SITE, SLOT, write_job

JOBS = ("shelf-rail", "cover-panel", "bracket-pair")


def copied(name: str, folder: Path) -> Path:
    """A demonstration job with its files in a folder of its own."""
    for path in DEMO_JOBS.glob(f"{name}.*"):
        (folder / path.name).write_bytes(path.read_bytes())
    return folder / f"{name}.job.toml"


def full_check(job: Path, up: list[str]) -> Answer:
    """The job file with ``cups_up`` written into it, checked from the start."""
    text = (DEMO_JOBS / job.name).read_text(encoding="utf-8")
    named = ", ".join(f'"{name}"' for name in up)
    assert 'cups_up = "auto"' in text
    job.write_text(text.replace('cups_up = "auto"', f"cups_up = [{named}]"), encoding="utf-8")
    plan = make_plan(job, load_site(DEMO_SITE))
    most = plan.ceiling_kpa if plan.predicted_kpa is None else plan.predicted_kpa
    return Answer(
        plan.model_kpa,
        plan.minimum_kpa,
        plan.required_kpa,
        plan.start_kpa,
        plan.predicted_kpa,
        plan.start_kpa is not None and plan.start_kpa <= most,
    )


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.parametrize("index", [0, 1, -1])
def test_a_cup_turned_down_and_up_again_gives_what_a_full_check_gives(
    name: str, index: int, tmp_path: Path
) -> None:
    job = copied(name, tmp_path)
    plan, worked = work_out(job, load_site(DEMO_SITE))
    every = sorted(usable(worked.setup))
    fewer = [seat for seat in every if seat != every[index]]
    assert resolve(worked, fewer) == full_check(job, fewer)
    whole = resolve(worked, every)
    assert (whole.model_kpa, whole.start_kpa) == (plan.model_kpa, plan.start_kpa)


def test_a_cup_turned_up_is_asked_from_the_few_that_a_job_names(tmp_path: Path) -> None:
    site = tmp_path / "x.site.toml"
    site.write_text(SITE, encoding="utf-8")

    def worked_with(cups: str) -> Worked:
        job = write_job(tmp_path, JOB.replace('"auto"', cups), SLOT)
        return work_out(job, load_site(site))[1]

    few, more = worked_with('["A1", "A2", "B1"]'), worked_with('["A1", "A2", "B1", "B2"]')
    assert resolve(few, ["A1", "A2", "B1", "B2"]).model_kpa == more.model_kpa
    assert few.model_kpa != more.model_kpa


def test_no_cup_and_a_seat_that_cannot_hold() -> None:
    _, worked = work_out(DEMO_JOBS / "cover-panel.job.toml", load_site(DEMO_SITE))
    assert resolve(worked, []).start_kpa is None
    assert not resolve(worked, []).enough
    with pytest.raises(ValueError, match="B3 cannot hold"):  # under a through-cut
        resolve(worked, ["B3"])
