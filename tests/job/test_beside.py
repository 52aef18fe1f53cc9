"""A drawing of the finished part in place of the blank: told, since its cuts meet nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.plan import Finding
from tests.job.jobs import HEAD, JOB, plan_of

INLINE = "outline = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]\n"
OPENING = "openings = [[[150.0, 100.0], [250.0, 100.0], [250.0, 200.0], [150.0, 200.0]]]\n"
GROOVE = "G0 X-20. Y50. Z5.\nG1 Z-5. F3000\nG1 X420.\nG0 Z5.\nM30\n"  # something must push
ROUND = (  # the cutter of 10 mm runs round the panel, its flank on the edge
    "G0 X-5. Y-5. Z5.\nG1 Z-20.2 F3000\nG1 X405.\nG1 Y305.\nG1 X-5.\nG1 Y-5.\nG0 Z5.\n"
)
WITHIN = "G0 X155. Y105. Z5.\nG1 Z-20.2 F3000\nG1 X245.\nG1 Y195.\nG1 X155.\nG1 Y105.\nG0 Z5.\n"


def warned(folder: Path, cuts: str, more: str = "", outline: str = INLINE) -> list[Finding]:
    text = JOB.replace(INLINE, outline + more)
    plan = plan_of(folder, text, HEAD + cuts + GROOVE)
    return [finding for finding in plan.findings if finding.code == "cut_along_edge"]


@pytest.mark.parametrize(
    ("cuts", "more", "place"),
    [(ROUND, "", "x -5, y -5 mm"), (WITHIN, OPENING, "x 155, y 105 mm")],
)
def test_cuts_along_an_edge_that_meet_nothing_must_be_acknowledged(
    tmp_path: Path, cuts: str, more: str, place: str
) -> None:
    (found,) = warned(tmp_path, cuts, more)
    assert found.severity == "warning"
    assert found.text.startswith(
        f"Line 6 runs along an edge of the blank, from {place} of the part, and meets nothing"
    )


@pytest.mark.parametrize("allowance_mm", [0.5, 1.9])
def test_a_flank_beside_the_edge_by_an_allowance_is_told_too(
    tmp_path: Path, allowance_mm: float
) -> None:
    outer = 405.0 + allowance_mm
    cut = f"G0 X{outer} Y0. Z5.\nG1 Z-20.2 F3000\nG1 Y300.\nG0 Z5.\n"
    assert warned(tmp_path, cut)


def test_an_arc_in_small_chords_is_told_at_its_line(tmp_path: Path) -> None:
    quarter = "G0 X400. Y-5. Z5.\nG1 Z-20.2 F3000\nG3 X405. Y0. I0. J5.\nG1 Y300.\nG0 Z5.\n"
    assert "Line 6" in warned(tmp_path, quarter)[0].text


@pytest.mark.parametrize(
    "cuts",
    [
        ROUND.replace("405.", "404.").replace("305.", "304.").replace("-5.", "-4."),  # 1 mm less
        "G0 X200. Y-40. Z5.\nG1 Z-5. F3000\nG1 Y150.\nG1 Y-40.\nG0 Z5.\n",  # in and out again
        "G0 X-40. Y-5. Z5.\nG1 Z-5. F3000\nG1 X-12.\nG1 X-40.\nG0 Z5.\n",  # beside a corner only
        ROUND.replace("Z-20.2", "Z1."),  # above the blank
    ],
    ids=["it cuts", "leads", "too far off", "in the air"],
)
def test_cuts_that_meet_material_leads_and_air_are_not_remarked_on(
    tmp_path: Path, cuts: str
) -> None:
    assert not warned(tmp_path, cuts)


def test_a_second_pass_on_the_same_line_is_not_remarked_on(tmp_path: Path) -> None:
    twice = "G0 X-20. Y150. Z5.\nG1 Z-20.2 F3000\nG1 X420.\nG1 X-20.\nG0 Z5.\n"
    assert not warned(tmp_path, twice)
