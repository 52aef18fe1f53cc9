"""What a check says can help: cups, friction, passes, tabs, the place of the part, its zero."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.plan import Plan
from kiosk.job.planning import make_plan
from kiosk.site import load_site
from tests.job.jobs import DEMO_JOBS, HEAD, JOB, SITE, codes, plan_of, write_job

HEAVY = JOB[: JOB.index("[program]")] + (
    "[[load]]\nat_mm = [200.0, 150.0, 20.0]\nforce_n = [9000.0, 0.0, 0.0]\n"
)
TIGHT = JOB.replace('underside = "machined"', 'underside = "laminate"')
DEEP = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-19. F9000\nG1 X420. F90000\nG0 Z5.\nM30\n"


def text_of(plan: Plan, *wanted: str) -> str:
    return next(f.text for f in plan.findings if f.code in wanted)


def too_much(plan: Plan) -> str:
    return text_of(plan, "start_above_air", "start_above_pump", "kept_piece_cannot_hold")


# -- holding -------------------------------------------------------------------------------


def test_more_cups_are_named_only_when_seats_are_left(tmp_path: Path) -> None:
    few = HEAVY.replace('"auto"', '["A1", "B2", "C3"]')
    text = too_much(plan_of(tmp_path, few))
    assert "Put more cups under it (A2 A3 A4 B1 B3 B4 ...)" in text
    assert "move the part" not in text
    text = too_much(plan_of(tmp_path, HEAVY))
    assert "cups under it (" not in text
    assert text.endswith("or move the part so that more cups fit under it.")


def test_a_stated_load_is_to_be_made_smaller_and_a_cut_to_be_lighter(tmp_path: Path) -> None:
    assert "Make its loads smaller" in too_much(plan_of(tmp_path, HEAVY))
    aluminium = JOB.replace('"mdf"', '"aluminium_6082"')
    text = too_much(plan_of(tmp_path, aluminium, DEEP))
    assert "ut in more passes or at a lower feed" in text
    assert "loads" not in text
    assert "tabs" not in text  # nothing comes free


@pytest.mark.parametrize(
    ("surface", "words"),
    [
        ('surface = "dusty"', "Clean its dusty underside"),
        ("", "Measure its friction (holdpoint measure friction)"),  # stated in the job file
        ('surface = "clean"', None),  # a better number than the load's
    ],
)
def test_friction_is_named_where_it_is_the_weakest_number(
    tmp_path: Path, surface: str, words: str | None
) -> None:
    job = HEAVY.replace('surface = "clean"', surface)
    text = too_much(plan_of(tmp_path, job if surface else job + "[hold]\nfriction = 0.3\n"))
    assert (words or "The blank needs") in text
    assert ("friction" in text or "underside" in text) is (words is not None)


PUMP = "[pump]\ncurve = [[0.0, 40.0], [88.0, 0.0]]\n"
PIPE = "[[pipe]]\nlength_m = 6.0\nbore_mm = 32.0\n"
ALL_UP = "# no seat is left over\n"
POROUS = JOB.replace('"mdf"', '"particleboard"').replace("20.0\nmaterial", "9.0\nmaterial")
LIGHT = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-1. F2000\nG1 X420.\nG0 Z5.\nM30\n"


@pytest.mark.parametrize(
    ("job", "supply", "words"),
    [
        (POROUS, PUMP + PIPE, "Air comes through the part (without that, "),
        (
            TIGHT,
            PUMP.replace("40.0", "0.5") + PIPE,
            "Air comes in at lowered seats (without that, ",
        ),
        (TIGHT, PUMP.replace("40.0", "0.1") + ALL_UP, "Air comes under the lips (without that, "),
        (JOB, PUMP + PIPE.replace("32.0", "8.0"), "The pipes are too narrow or long ("),
        (TIGHT, PUMP.replace("88.0", "22.0"), "The pump ends at 22.0 kPa here: it takes another"),
    ],
)
def test_where_the_vacuum_goes_is_told_and_no_lighter_cut_when_loads_are_light(
    tmp_path: Path, job: str, supply: str, words: str
) -> None:
    """A cut of 1 mm needs less than the floor: no change of it can help."""
    site = SITE.replace("[6, 4]", "[4, 3]") if supply.endswith(ALL_UP) else SITE
    text = text_of(plan_of(tmp_path, job, LIGHT, site + supply), "start_above_pump")
    assert words in text
    assert "passes" not in text
    assert "more cups" not in text


def test_what_there_would_be_without_the_part_s_own_leak_is_what_a_tight_face_gives(
    tmp_path: Path,
) -> None:
    text = text_of(plan_of(tmp_path, POROUS, LIGHT, SITE + PUMP), "start_above_pump")
    tight = POROUS.replace('underside = "machined"', 'underside = "laminate"')
    closed = plan_of(tmp_path, tight, LIGHT, SITE + PUMP)
    assert f"(without that, {closed.predicted_kpa:.1f} kPa)" in text
    assert closed.verdict == "holds"


def test_a_heavy_load_is_to_be_made_lighter_first(tmp_path: Path) -> None:
    text = text_of(plan_of(tmp_path, HEAVY, site=SITE + PUMP), "start_above_pump")
    assert "Make its loads smaller" in text


def test_friction_is_not_named_where_the_part_lifts(tmp_path: Path) -> None:
    lifting = HEAVY.replace("[9000.0, 0.0, 0.0]", "[0.0, 0.0, 9000.0]")
    plan = plan_of(tmp_path, lifting)
    assert plan.governed_by is not None
    assert plan.governed_by.mode == "lift"
    assert "riction" not in too_much(plan)


def test_a_piece_that_comes_free_may_be_left_on_tabs() -> None:
    site = load_site(DEMO_JOBS.parents[1] / "hardware" / "site" / "demo.site.toml")
    text = too_much(make_plan(DEMO_JOBS / "bracket-pair.job.toml", site))
    assert text.endswith("leave tabs, or move the part so that more cups fit under it.")


def test_a_piece_on_no_cup_is_not_sent_to_a_lighter_cut(tmp_path: Path) -> None:
    """A strip of 30 mm is narrower than a cup: only tabs or another place can hold it."""
    job = JOB.replace('machined"', 'machined"\nkeep = [[200.0, 10.0], [200.0, 200.0]]')
    rip = HEAD + "G0 X-20. Y35. Z5.\nG1 Z-20.5 F3000\nG1 X420.\nG0 Z5.\nM30\n"
    text = text_of(plan_of(tmp_path, job, rip), "kept_piece_cannot_hold")
    assert text.endswith("Leave tabs, or move the part so that a cup fits under it.")


# -- the part on the grid ------------------------------------------------------------------


def test_a_part_off_the_grid_is_told_so_and_not_that_bending_is_unknown(tmp_path: Path) -> None:
    """The seats go from 50 to 550 with 38 mm around; the part is 400 long."""
    off = plan_of(tmp_path, HEAVY.replace("\nx_mm = 0.0", "\nx_mm = 600.0"))
    assert text_of(off, "no_cups").startswith("The part lies off the grid, at x 600, y 0 mm.")
    assert "no_flex" not in codes(off)
    near = plan_of(tmp_path, HEAVY.replace("\nx_mm = 0.0", "\nx_mm = 580.0"))
    assert "off the grid" not in text_of(near, "no_cups")


def test_a_part_between_the_seats_is_not_called_off_the_grid(tmp_path: Path) -> None:
    small = HEAVY.replace("400.0", "10.0").replace("300.0", "10.0")
    small = small.replace("\nx_mm = 0.0", "\nx_mm = 95.0").replace("y_mm = 0.0", "y_mm = 95.0")
    assert text_of(plan_of(tmp_path, small), "no_cups") == (
        "No seat is under this part. Move the part."
    )


# -- the height of the zero ----------------------------------------------------------------

# A rebate in two passes and a trim through a blank of 20 mm, zero at the top, retracts at 5 mm.
TOP = (
    HEAD + "G0 X-20. Y50. Z5.\nG1 Z-6. F3000\nG1 X420.\nG1 Z-12.\nG1 X-20.\nG0 Z5.\n"
    "G0 Y290.\nG1 Z-20.4\nG1 X420.\nG0 Z5.\nM30\n"
)
# The same cuts, zero at the underside.
UNDERSIDE = (
    HEAD + "G0 X-20. Y50. Z25.\nG1 Z14. F3000\nG1 X420.\nG1 Z8.\nG1 X-20.\nG0 Z25.\n"
    "G0 Y290.\nG1 Z-0.4\nG1 X420.\nG0 Z25.\nM30\n"
)
FROM_BELOW = JOB.replace('z_zero = "top"', 'z_zero = "underside"')


@pytest.mark.parametrize("first", ["G0 X-20. Y50. Z25.", "G0 Z25.\nG0 X-20. Y50."])
def test_the_way_to_the_first_place_is_no_rapid_through_the_blank(
    tmp_path: Path, first: str
) -> None:
    """Where the tip comes from is not known; read as program zero it would lie in the blank."""
    program = UNDERSIDE.replace("G0 X-20. Y50. Z25.", first)
    assert "rapid_in_material" not in codes(plan_of(tmp_path, FROM_BELOW, program))
    deep = program.replace("G0 Y290.", "G0 Y290. Z15.")
    assert "rapid_in_material" not in codes(plan_of(tmp_path, FROM_BELOW, deep))
    through = program.replace("G0 Z25.\nG0 Y290.", "G0 Y290. X200. Z15.")
    assert "rapid_in_material" in codes(plan_of(tmp_path, FROM_BELOW, through))


def test_the_right_zero_is_not_doubted_and_gives_one_answer(tmp_path: Path) -> None:
    top, below = plan_of(tmp_path, JOB, TOP), plan_of(tmp_path, FROM_BELOW, UNDERSIDE)
    assert "z_zero_doubtful" not in codes(top) | codes(below)
    assert top.model_kpa == pytest.approx(below.model_kpa, rel=1e-4)


@pytest.mark.parametrize(
    ("job", "program", "words"),
    [
        (FROM_BELOW, TOP, 'lies below the blank; with z_zero = "top" it would'),
        (JOB, UNDERSIDE, 'lies above the blank; with z_zero = "underside" it would'),
    ],
)
def test_the_wrong_zero_is_told_with_its_line_before_what_follows_from_it(
    tmp_path: Path, job: str, program: str, words: str
) -> None:
    plan = plan_of(tmp_path, job, program)
    text = text_of(plan, "z_zero_doubtful")
    assert words in text
    line = next(n for n, row in enumerate(job.splitlines(), 1) if row.startswith("z_zero"))
    assert f"Check z_zero on line {line} of t.job.toml." in text
    first = next(f for f in plan.findings if f.severity == "warning")
    assert first.code == "z_zero_doubtful"


def test_a_job_that_cannot_hold_for_its_zero_is_sent_there_first(tmp_path: Path) -> None:
    aluminium = FROM_BELOW.replace('"mdf"', '"aluminium_6082"')
    fast = TOP.replace("F3000", "F90000")
    assert too_much(plan_of(tmp_path, aluminium, fast)).endswith("Mend z_zero first.")


@pytest.mark.parametrize(
    ("job", "program"),
    [
        # a trim through the whole blank in one pass, from either zero
        (JOB, HEAD + "G0 X-20. Y290. Z5.\nG1 Z-20.4 F3000\nG1 X420.\nG0 Z5.\nM30\n"),
        (FROM_BELOW, HEAD + "G0 X-20. Y290. Z25.\nG1 Z-0.4 F3000\nG1 X420.\nG0 Z25.\nM30\n"),
        # a program that crosses the blank in air at feed, again and again
        (JOB, HEAD + "F3000\nG1 X0. Y50. Z5.\nG1 X400.\nG1 X0.\nG1 X400.\nG1 Z-4.\nG1 X300.\n"
              "G0 Z5.\nM30\n"),
        # far below: no zero cures it
        (JOB, HEAD + "G0 X-20. Y290. Z5.\nG1 Z-90. F3000\nG1 X420.\nG0 Z5.\nM30\n"),
    ],
)  # fmt: skip
def test_a_zero_that_the_other_would_not_cure_is_not_doubted(
    tmp_path: Path, job: str, program: str
) -> None:
    assert "z_zero_doubtful" not in codes(plan_of(tmp_path, job, program))


def test_loads_alone_have_no_zero(tmp_path: Path) -> None:
    site = tmp_path / "x.site.toml"
    site.write_text(SITE, encoding="utf-8")
    plan = make_plan(write_job(tmp_path, HEAVY), load_site(site))
    assert "z_zero_doubtful" not in codes(plan)
