"""What each stretch of the path needs, the table of what governs, and progress of a long check."""

from __future__ import annotations

import contextlib
import io
import math
import os
import pty
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from kiosk import cli
from kiosk.job.plan import Plan
from kiosk.job.progress import Told
from kiosk.job.table import as_table, governing
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, ROOT, SITE, plan_of, write_job

# A slot 3 mm deep along y 100, then one 12 mm deep along y 200; the rapid between cuts nothing.
TWO = (
    HEAD + "G0 X-20. Y100. Z5.\nG1 Z-3. F3000\nG1 X420.\nG0 Z5.\n"
    "G0 X-20. Y200.\nG1 Z-12.\nG1 X420.\nG0 Z5.\nM30\n"
)


def most_at(plan: Plan, y_mm: float) -> float:
    found = [p.severity for p in plan.paths if p.severity is not None and p.points[-1][1] == y_mm]
    return max(found)


def test_a_deep_cut_needs_the_whole_minimum_and_a_shallow_one_its_share(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB, TWO)
    assert most_at(plan, 200.0) > 0.95
    shallow = plan_of(tmp_path, JOB, TWO.replace("Z-12.", "Z-3."))
    assert plan.model_kpa is not None
    assert shallow.model_kpa is not None
    assert most_at(plan, 100.0) == pytest.approx(shallow.model_kpa / plan.model_kpa, rel=0.1)


def test_every_share_is_between_nothing_and_all_and_survives_the_wire(tmp_path: Path) -> None:
    from kiosk.job.plan import from_json

    plan = plan_of(tmp_path, JOB, TWO)
    known = [path.severity for path in plan.paths if path.severity is not None]
    assert known
    assert all(0.0 <= share <= 1.0 for share in known)
    assert from_json(plan.to_json()) == plan


def test_a_move_through_air_has_no_share(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, JOB, TWO.replace("G0 Z5.\nM30", "G0 Z5.\nG1 X-20.\nM30"))
    assert any(path.severity is None for path in plan.paths)


def test_ten_lines_at_most_govern_worst_first_each_once_with_a_true_direction() -> None:
    from kiosk.job.planning import make_plan
    from kiosk.site import load_site

    plan = make_plan(DEMO_JOBS / "shelf-rail.job.toml", load_site(DEMO_SITE))
    rows = governing(plan)
    needs = [row.minimum_kpa for row in rows]
    assert len(rows) == 10
    assert needs == sorted(needs, reverse=True)
    assert len({(row.tool, row.line) for row in rows}) == 10
    assert len({round(math.atan2(row.force_n[1], row.force_n[0]), 2) for row in rows}) > 3


def test_the_table_has_a_line_for_each_and_fits_a_wide_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    job = DEMO_JOBS / "shelf-rail.job.toml"
    assert cli.main(["check", str(job), "--site", str(DEMO_SITE), "--table"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 11
    assert max(len(line) for line in lines) <= 100
    assert "100%" in "".join(lines)


def test_a_job_without_a_minimum_says_so_in_place_of_a_table(tmp_path: Path) -> None:
    nothing = HEAD + "G0 X0. Y0. Z5.\nG1 X100. F3000\nM30\n"
    assert as_table(plan_of(tmp_path, JOB, nothing)) == "No load of this job has a minimum."


class Screen(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_is_not_told_to_a_file() -> None:
    stream = io.StringIO()
    told = Told(stream)
    told(0.5, "following the cuts")
    told.done()
    assert stream.getvalue() == ""


def test_progress_is_told_at_once_in_one_line_that_is_cleared() -> None:
    stream = Screen()
    told = Told(stream)
    told(0.0, "starting")
    assert "0% starting" in stream.getvalue()
    told(0.5, "following the cuts")
    told.done()
    told.done()
    assert "50% following the cuts" in stream.getvalue()
    assert "\n" not in stream.getvalue()
    assert stream.getvalue().endswith("\r" + " " * 40 + "\r")
    assert stream.getvalue().count(" " * 40) == 1


def test_a_long_check_is_stopped_by_ctrl_c_with_one_line_and_no_traceback(tmp_path: Path) -> None:
    moves = "".join(
        f"G1 X{20 + n % 360} Y{20 + n // 360} Z{-2 - math.sin(n / 9):.3f}\n" for n in range(60000)
    )
    job = write_job(tmp_path, JOB, HEAD + "F3000\n" + moves + "M30\n")
    site = tmp_path / "x.site.toml"
    site.write_text(SITE, encoding="utf-8")
    command = [sys.executable, "-m", "kiosk", "check", str(job), "--site", str(site)]
    master, terminal = pty.openpty()
    with subprocess.Popen(command, cwd=ROOT, stderr=terminal, stdout=subprocess.PIPE) as run:
        os.close(terminal)
        begun = b""
        while b"following the cuts" not in begun:
            assert select.select([master], [], [], 60.0)[0]
            begun += os.read(master, 4096)
        run.send_signal(signal.SIGINT)
        run.communicate(timeout=20.0)
    errors = begun.decode("utf-8") + everything(master)
    assert run.returncode == 130
    assert errors.startswith("\r")
    assert "Traceback" not in errors
    assert errors.rstrip().endswith("stopped: nothing was checked")


def everything(master: int) -> str:
    """What a terminal whose other end is closed was told."""
    told = b""
    with contextlib.suppress(OSError):  # Linux: the other end is closed
        while more := os.read(master, 4096):
            told += more
    os.close(master)
    return told.decode("utf-8")
