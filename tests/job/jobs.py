"""Job and site files for the tests of this folder, written into a temporary folder."""

from __future__ import annotations

from pathlib import Path

from kiosk.job.job_file import Job, load_job
from kiosk.job.plan import Plan
from kiosk.job.planning import make_plan
from kiosk.site import load_site

ROOT = Path(__file__).resolve().parents[2]
DEMO_JOBS = ROOT / "assets" / "jobs"
DEMO_SITE = ROOT / "hardware" / "site" / "demo.site.toml"

SITE = """\
format = 1
name = "Bench"
simulated = false
[grid]
pattern = "rows"
pitch_mm = [100.0, 100.0]
count = [6, 4]
origin_mm = [50.0, 50.0]
[cup]
seal_diameter_mm = 60.0
outer_diameter_mm = 64.0
seat_diameter_mm = 76.0
lift_mm = 20.0
seal_margin_mm = 2.0
[air]
altitude_m = 0.0
"""

JOB = """\
format = 1
id = "T-1"
title = "Test panel"
revision = "A"
cups_up = "auto"
[part]
outline = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]
thickness_mm = 20.0
material = "mdf"
underside = "machined"
surface = "clean"
[placement]
x_mm = 0.0
y_mm = 0.0
angle_deg = 0.0
[program]
file = "t.nc"
frame = "part"
origin_mm = [0.0, 0.0]
z_zero = "top"
skin_mm = 0.5
[[tool]]
number = 1
kind = "upcut"
diameter_mm = 10.0
flutes = 2
helix_deg = 30.0
edge = "used"
[hold]
safety_factor = 2.0
"""

HEAD = "G21 G17 G90 G94 G54\nT1 M6\nS18000 M3\n"  # cuts follow from line 4 on
SLOT = HEAD + "G0 X-20. Y150. Z5.\nG1 Z-5. F3000\nG1 X420. F3000\nG0 Z5.\nM30\n"


def write_job(folder: Path, text: str = JOB, program: str = SLOT) -> Path:
    """A job file and its program; returns the job's path."""
    (folder / "t.nc").write_text(program, encoding="utf-8")
    path = folder / "t.job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def job_of(folder: Path, text: str = JOB, program: str = SLOT) -> Job:
    return load_job(write_job(folder, text, program))


def plan_of(folder: Path, text: str = JOB, program: str = SLOT, site: str = SITE) -> Plan:
    site_path = folder / "x.site.toml"
    site_path.write_text(site, encoding="utf-8")
    return make_plan(write_job(folder, text, program), load_site(site_path))


def codes(plan: Plan) -> set[str]:
    return {finding.code for finding in plan.findings}
