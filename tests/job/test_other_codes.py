"""Codes of the machine's own that a site file names as changing no cut."""

from __future__ import annotations

from pathlib import Path

import pytest

from kiosk.job.plan import Plan
from kiosk.mistakes import BadInput
from tests.job.jobs import JOB, SITE, SLOT, plan_of

NAMED = '[control]\nother_codes = ["M21", "M022", "G187"]\n'
OWN = SLOT.replace("G0 X-20.", "M21\nG187 P3 E0.05\nM22 G0 X-20.")


def plan(folder: Path, program: str = OWN, named: str = NAMED) -> Plan:
    return plan_of(folder, JOB, program, SITE + named)


def test_a_named_code_is_passed_over_and_noted(tmp_path: Path) -> None:
    told = plan(tmp_path)
    bare = plan(tmp_path, SLOT)
    assert told.model_kpa == bare.model_kpa
    assert told.program == bare.program
    (note,) = [f for f in told.findings if f.code == "program_modes_assumed"]
    assert note.severity == "note"
    for name in ("M21", "M22", "G187"):
        assert f"{name} as a code that changes no cut, by the site file" in note.text


def test_a_code_that_no_site_file_names_is_refused_with_the_key(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"^t\.nc:4: M21 is not known: .* other_codes of the site"):
        plan(tmp_path, named="")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("G187 X5", "G187 beside a place cannot be passed over"),
        ("M21 A90", "axis A is not read"),
        ("M21 H1 M23", "M23 is not known"),
    ],
)
def test_what_stands_beside_it_is_judged_still(tmp_path: Path, line: str, words: str) -> None:
    with pytest.raises(BadInput, match=rf"^t\.nc:6: {words}"):
        plan(tmp_path, SLOT.replace("G0 X-20. Y150. Z5.", f"G0 X-20. Y150. Z5.\n\n{line}"))


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ('"M3"', "M3 is read as it is: leave it out"),
        ('"G1"', "G1 is read as it is"),
        ('"G41"', "G41 changes the path and cannot be passed over"),
        ('"G68"', "G68 changes the path"),
        ('"M21.5"', "M21.5 is no M code"),
        ('"X5"', "'X5' is no code: write one as"),
        ("21", "21 is no code"),
    ],
)
def test_a_code_that_cannot_be_passed_over_is_told_at_its_line(
    tmp_path: Path, value: str, words: str
) -> None:
    named = f'[control]\nother_codes = [\n"M50",\n{value},\n]\n'
    with pytest.raises(BadInput) as caught:
        plan(tmp_path, SLOT, named)
    (mistake,) = caught.value.mistakes
    assert (mistake.file, mistake.line) == ("x.site.toml", 20)
    assert words in mistake.text
