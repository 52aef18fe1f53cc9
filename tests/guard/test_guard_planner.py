"""The planner's processes: listing, the latest request wins, deadlines, damage."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from guard_clients import ADDRESSES, eventually, running

from kiosk.demo import folder
from kiosk.guard import child as children
from kiosk.guard.child import Child
from kiosk.guard.gather import job_offers, site_facts
from kiosk.guard.planner import Lister, Planner
from kiosk.guard.shelf import Shelf
from kiosk.guard.worker import Shared
from kiosk.interlock.decision import PlanRequest
from kiosk.interlock.facts import JobOffer, PlannerAnswer
from kiosk.job.plan import from_json
from kiosk.resources import asset
from kiosk.site import Site, load_site

GOOD, REFUSED = "shelf-rail.job.toml", "bracket-pair.job.toml"


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return load_site(folder.fill(tmp_path, ADDRESSES))


@pytest.fixture
def lister(tmp_path: Path, site: Site, shared: Shared) -> Iterator[Lister]:
    with running(Lister(tmp_path / "jobs", shared)) as made:
        yield made


@pytest.fixture
def planner(site: Site, lister: Lister, shelf: Shelf, shared: Shared) -> Iterator[Planner]:
    assert eventually(lambda: bool(lister.jobs), 20.0)
    with running(Planner(site, lister, shelf, shared)) as made:
        yield made


def answer_of(planner: Planner, within_s: float = 40.0) -> PlannerAnswer:
    got: list[PlannerAnswer] = []

    def taken() -> bool:
        answer = planner.answer()
        return answer is not None and not got.append(answer)

    assert eventually(taken, within_s)
    return got[0]


def test_the_folder_is_listed_and_again_when_a_file_comes(lister: Lister) -> None:
    shipped = {path.name for path in asset("jobs").glob("*.job.toml")}
    assert eventually(lambda: {job.file for job in lister.jobs} == shipped, 20.0)
    assert all(job.error is None for job in lister.jobs)
    (lister.folder / "broken.job.toml").write_text("format = \n")
    assert eventually(lambda: {job.file for job in lister.jobs} > shipped, 20.0)
    broken = next(job for job in lister.jobs if job.file == "broken.job.toml")
    assert broken.error is not None
    assert broken.error.startswith("broken.job.toml:1: ")
    assert "\n" not in broken.error
    assert lister.path_of("broken.job.toml") is None


def test_a_file_that_was_replaced_by_one_of_the_same_size_and_time_is_listed_anew(
    lister: Lister,
) -> None:
    assert eventually(lambda: bool(lister.jobs), 20.0)
    file, beside = lister.folder / GOOD, lister.folder / "beside"
    was, text = file.stat(), file.read_text()
    beside.write_text(text.replace('"SR-210"', '"SR-211"'))
    os.utime(beside, ns=(was.st_atime_ns, was.st_mtime_ns))
    beside.replace(file)
    assert file.stat().st_size == was.st_size
    assert eventually(lambda: any(job.id == "SR-211" for job in lister.jobs), 20.0)


def test_a_folder_that_is_not_there_offers_nothing(tmp_path: Path, shared: Shared) -> None:
    lister = Lister(tmp_path / "nowhere", shared)
    lister.jobs = (JobOffer("a.job.toml", "A", "A", ""),)
    with running(lister):
        assert shared.bell.wait(20.0)
        assert lister.jobs == ()


def test_only_an_offered_file_can_be_planned(planner: Planner) -> None:
    for job in ("../../etc/passwd", "/etc/passwd", "", "no-such"):
        planner.ask(PlanRequest("c1", job))
        answer = answer_of(planner)
        assert answer.plan is None
        assert answer.refused == f"{job} is not offered."


def test_the_file_that_was_named_is_opened_though_another_job_has_that_name_as_its_id(
    tmp_path: Path, shared: Shared
) -> None:
    lister = Lister(tmp_path, shared)
    lister.jobs = (
        JobOffer("a.job.toml", "b.job.toml", "A", ""),
        JobOffer("b.job.toml", "B", "B", ""),
        JobOffer("c.job.toml", "d.job.toml", "C", ""),
        JobOffer("d.job.toml", "D", "D", "", error="d.job.toml:1: a mistake"),
        JobOffer("e.job.toml", "E", "E", "1"),
        JobOffer("f.job.toml", "E", "E", "2"),
    )
    assert lister.path_of("b.job.toml") == tmp_path / "b.job.toml"
    assert lister.path_of("B") == tmp_path / "b.job.toml"
    assert lister.path_of("d.job.toml") is None  # bad, and nothing else is meant
    assert lister.path_of("E") is None  # two files: the name does not say which
    assert lister.path_of("f.job.toml") == tmp_path / "f.job.toml"
    assert lister.path_of("g.job.toml") is None


def test_a_good_job_becomes_plain_numbers_and_its_plan_is_on_the_shelf(
    planner: Planner, shelf: Shelf, site: Site
) -> None:
    planner.ask(PlanRequest("c1", GOOD))
    answer = answer_of(planner)
    assert (answer.command_id, answer.refused) == ("c1", None)
    facts = answer.plan
    assert facts is not None
    text = shelf.get(facts.digest)
    assert text is not None
    plan = from_json(text)
    assert facts.start_kpa == plan.start_kpa
    assert set(facts.drops_kpa) == set(facts.errors_kpa) == {gauge.name for gauge in site.gauges}
    assert {seat for zone in facts.zones for seat in zone.up} == {
        seat.name for seat in plan.seats if seat.state == "up"
    }
    # DESIGN's rule in numbers: R at the start level is the site's start ratio.
    gauge = site.gauges[0].name
    allowance = facts.drops_kpa[gauge] + facts.errors_kpa[gauge]
    ratio = (facts.start_kpa - allowance) / facts.minimum_kpa
    assert ratio == pytest.approx(site.limits.start_ratio, abs=1e-6)


def test_a_job_that_does_not_hold_comes_back_as_words(planner: Planner) -> None:
    planner.ask(PlanRequest("c1", REFUSED))
    answer = answer_of(planner)
    assert answer.plan is None
    assert answer.refused


def test_the_latest_request_wins(planner: Planner) -> None:
    planner.ask(PlanRequest("c1", REFUSED))
    planner.ask(PlanRequest("c2", GOOD))
    assert answer_of(planner).command_id == "c2"
    assert planner.answer() is None


def test_a_dropped_request_gives_no_answer(planner: Planner) -> None:
    planner.ask(PlanRequest("c1", GOOD))
    planner.drop()
    planner.ask(PlanRequest("c2", "no-such"))
    assert answer_of(planner).command_id == "c2"
    assert planner.answer() is None


def test_a_changed_site_file_is_said_and_its_plan_not_adopted(planner: Planner, site: Site) -> None:
    with site.file.open("a") as file:
        file.write("\n# changed since the guard started\n")
    planner.ask(PlanRequest("c1", GOOD))
    answer = answer_of(planner)
    assert answer.plan is None
    assert "site file was changed" in str(answer.refused)


def stand_in(monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    """Another program in the planner's place."""
    monkeypatch.setattr(children, "COMMAND", (sys.executable, "-c", code))


def test_a_planner_that_never_answers_is_ended_at_its_deadline(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    stand_in(monkeypatch, "import threading; threading.Event().wait()")
    assert Child().ask({"do": "plan"}, 0.3) == "the planner did not answer within 0 s"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("raise SystemExit(3)", "ended with status 3 and without an answer"),
        ("print('{')", "without an answer"),
        ("print('[]')", "no object"),
    ],
)
def test_a_planner_that_answers_nonsense_is_words(
    monkeypatch: pytest.MonkeyPatch, code: str, words: str
) -> None:
    stand_in(monkeypatch, code)
    assert words in str(Child().ask({"do": "plan"}, 10.0))


def test_an_ended_child_lets_its_asker_go(monkeypatch: pytest.MonkeyPatch) -> None:
    stand_in(monkeypatch, "import threading; threading.Event().wait()")
    child, said = Child(), []
    asker = threading.Thread(target=lambda: said.append(child.ask({}, 30.0)))
    asker.start()
    assert eventually(lambda: child._process is not None)
    child.end()
    asker.join(20.0)
    assert "without an answer" in str(said[0])
    assert child.ask({}, 30.0) == "the planner was not wanted any more"


class Stopped(Lister):
    """Is asked to end between its look and its reading."""

    def mark(self) -> object:
        self.stop()
        return super().mark()


def test_a_look_that_is_asked_to_end_meanwhile_begins_no_reading(
    tmp_path: Path, shared: Shared, monkeypatch: pytest.MonkeyPatch
) -> None:
    stand_in(monkeypatch, "import threading; threading.Event().wait()")
    lister = Stopped(tmp_path, shared)
    with running(lister):
        lister.join(15.0)
        assert not lister.is_alive()


def test_a_look_that_is_asked_to_end_ends_its_reading(
    tmp_path: Path, shared: Shared, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    stand_in(monkeypatch, "import threading; threading.Event().wait()")
    with running(Lister(tmp_path, shared), 15.0) as lister:
        assert eventually(lambda: lister._child._process is not None)
    assert capsys.readouterr().err == ""


def test_offers_without_a_title_are_offers_still() -> None:
    row = {"file": "a", "id": None, "title": None, "revision": None, "error": "a:1: x"}
    (job,) = job_offers([row])
    assert (job.file, job.id, job.error) == ("a", "", "a:1: x")


def test_the_site_becomes_plain_facts(site: Site) -> None:
    facts = site_facts(site)
    assert not facts.advice_only
    assert facts.simulated
    assert facts.outputs == {"start_permit", "hold_healthy", "alive", "beacon"}
    assert "cycle_running" in facts.inputs
    # ISO 2533:1975, table at 320 m by its own formula: 97.5 kPa within a tenth.
    assert facts.air_kpa == pytest.approx(97.5, abs=0.1)
