"""docs/files.md says every key that the readers know, every limit and every finding."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kiosk.job.findings import SEVERITIES
from kiosk.job.job_file import load_job
from kiosk.limits import LIMIT_KEYS, LIMIT_RANGES, Limits
from kiosk.mistakes import BadInput
from kiosk.site import load_site
from kiosk.toml_lines import Table
from tests.job.jobs import JOB, ROOT, SITE, write_job

TEXT = (ROOT / "docs" / "files.md").read_text(encoding="utf-8")
SAID = set(re.findall(r"`\[*([A-Za-z_0-9.]+)\]*`", TEXT))

EVERY_TABLE = """
[[pin]]
kind = "pin"
seat = "A1"
[[load]]
at_mm = [1.0, 1.0, 1.0]
force_n = [1.0, 0.0, 0.0]
[program.offsets]
G55 = [0.0, 0.0, 0.0]
"""

EVERY_SITE_TABLE = """
[pump]
curve = [[0.0, 40.0], [90.0, 0.0]]
[[pipe]]
length_m = 1.0
bore_mm = 20.0
[[gauge]]
name = "t"
role = "table"
address = "modbus-tcp://10.0.0.9:502"
kind = "current"
layout = "own"
error_kpa = 1.0
[[layout]]
name = "own"
function = 3
register = 0
type = "int16"
unit = "kPa"
reference = "vacuum"
span = [0.0, 100.0]
[io]
address = "modbus-tcp://10.0.0.9:502"
[io.inputs]
[io.outputs]
[limits]
[control]
other_codes = ["M21"]
[upkeep]
lockout_inspected = 2026-03-01
[[special]]
kind = "pin"
x_mm = 0.0
y_mm = 0.0
[[special]]
kind = "edge_cup"
seat = "A1"
seal_diameter_mm = 20.0
[[special]]
kind = "board"
seats = ["A2"]
lift_mm = 19.0
material = "mdf"
"""

RINGS = """\
[grid]
pattern = "rings"
centre_mm = [0.0, 0.0]
[[grid.ring]]
radius_mm = 90.0
count = 3
"""
LIST = '[grid]\npattern = "list"\n[[grid.seat]]\nname = "A1"\nx_mm = 0.0\ny_mm = 0.0\n'
LIST += '[[grid.seat]]\nname = "A2"\nx_mm = 90.0\ny_mm = 0.0\n'


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Every key that any table was asked for while files were read."""
    asked: set[str] = set()
    done = Table.done

    def note(table: Table) -> None:
        asked.update(table.known)
        done(table)

    monkeypatch.setattr(Table, "done", note)
    return asked


def test_every_key_of_the_job_file_is_documented(tmp_path: Path, known: set[str]) -> None:
    load_job(write_job(tmp_path, JOB + EVERY_TABLE))
    assert {"any_direction", "upcut_length_mm", "G55", "deflection_limit_mm"} <= known
    plain = known - {f"G{n}" for n in range(56, 60)}  # said as "to G59"
    assert plain - SAID - {"tool", "load", "pin", "part", "placement", "G55"} == set()
    assert all(f"[{name}]" in TEXT for name in ("tool", "load", "pin", "part", "placement", "hold"))


def test_every_key_of_the_site_file_is_documented(tmp_path: Path, known: set[str]) -> None:
    path = tmp_path / "x.site.toml"
    begin, end = SITE.index("[grid]"), SITE.index("[cup]")
    for grid in (SITE[begin:end], RINGS, LIST):
        path.write_text(SITE[:begin] + grid + SITE[end:] + EVERY_SITE_TABLE, encoding="utf-8")
        load_site(path)
    assert {
        "span",
        "branch_bore_mm",
        "start_deg",
        "flat_deg",
        "face",
        "contact_feedback",
    } <= known
    assert known - SAID - {"inputs", "outputs"} == set()
    assert "[io.inputs]" in TEXT
    assert "[io.outputs]" in TEXT


@pytest.mark.parametrize("key", LIMIT_KEYS)
def test_every_limit_is_documented_with_its_default_and_range(key: str) -> None:
    default = getattr(Limits(), key)
    low, high = LIMIT_RANGES[key]
    shown = "none" if default is None else f"{default:g}"
    assert f"| `{key}` | {shown} | {low:g} | {high:g} |" in TEXT


@pytest.mark.parametrize("code", sorted(SEVERITIES))
def test_every_finding_is_documented_with_its_severity(code: str) -> None:
    assert f"| `{code}` | {SEVERITIES[code]} |" in TEXT


def test_a_key_that_is_not_documented_is_refused(tmp_path: Path) -> None:
    assert "colour" not in SAID
    with pytest.raises(BadInput, match='unknown key "colour"'):
        load_job(write_job(tmp_path, JOB + 'colour = "red"\n'))
