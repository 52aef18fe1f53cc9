"""The demo plays one whole cycle by itself, and its record is in the log."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from whole_rig import holdpoint

TOLD = (
    "SIMULATED machine",
    "refused:",
    "the gauge must show",
    "zones confirmed",
    "part confirmed",
    "drawing down",
    "hold proved",
    "START PERMIT closed",
    "cutting, R",
    "LOW HOLD at",
    "HOLD LOST at",
    "the machine holds",
    "standstill reported",
    "reset with cause",
    "released and vented",
    "job done",
)


@pytest.mark.long  # the run of everything plays it too, from the wheel
def test_the_demo_plays_every_step_in_order_and_prints_the_record(tmp_path: Path) -> None:
    done = holdpoint("demo", "--no-screen", "--data", str(tmp_path))
    assert done.returncode == 0, done.stdout + done.stderr
    where = 0
    for words in TOLD:
        assert words in done.stdout[where:], f"{words!r} missing after:\n{done.stdout[:where]}"
        where = done.stdout.index(words, where) + len(words)
    record = done.stdout.split("read back from", 1)[1]
    assert "A01" in record
    shown = holdpoint("log", "show", "1", "--data", str(tmp_path), "--json")
    row = json.loads(shown.stdout)["cycle"]
    told_kpa = float(re.search(r"hold proved: ([\d.]+) kPa", done.stdout)[1])  # type: ignore[index]
    assert row["result"] == "hold_lost"
    assert row["start_vacuum_kpa"] == pytest.approx(told_kpa, abs=1.0)
    assert row["start_vacuum_kpa"] > row["start_kpa"] > row["minimum_kpa"]
    assert row["lowest_ratio"] < 1.0
    assert 5.0 < row["cutting_s"] < 60.0
    verified = holdpoint("log", "verify", "--data", str(tmp_path))
    assert verified.returncode == 0, verified.stdout + verified.stderr


def test_without_a_display_the_demo_says_so_and_what_to_do(tmp_path: Path) -> None:
    import os
    import subprocess
    import sys

    hidden = ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")
    environment = {key: value for key, value in os.environ.items() if key not in hidden}
    done = subprocess.run(
        [sys.executable, "-m", "kiosk", "demo", "--data", str(tmp_path)],
        capture_output=True, text=True, check=False, timeout=60, env=environment,
    )  # fmt: skip
    assert done.returncode == 2
    assert "display" in done.stderr
    assert "--no-screen" in done.stderr
