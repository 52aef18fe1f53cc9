"""What stood when the last guard ended: latch, plan, confirmed zones."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import log_story as story
import pytest

from kiosk.interlock.decision import Note
from kiosk.records.open import inspect

A, B = story.zone("A"), story.zone("B")


def command(name: str, refused: str | None = None, **arguments: object) -> Note:
    data = {"name": name, "client": "1", "arguments": arguments, "refused": refused}
    return Note("command", None, data)


def kept_map(zones: str) -> Note:
    """One confirmation for every seat of some zones, as a guard asks for it after a restart."""
    seats = {"up": [f"{z}{k}" for z in zones for k in (1, 2)], "down": [f"{z}3" for z in zones]}
    return Note("confirm", None, {"what": "map", "zone": None, **seats, "warnings": []})


LATCHES = {
    "lost": (["CUTTING", "HOLD LOST"], "HOLD LOST"),
    "started without permit": (["READY", "NO PERMIT"], "NO PERMIT"),
    "lost, then reset": (["CUTTING", "HOLD LOST", "RELEASE"], None),
    "no permit, then reset": (["READY", "NO PERMIT", "SET UP"], None),
    "lost, reset, lost again": (["HOLD LOST", "RELEASE", "SET UP", "HOLD LOST"], "HOLD LOST"),
    "no permit, then lost": (["READY", "NO PERMIT", "HOLD LOST"], "HOLD LOST"),
    "never": (["SELECT JOB", "SET UP", "CHECKING"], None),
}


@pytest.mark.parametrize("name", LATCHES)
def test_a_latch_stands_until_it_is_left(name: str, tmp_path: Path) -> None:
    way, latch = LATCHES[name]
    notes = [story.state(a, b) for a, b in pairwise(way)]
    story.write(tmp_path / "log.db", notes)
    assert inspect(tmp_path / "log.db").latch == latch


def test_a_latch_outlives_a_guard_that_ended_before_its_first_round(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [story.state("CUTTING", "HOLD LOST")])
    story.write(path, [story.state("", "STARTING")])
    assert inspect(path).latch == "HOLD LOST"


def test_a_latch_of_an_earlier_run_is_gone_when_a_later_one_reset_it(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [story.state("CUTTING", "HOLD LOST")])
    story.write(path, [story.state("STARTING", "HOLD LOST"), story.state("HOLD LOST", "RELEASE")])
    assert inspect(path).latch is None


STANDING: dict[str, tuple[list[Note], str | None, set[str]]] = {
    "nothing": ([], None, set()),
    "a plan": ([story.adopted()], story.DIGEST, set()),
    "a plan and a zone": ([story.adopted(), A], story.DIGEST, {"A"}),
    "a zone undone": ([story.adopted(), A, B, command("undo_zone", zone="A")], story.DIGEST, {"B"}),
    "an undo refused": ([story.adopted(), A, command("undo_zone", "not_now", zone="A")],
                        story.DIGEST, {"A"}),
    "the whole map": ([story.adopted(), kept_map("AB")], story.DIGEST, {"A", "B"}),
    "a map of some zones": ([story.adopted(), kept_map("B")], story.DIGEST, {"B"}),
    "a map, then a zone undone": ([story.adopted(), kept_map("AB"),
                                   command("undo_zone", zone="A")], story.DIGEST, {"B"}),
    "undone and confirmed again": ([story.adopted(), kept_map("AB"),
                                    command("undo_zone", zone="A"), A], story.DIGEST, {"A", "B"}),
    "zones of an earlier plan": ([story.adopted("old"), A, story.adopted(), B],
                                 story.DIGEST, {"B"}),
    "a plan dropped": ([story.adopted(), A, Note("plan", None, {"change": "dropped"})],
                       None, set()),
    "another refused": ([story.adopted(), A, Note("plan", None, {"change": "refused"})],
                        story.DIGEST, {"A"}),
    "job done": ([story.adopted(), A, story.state("RELEASE", "SELECT JOB", "job_done")],
                 None, set()),
    "a cut that goes on": ([story.adopted(), A, B, *story.cut("c-1")[:5]],
                           story.DIGEST, {"A", "B"}),
    "the next part": ([story.adopted(), A, B, *story.cut("c-1"),
                       story.state("RELEASE", "SET UP", "next_part")], story.DIGEST, {"A", "B"}),
}  # fmt: skip


@pytest.mark.parametrize("name", STANDING)
def test_the_adopted_plan_and_its_zones_stand(name: str, tmp_path: Path) -> None:
    notes, digest, zones = STANDING[name]
    plans = [story.a_plan(), story.a_plan("old")]
    story.write(tmp_path / "log.db", notes, plans)
    found = inspect(tmp_path / "log.db")
    assert (found.open_plan_digest, found.confirmed_zones) == (digest, zones)
    assert found.open_plan_json == (None if digest is None else story.a_plan().to_json())


def test_what_stood_still_stands_after_a_guard_that_only_started(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [story.adopted(), A], [story.a_plan()])
    story.write(path, [story.state("STARTING", "PART HELD", "first_round")])
    found = inspect(path)
    assert (found.open_plan_digest, found.confirmed_zones) == (story.DIGEST, {"A"})


@pytest.mark.parametrize("told", [(), (True,), (True, False), (True, False, True)])
def test_service_stands_until_it_is_ended(told: tuple[bool, ...], tmp_path: Path) -> None:
    notes = [Note("service", None, {"on": on, "user": None}) for on in told]
    story.write(tmp_path / "log.db", [story.adopted(), *notes])
    assert inspect(tmp_path / "log.db").service is (len(told) % 2 == 1)


def test_a_plan_whose_text_never_reached_the_log_does_not_stand(tmp_path: Path) -> None:
    story.write(tmp_path / "log.db", [story.adopted(), A])
    assert inspect(tmp_path / "log.db").open_plan_digest is None
