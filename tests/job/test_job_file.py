"""The job file: what a good one gives, and that each mistake is told with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.job_file import load_job
from kiosk.job.listing import offers
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput
from kiosk.site import load_site
from tests.job.jobs import JOB, SITE, job_of, plan_of, write_job


def line_of(text: str, fragment: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if fragment in line)


def test_a_good_file_gives_what_it_says(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    assert (job.id, job.title, job.revision, job.cups_up) == ("T-1", "Test panel", "A", None)
    assert (job.thickness_mm, job.material, job.surface) == (20.0, "mdf", "clean")
    assert job.program is not None
    assert job.program.file == tmp_path / "t.nc"
    assert job.tools[1].diameter_mm == 10.0
    assert job.line("part", "thickness_mm") == line_of(JOB, "thickness_mm")


def test_what_may_be_left_out_has_its_default(tmp_path: Path) -> None:
    text = JOB.replace('cups_up = "auto"\n', "").replace('revision = "A"\n', "")
    text = text[: text.index("[placement]")] + text[text.index("[program]") :]
    text = text[: text.index("[hold]")].replace('frame = "part"\n', "")
    job = job_of(tmp_path, text)
    assert (job.revision, job.cups_up, job.safety_factor) == ("", None, 2.0)
    assert (job.placement.x_mm, job.placement.angle_deg) == (0.0, 0.0)
    assert job.program is not None
    assert (job.program.frame, job.program.milling) == ("part", "either")


def test_loads_alone_make_a_job(tmp_path: Path) -> None:
    text = JOB[: JOB.index("[program]")] + (
        "[[load]]\nat_mm = [10.0, 20.0, 5.0]\nforce_n = [150.0, 0.0, 40.0]\n"
    )
    job = job_of(tmp_path, text)
    assert job.program is None
    assert job.loads[0].force_n == (150.0, 0.0, 40.0)
    assert not job.loads[0].any_direction


# (what to replace, by what, fragment of the line that must be named, words)
WRONG = [
    ("format = 1", "format = 1.5", "format", "out of range"),
    ('id = "T-1"\n', "", "", '"id" is missing'),
    ('id = "T-1"', 'id = ""', 'id = ""', "is empty"),
    ('title = "Test panel"', "title = [1]", "title", "write text in quotes"),
    ('cups_up = "auto"', 'cups_up = "all"', "cups_up", 'must be "auto" or a list'),
    ('cups_up = "auto"', 'cups_up = ["B2", "B2"]', "cups_up", "names B2 twice"),
    ('cups_up = "auto"', "cups_up = []", "cups_up", "empty list"),
    ("[400.0, 300.0]", "[400.0]", "outline", "element 3 of outline"),
    ("[400.0, 300.0]", "[400.0, inf]", "outline", "number 2 of element 3"),
    ("[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]", "[[0.0, 0.0], [1.0, 0.0]]",
     "outline", "fewer than 3 points"),
    ("[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]", '"part.png"', "part.png",
     "is no .dxf or .svg file"),
    ("[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]", '"part.dxf"', "part.dxf",
     "is not there"),
    ("thickness_mm = 20.0", "thickness = 20.0", "thickness = ", 'write "thickness_mm"'),
    ("thickness_mm = 20.0", "thickness_mm = 0.0", "thickness_mm", "from 0.1 to 500"),
    ("thickness_mm = 20.0", 'thickness_mm = "20"', "thickness_mm", 'is text ("20")'),
    ('underside = "machined"', 'underside = "smooth"', "underside", '"planed" or'),
    ('surface = "clean"\n', "", "[part]", '"surface" is missing'),
    ('surface = "clean"', 'surface = "dry"', "surface", '"clean" or'),
    ("y_mm = 0.0\nangle_deg = 0.0", "y_mm = 0.0\nangle = 0.0", "angle = ", 'write "angle_deg"'),
    ('file = "t.nc"', 'file = "u.nc"', "u.nc", "is not there"),
    ('frame = "part"', 'frame = "machine"', "frame", '"part" or "grid"'),
    ("origin_mm = [0.0, 0.0]", "origin_mm = [0.0, 0.0, 0.0]", "origin_mm", "write 2 numbers"),
    ('z_zero = "top"', 'z_zero = "bottom"', "z_zero", '"top" or "underside"'),
    ("skin_mm = 0.5", "skin_mm = -0.5", "skin_mm", "from 0 to 10"),
    ("skin_mm = 0.5", "[program.offsets]\nG60 = [1.0, 2.0, 3.0]", "G60", "G60 does not belong"),
    ('kind = "upcut"', 'kind = "spiral"', "spiral", '"upcut" or'),
    ('kind = "upcut"', 'kind = "compression"', "compression", "needs upcut_length_mm"),
    ("helix_deg = 30.0", "helix_deg = 30.0\nupcut_length_mm = 5.0", "upcut_length", "is for kind"),
    ("helix_deg = 30.0\n", "", "[[tool]]", '"helix_deg" is missing in [[tool]]'),
    ("flutes = 2", "flutes = 2.0", "flutes", "without a point"),
    ("flutes = 2", "flutes = 0", "flutes", "from 1 to 24"),
    ('edge = "used"', 'edge = "old"', "edge", '"sharp" or'),
    ("[hold]", "[[tool]]\nnumber = 1\nkind = \"straight\"\ndiameter_mm = 4.0\nflutes = 1\n[hold]",
     "", "stands here a second time"),
    ("safety_factor = 2.0", "safety_factor = 0.5", "safety_factor", "from 1 to 10"),
    ("safety_factor = 2.0", "friction = 0.0", "friction", "from 0.02 to 2"),
    ("[hold]", "[holding]", "[holding]", 'write "hold"'),
    ("[hold]", "[[load]]\nat_mm = [0.0, 0.0]\nforce_n = [1.0, 0.0, 0.0]\n[hold]", "at_mm",
     "write 3 numbers"),
    ("[hold]", "[load]\nat_mm = [0.0, 0.0, 0.0]\n[hold]", "[load]", "write each as [[load]]"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "fragment", "words"), WRONG)
def test_a_mistake_is_told_on_one_line_with_file_line_and_mend(
    tmp_path: Path, old: str, new: str, fragment: str, words: str
) -> None:
    text = JOB.replace(old, new, 1)
    assert text != JOB
    with pytest.raises(BadInput) as caught:
        job_of(tmp_path, text)
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert any(words in line for line in told), told
    line = next(line for line in told if words in line)
    where = f"t.job.toml:{line_of(text, fragment)}: " if fragment else "t.job.toml"
    assert line.startswith(where), line
    assert "\n" not in line


def test_all_mistakes_of_a_file_are_told_at_once_in_order(tmp_path: Path) -> None:
    text = JOB
    changes = (
        ('id = "T-1"', "id = 7"),
        ("thickness_mm = 20.0", "thickness_mm = -1.0"),
        ('z_zero = "top"', 'z_zero = "up"'),
        ("diameter_mm = 10.0", "diametre_mm = 10.0"),
        ("safety_factor = 2.0", "safety = 2.0"),
    )
    for old, new in changes:
        text = text.replace(old, new, 1)
    with pytest.raises(BadInput) as caught:
        job_of(tmp_path, text)
    lines = {mistake.line for mistake in caught.value.mistakes}
    assert {line_of(text, new) for _, new in changes} <= lines
    ordered = [mistake.line or 0 for mistake in caught.value.mistakes]
    assert ordered == sorted(ordered)


def test_an_unknown_material_names_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(
        BadInput, match=r't\.job\.toml:9: material "beach" is not known: write "beech"'
    ):
        plan_of(tmp_path, JOB.replace('"mdf"', '"beach"'))


def test_an_unknown_seat_is_bad_input_with_its_line(tmp_path: Path) -> None:
    text = JOB.replace('cups_up = "auto"', 'cups_up = ["B2",\n  "Q7"]')
    with pytest.raises(BadInput, match=r't\.job\.toml:6: seat "Q7" is not in the grid'):
        plan_of(tmp_path, text)


def test_a_keep_point_in_no_piece_is_bad_input_with_its_line(tmp_path: Path) -> None:
    text = JOB.replace("thickness_mm", "keep = [[20.0, 20.0], [900.0, 20.0]]\nthickness_mm", 1)
    with pytest.raises(BadInput, match=r"t\.job\.toml:8: keep point \[900, 20\] lies outside"):
        plan_of(tmp_path, text)


@pytest.mark.parametrize(
    ("program", "line", "words"),
    [
        ("G21 G90 G17\nS9000 M3\nG1 X10. F900\nT1 M6\nG1 X0.\n", 3, "a cut before any tool"),
        ("G21 G90 G17\nT2 M6\nS9000 M3\nG1 X10. F900\n", 4, "tool 2 is not in the job file"),
        ("G21 G90 G17\nT1 M6\nG1 X10. F900\n", 3, "without a spindle speed"),
    ],
)
def test_a_cut_that_cannot_be_reckoned_is_told_with_the_line_of_the_program(
    tmp_path: Path, program: str, line: int, words: str
) -> None:
    with pytest.raises(BadInput) as caught:
        plan_of(tmp_path, JOB, program)
    assert str(caught.value.mistakes[0]).startswith(f"t.nc:{line}: ")
    assert words in str(caught.value)


def test_a_measured_friction_replaces_the_table(tmp_path: Path) -> None:
    """With friction stated, the surface need not be; twice the friction needs less vacuum."""
    text = JOB.replace('surface = "clean"\n', "")
    low, high = (plan_of(tmp_path, f"{text}friction = {mu}\n").model_kpa for mu in (0.2, 0.4))
    assert low is not None
    assert high is not None
    assert high < low


def test_the_folder_offers_good_and_bad_jobs(tmp_path: Path) -> None:
    write_job(tmp_path)
    (tmp_path / "bad.job.toml").write_text(JOB.replace("format = 1", "format = 9"))
    (tmp_path / "notes.txt").write_text("not a job")
    bad, good = offers(tmp_path)
    assert (good["file"], good["id"], good["error"]) == ("t.job.toml", "T-1", None)
    assert bad["error"] is not None
    assert bad["error"].startswith("bad.job.toml:1: format is 9")


def test_an_id_that_stands_twice_is_an_error_on_both(tmp_path: Path) -> None:
    write_job(tmp_path)
    (tmp_path / "u.job.toml").write_text(JOB)
    errors = [row["error"] for row in offers(tmp_path)]
    assert all(
        error is not None and "give each its own revision or id" in error for error in errors
    )
    assert [row["id"] for row in offers(tmp_path)] == ["T-1", "T-1"]


def test_a_folder_that_is_not_there_offers_nothing(tmp_path: Path) -> None:
    assert offers(tmp_path / "none") == []


def test_a_missing_job_file_is_one_message(tmp_path: Path) -> None:
    (tmp_path / "x.site.toml").write_text(SITE)
    with pytest.raises(BadInput, match=r"^gone\.job\.toml: there is no such file"):
        make_plan(tmp_path / "gone.job.toml", load_site(tmp_path / "x.site.toml"))
    with pytest.raises(BadInput, match=r"^gone\.job\.toml: there is no such file"):
        load_job(tmp_path / "gone.job.toml")
