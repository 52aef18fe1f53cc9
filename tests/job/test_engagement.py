"""What the program really cuts: sense, feed override, run-out and air moves, through the plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.job.jobs import HEAD, JOB, SLOT, codes, plan_of

# The tool runs along the front edge from left to right, 2 mm in: material on its left.
LEFT = HEAD + "G0 X-20. Y-3. Z5.\nG1 Z-10. F3000\nG1 X420. F3000\nG0 Z5.\nM30\n"
RIGHT = HEAD + "G0 X420. Y-3. Z5.\nG1 Z-10. F3000\nG1 X-20. F3000\nG0 Z5.\nM30\n"


def declared(sense: str) -> str:
    return JOB.replace("skin_mm = 0.5", f'skin_mm = 0.5\nmilling = "{sense}"')


def model(folder: Path, job: str, program: str) -> float:
    found = plan_of(folder, job, program).model_kpa
    assert found is not None
    return found


@pytest.mark.parametrize(("sense", "program"), [("conventional", LEFT), ("climb", RIGHT)])
def test_a_declared_sense_that_fits_narrows_the_push_and_never_adds(
    tmp_path: Path, sense: str, program: str
) -> None:
    """The polygon round the window stands off by 1 / cos 15 deg at its corners at most."""
    open_ = model(tmp_path, JOB, program)
    narrowed = plan_of(tmp_path, declared(sense), program)
    assert "milling_not_as_declared" not in codes(narrowed)
    assert narrowed.model_kpa is not None
    assert 0.3 * open_ < narrowed.model_kpa < 1.04 * open_
    assert narrowed.governed_push is not None


@pytest.mark.parametrize(("sense", "program"), [("climb", LEFT), ("conventional", RIGHT)])
def test_a_declared_sense_that_does_not_fit_is_warned_of_and_not_relied_upon(
    tmp_path: Path, sense: str, program: str
) -> None:
    plan = plan_of(tmp_path, declared(sense), program)
    assert "milling_not_as_declared" in codes(plan)
    assert plan.model_kpa == pytest.approx(model(tmp_path, JOB, program))


def test_the_feed_override_multiplies_the_programs_feed(tmp_path: Path) -> None:
    faster = SLOT.replace("X420. F3000", "X420. F4500").replace("Z-5. F3000", "Z-5. F4500")
    override = JOB.replace("[hold]", "[hold]\nfeed_override = 1.5")
    assert model(tmp_path, override, SLOT) == pytest.approx(model(tmp_path, JOB, faster))


def test_run_out_raises_the_minimum(tmp_path: Path) -> None:
    wobbling = JOB.replace("[hold]", "[hold]\nrunout_mm = 0.05")
    assert model(tmp_path, wobbling, SLOT) > 1.05 * model(tmp_path, JOB, SLOT)


def test_moves_through_air_add_no_load_case(tmp_path: Path) -> None:
    again = SLOT.replace("G0 Z5.\nM30", "G1 X-20.\nG1 X420.\nG1 Y400.\nG1 X-20.\nG0 Z5.\nM30")
    once = plan_of(tmp_path, JOB, SLOT)
    twice = plan_of(tmp_path, JOB, again)
    assert twice.load_cases == once.load_cases
    assert twice.model_kpa == pytest.approx(once.model_kpa)
    assert twice.program is not None
    assert twice.program.cut_length_mm > 3 * 440.0


def test_a_helical_entry_loads_less_than_a_plunge_ever_digs(tmp_path: Path) -> None:
    """Three turns to 15 mm, 5 mm a turn: each turn cuts what it sinks, not the whole depth."""
    turns = "".join(f"G3 X100. Y150. Z-{5 * n}. I10. J0. F2000\n" for n in (1, 2, 3))
    helix = HEAD + "G0 X100. Y150. Z0.5\nG1 Z0. F2000\n" + turns + "G0 Z5.\nM30\n"
    deep = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-15. F2000\nG1 X420. F2000\nG0 Z5.\nM30\n"
    assert model(tmp_path, JOB, helix) < 0.6 * model(tmp_path, JOB, deep)
