"""What the program really cuts: sense, feed override, run-out and air moves, through the plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.planning import work_out
from kiosk.site import load_site
from tests.job.jobs import HEAD, JOB, SITE, SLOT, codes, plan_of, write_job

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


def spindle_reversed(program: str) -> str:
    return program.replace("M3\n", "M4\n")


@pytest.mark.parametrize(
    ("sense", "program"), [("climb", LEFT), ("conventional", RIGHT)], ids=["climb", "conventional"]
)
def test_a_spindle_the_other_way_round_turns_the_sense_of_a_cut(
    tmp_path: Path, sense: str, program: str
) -> None:
    """M4 turns it counter-clockwise: RS274/NGC (NISTIR 6556), section 3.6.2.  Then what climbed
    cuts against the feed, and what is the picture of a cut in a mirror needs what that cut needs:
    the panel is alike from right and left.
    """
    mirrored = {LEFT: RIGHT, RIGHT: LEFT}[program]
    reversed_ = plan_of(tmp_path, declared(sense), spindle_reversed(program))
    assert "milling_not_as_declared" not in codes(reversed_)
    assert "spindle_reversed" in codes(reversed_)
    plain = plan_of(tmp_path, declared(sense), mirrored)
    assert "spindle_reversed" not in codes(plain)
    assert reversed_.model_kpa == pytest.approx(plain.model_kpa, rel=1e-3)
    back = plan_of(tmp_path, declared(sense), spindle_reversed(mirrored))
    assert "milling_not_as_declared" in codes(back)


@pytest.mark.parametrize("grain_deg", [30.0, 150.0])
@pytest.mark.parametrize(("sense", "program"), [("conventional", LEFT), ("climb", RIGHT)])
def test_a_spindle_the_other_way_round_mirrors_the_grain_too(
    tmp_path: Path, sense: str, program: str, grain_deg: float
) -> None:
    beech = declared(sense).replace('"mdf"', '"beech"')
    grained = beech.replace('"clean"', f'"clean"\ngrain_deg = {grain_deg}')
    other = beech.replace('"clean"', f'"clean"\ngrain_deg = {180.0 - grain_deg}')
    mirrored = {LEFT: RIGHT, RIGHT: LEFT}[program]
    found = model(tmp_path, grained, program)
    assert model(tmp_path, other, spindle_reversed(mirrored)) == pytest.approx(found, rel=1e-3)
    # Where the chip is thickest a tooth of a clockwise spindle that climbs moves at 180 deg plus
    # the arc of engagement from the feed, one against the feed at minus that arc; either way, on
    # the grid, near to a grain at 30 and at 150 deg.
    with_the_grain = (sense == "climb") == (grain_deg == 30.0)
    assert (found < 0.8 * model(tmp_path, other, program)) == with_the_grain


@pytest.mark.parametrize(("grain_deg", "less"), [(0.0, False), (90.0, True)])
def test_a_ramp_takes_the_force_of_its_angle_to_the_grain(
    tmp_path: Path, grain_deg: float, less: bool
) -> None:
    """As a slot along the same way, as deep as the ramp ends: 5 mm over 440 mm.  In a full slot the
    chip is thickest where the tooth moves across the feed (h = f sin phi), so a way along the
    grain meets the force across it, and the other way about.
    """
    ramp = SLOT.replace("G1 Z-5. F3000\nG1 X420. F3000", "G1 Z0. F3000\nG1 X420. Z-5. F3000")
    beech = JOB.replace('"mdf"', '"beech"').replace('"clean"', f'"clean"\ngrain_deg = {grain_deg}')
    bare = JOB.replace('"mdf"', '"beech"')
    down, level = push_of(tmp_path, beech, ramp), push_of(tmp_path, beech, SLOT)
    assert down == pytest.approx(level, rel=0.06)  # the tip is at 4.8 mm as it leaves
    assert (down < 0.95 * push_of(tmp_path, bare, ramp)) == less


def push_of(folder: Path, job: str, program: str) -> float:
    """Greatest lateral push of the program's cuts, N."""
    path = write_job(folder, job, program)
    (folder / "x.site.toml").write_text(SITE, encoding="utf-8")
    _, worked = work_out(path, load_site(folder / "x.site.toml"))
    return max(push.load.lateral_n for push in worked.setup.pushes)


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
