"""What would lower the minimum: done in the files and checked again, each gives what was told."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job import cures
from kiosk.job.cures import cures_in_words, cures_of, explained
from kiosk.job.plan import Cure, Plan
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.site import load_site
from tests.job.jobs import HEAD, JOB, SITE, write_job

LOW_FLOOR = SITE + "[limits]\nfloor_kpa = 5.0\n"
FEED = "F9000"
SLOT = HEAD + f"G0 X-20. Y150. Z5.\nG1 Z-8. {FEED}\nG1 X420.\nG0 Z5.\nM30\n"
# A trim of 3 mm all along one side, from left to right: the material is left of it, conventional.
TRIM = HEAD + "G0 X-20. Y-2. Z5.\nG1 Z-16. F9000\nG1 X420.\nG0 Z5.\nM30\n"


def asked(
    folder: Path, job: str = JOB, program: str = SLOT, site: str = LOW_FLOOR
) -> tuple[Plan, Worked]:
    (folder / "x.site.toml").write_text(site, encoding="utf-8")
    path = write_job(folder, job, program)
    return work_out(path, load_site(folder / "x.site.toml"))


def told(folder: Path, code: str, *files: str) -> Cure:
    _, worked = asked(folder, *files)
    return next(cure for cure in cures_of(worked) if cure.code == code)


def then(folder: Path, *files: str) -> float | None:
    plan, _ = asked(folder, *files)
    return plan.minimum_kpa


DUSTY = JOB.replace('surface = "clean"', 'surface = "dusty"')
SILICONE = LOW_FLOOR.replace("lift_mm = 20.0", 'lift_mm = 20.0\nlip = "silicone"')
CLIMBING = JOB.replace("skin_mm = 0.5", 'skin_mm = 0.5\nmilling = "climb"')
ONWARD = JOB.replace("skin_mm = 0.5", 'skin_mm = 0.5\nmilling = "conventional"')
LEFT, ONWARD_LEFT = (
    job.replace('"auto"', '["A1", "A2", "B1", "B2", "C1", "C2"]') for job in (JOB, ONWARD)
)
BLUNT = JOB.replace('"used"', '"blunt"')
BACK = HEAD + "G0 X420. Y-2. Z5.\nG1 Z-16. F9000\nG1 X-20.\nG0 Z5.\nM30\n"
FAST = SLOT.replace(FEED, "F90000")
TWICE = SLOT.replace("G1 Z-8. F9000\nG1 X420.", "G1 Z-4. F9000\nG1 X420.\nG1 Z-8.\nG1 X-20.")


@pytest.mark.parametrize(
    ("code", "before", "after"),
    [
        ("feed", (JOB,), (JOB + "feed_override = 0.7\n",)),
        ("edge", (BLUNT,), (BLUNT.replace('"blunt"', '"sharp"'),)),
        ("surface", (DUSTY,), (JOB,)),
        ("lip", (JOB, SLOT, SILICONE), (JOB, SLOT, LOW_FLOOR)),
        ("passes", (JOB, SLOT), (JOB, TWICE)),
        ("sense", (LEFT, TRIM), (ONWARD_LEFT, TRIM)),
    ],
)
def test_a_change_made_in_the_files_gives_the_minimum_that_was_told(
    code: str, before: tuple[str, ...], after: tuple[str, ...], tmp_path: Path
) -> None:
    cure, now = told(tmp_path, code, *before), then(tmp_path, *before)
    assert cure.minimum_kpa == pytest.approx(then(tmp_path, *after), rel=1e-6)
    assert now is not None
    assert cure.lowers_kpa == pytest.approx(now - cure.minimum_kpa)
    assert cure.minimum_kpa < now


def test_a_share_of_the_feed_is_told_as_the_file_takes_it(tmp_path: Path) -> None:
    """0.7 of 0.62 is 0.434: the words name that position and no rounded one."""
    heavy = SLOT.replace(FEED, "F30000")
    cure = told(tmp_path, "feed", JOB + "feed_override = 0.62\n", heavy)
    assert cure.change == "feed at 43.4 %"
    lower = then(tmp_path, JOB + "feed_override = 0.434\n", heavy)
    assert cure.minimum_kpa == pytest.approx(lower, rel=1e-6)


@pytest.mark.parametrize(("override", "offered"), [(0.15, True), (0.14, False)])
def test_no_feed_is_told_that_the_file_would_refuse(
    override: float, offered: bool, tmp_path: Path
) -> None:
    """A feed override is from 0.1 on; 0.7 of 0.15 is 0.105, 0.7 of 0.14 is 0.098."""
    _, worked = asked(tmp_path, JOB + f"feed_override = {override}\n", FAST)
    assert ("feed" in {cure.code for cure in cures_of(worked)}) == offered


@pytest.mark.parametrize("kind", ["vee", "ball"])
def test_no_passes_are_told_of_a_cutter_that_tapers(kind: str, tmp_path: Path) -> None:
    """Its second pass meets the flanks of the first, so half the depth does not tell its push."""
    wide = JOB.replace("diameter_mm = 10.0", "diameter_mm = 40.0").replace("helix_deg = 30.0\n", "")
    straight, tapering = (wide.replace('"upcut"', f'"{name}"') for name in ("straight", kind))
    _, worked = asked(tmp_path, straight)
    assert "passes" in {cure.code for cure in cures_of(worked)}
    _, worked = asked(tmp_path, tapering)
    assert "feed" in {cure.code for cure in cures_of(worked)}
    assert "passes" not in {cure.code for cure in cures_of(worked)}


def test_the_other_sense_is_the_same_path_turned_round(tmp_path: Path) -> None:
    right = '["A3", "A4", "B3", "B4", "C3", "C4"]'
    onward, climbing = (job.replace('"auto"', right) for job in (ONWARD, CLIMBING))
    cure = told(tmp_path, "sense", onward, TRIM)
    assert cure.change == "climb milling, unlike line 6"
    assert cure.minimum_kpa == pytest.approx(then(tmp_path, climbing, BACK), rel=1e-3)
    assert then(tmp_path, onward, BACK) != pytest.approx(cure.minimum_kpa, rel=0.01)


def test_two_passes_round_a_piece_that_comes_free(tmp_path: Path) -> None:
    """A piece parted off: the upper layer runs before the lower one opens its border."""
    job = JOB.replace("thickness_mm", "keep = [[50.0, 150.0], [300.0, 150.0]]\nthickness_mm")
    once = HEAD + f"G0 X150. Y-20. Z5.\nG1 Z-20.4 {FEED}\nG1 Y320.\nG0 Z5.\nM30\n"
    layers = "G1 Z-10. F9000\nG1 Y320.\nG1 Z-20.4\nG1 Y-20."
    twice = once.replace("G1 Z-20.4 F9000\nG1 Y320.", layers)
    _, worked = asked(tmp_path, job, once)
    (half,) = (cure for cure in cures_of(worked) if cure.change.endswith("half as deep"))
    assert half.minimum_kpa == pytest.approx(then(tmp_path, job, twice), rel=2e-3)


def test_a_cup_more_and_every_spare_cup(tmp_path: Path) -> None:
    few = JOB.replace('"auto"', '["A1", "A2", "B1", "B2"]')
    _, worked = asked(tmp_path, few)
    found = [cure for cure in cures_of(worked) if cure.code == "cup"]
    assert len(found) == cures.MOST_CUPS
    up = worked.setup.seating.up
    every = {"A3", "A4", "B3", "B4", "C1", "C2", "C3", "C4"}
    alone = {
        seat: then(tmp_path, JOB.replace('"auto"', str(sorted({*up, seat})).replace("'", '"')))
        for seat in every
    }
    best = sorted(alone.items(), key=lambda item: item[1] or 1e9)[: cures.MOST_CUPS]
    assert [(c.change, c.minimum_kpa) for c in found] == [
        (f"cup {seat} up too", pytest.approx(kpa, rel=1e-9)) for seat, kpa in best
    ]
    whole = next(cure for cure in cures_of(worked) if cure.code == "all_cups")
    assert whole.minimum_kpa == pytest.approx(then(tmp_path, JOB), rel=1e-9)


def test_they_are_told_by_what_lowers_most(tmp_path: Path) -> None:
    _, worked = asked(tmp_path, DUSTY)
    found = [cure.minimum_kpa for cure in cures_of(worked)]
    assert found == sorted(found)
    assert len(found) >= 3


def test_nothing_is_told_where_the_floor_decides_or_nothing_would_help(tmp_path: Path) -> None:
    light = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-1. F3000\nG1 X420.\nG0 Z5.\nM30\n"
    _, worked = asked(tmp_path, JOB, light, SITE)
    assert cures_of(worked) == ()
    stated = JOB[: JOB.index("[program]")] + (
        "[[load]]\nat_mm = [200.0, 150.0, 0.0]\nforce_n = [0.0, 0.0, 900.0]\n"
    )
    _, worked = asked(tmp_path, stated)
    assert cures_of(worked) == ()


def test_a_job_that_no_vacuum_holds_is_told_which_cup_would_do(tmp_path: Path) -> None:
    """Parted along x = 150: the left piece has no cup of its own."""
    job = JOB.replace("thickness_mm", "keep = [[50.0, 150.0], [300.0, 150.0]]\nthickness_mm")
    bare = job.replace('"auto"', '["A3", "A4", "B3", "B4", "C3", "C4"]')
    parted = HEAD + "G0 X150. Y-20. Z5.\nG1 Z-20.4 F900\nG1 Y320.\nG0 Z5.\nM30\n"
    _, worked = asked(tmp_path, bare, parted)
    assert worked.model_kpa is None
    found = [cure for cure in cures_of(worked) if cure.code == "cup"]
    assert {cure.change for cure in found} == {f"cup {row}1 up too" for row in "ABC"}
    assert {cure.lowers_kpa for cure in found} == {None}
    for cure in found:
        seats = bare.replace('["A3"', f'["{cure.change.split()[1]}", "A3"')
        assert cure.minimum_kpa == pytest.approx(then(tmp_path, seats, parted), rel=1e-9)


def test_of_a_long_program_they_are_worked_out_only_when_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, worked = asked(tmp_path)
    monkeypatch.setattr(cures, "MOST_PUSHES", 0)
    assert explained(plan, worked).cures == ()
    assert explained(plan, worked, always=True).cures == cures_of(worked) != ()


def test_they_take_two_lines_at_most() -> None:
    rows = [Cure("cup", f"cup A{n} up too", 30.0 + n, 1.0) for n in range(30)]
    lines = cures_in_words(rows, 80)
    assert lines[0].startswith(
        "Lower with cup A0 up too (30.0 kPa at the cups), cup A1 up too (31.0)"
    )
    assert len(lines) == 2
    assert max(map(len, lines)) <= 80
    assert cures_in_words((), 80) == []
