"""What a program leaves to the machine: a spindle that it never starts, and block delete."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.plan import Finding
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput
from kiosk.site import load_site
from tests.job.jobs import JOB, SLOT, plan_of


def told(folder: Path, program: str) -> dict[str, Finding]:
    return {row.code: row for row in plan_of(folder, JOB, program).findings}


def test_a_cut_without_any_m3_or_m4_must_be_acknowledged(tmp_path: Path) -> None:
    """RS274/NGC (NISTIR 6556), 3.6.2: S alone does not turn the spindle."""
    found = told(tmp_path, SLOT.replace("S18000 M3", "S18000"))["spindle_not_started"]
    assert found.severity == "warning"
    assert found.text.startswith("Line 5 cuts, and no M3 or M4 in the program starts the spindle.")


@pytest.mark.parametrize("code", ["M3", "M03", "M4"])
def test_a_spindle_that_is_started_is_not_remarked_on(tmp_path: Path, code: str) -> None:
    assert "spindle_not_started" not in told(tmp_path, SLOT.replace("M3\n", f"{code}\n"))


def test_a_cut_after_m5_is_refused_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"^t\.nc:6: a cut while the spindle stands: write M3"):
        plan_of(tmp_path, JOB, SLOT.replace("S18000 M3", "S18000 M3\nM5"))


@pytest.mark.parametrize("line", ["/S9000", "/F900", "/2 G0 X-90."])
def test_both_readings_of_a_line_with_a_stroke_are_told(tmp_path: Path, line: str) -> None:
    """RS274/NGC (NISTIR 6556), 3.3: a stroke that starts a line is the block delete character."""
    found = told(tmp_path, SLOT.replace("G0 X-20.", f"{line}\nG0 X-20."))
    assert found["block_delete"].severity == "warning"
    text = found["block_delete"].text
    assert text.startswith(
        "Line 4 starts with /: carried out here, passed over where the control's"
    )
    assert "program_modes_assumed" not in found


def test_more_than_one_such_line_is_one_remark(tmp_path: Path) -> None:
    found = told(tmp_path, SLOT.replace("G0 X-20.", "/S9000\n/F900\nG0 X-20."))
    assert found["block_delete"].text.startswith("Line 4 and others start with /")


def test_a_line_with_a_stroke_that_changes_no_cut_is_a_note(tmp_path: Path) -> None:
    found = told(tmp_path, SLOT.replace("G0 X-20.", "/M8\nG0 X-20."))
    assert "block_delete" not in found
    assert "lines that start with / are carried out" in found["program_modes_assumed"].text


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_a_program_is_the_same_however_an_editor_saved_it(tmp_path: Path, encoding: str) -> None:
    """UTF-16 with its mark: the Unicode Standard, 3.10; a comment may have any letters."""
    bare = plan_of(tmp_path, JOB, SLOT)
    (tmp_path / "t.nc").write_bytes(f"(Gr\u00f6\u00dfe)\n{SLOT}".encode(encoding))
    plan = make_plan(tmp_path / "t.job.toml", load_site(tmp_path / "x.site.toml"))
    assert plan.program == bare.program
    assert plan.model_kpa == bare.model_kpa
