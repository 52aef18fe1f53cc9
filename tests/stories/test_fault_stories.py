"""Fault stories on real processes and wires: a few in the quick suite, all with ``-m long``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from disks import CannotBe
from every import GROUPS, table
from story import Story, Told, tell

from hardware.plant.model import GaugeNumbers
from hardware.plant.plant import Numbers, Plant

STORIES = [story for group in GROUPS.values() for story in group]
MARKED = [
    pytest.param(story, id=story.name, marks=() if story.quick else pytest.mark.long)
    for story in STORIES
]


@pytest.mark.parametrize("story", MARKED)
def test_a_fault_does_what_is_written_of_it(story: Story) -> None:
    try:
        told = tell(story)
    except CannotBe as why:
        pytest.skip(str(why))
    assert told.wrong == ()


def test_every_story_has_a_name_of_its_own() -> None:
    assert len({story.name for story in STORIES}) == len(STORIES)


def test_the_table_counts_what_is_not_as_it_must_be() -> None:
    good = Told(STORIES[0], "both open", 0.9, "HOLD LOST", "chain whole", 1.0, ())
    bad = Told(STORIES[1], "both closed", None, "CUTTING", "", None, ("contacts",))
    page = table({"A": [good, bad]}, "today")
    assert "2 stories; 1 not as they must be" in page
    assert f"- {STORIES[1].name}: contacts" in page


@pytest.mark.parametrize(("fault", "per_s"), [("drifts_up", 1.0), ("drifts_down", -1.0)])
def test_a_gauge_that_drifts_says_a_kpa_more_or_less_with_every_second(
    fault: str, per_s: float
) -> None:
    plant = Plant(Numbers(gauge=GaugeNumbers(noise_kpa=0.0)))
    plant.faults.set(fault, True)
    plant.advance(10.0)
    assert plant.gauge_kpa() == pytest.approx(10.0 * per_s, abs=0.05)
    plant.faults.set(fault, False)
    plant.advance(10.1)
    assert plant.gauge_kpa() == pytest.approx(0.0, abs=0.05)
