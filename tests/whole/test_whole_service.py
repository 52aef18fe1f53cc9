"""The units for a panel: what systemd-analyze says of them, and that they fit the program."""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from kiosk.guard import main as guard
from kiosk.guard.outlet import HUNG_S
from kiosk.screen import main as screen

FOLDER = Path(__file__).resolve().parents[2] / "hardware" / "service"
UNITS = ("holdpoint-guard.service", "holdpoint-screen.service")
ANALYZE = shutil.which("systemd-analyze")
MOST_EXPOSED = 2.5  # of 10, as systemd-analyze counts: "OK" ends at 5
needs_systemd = pytest.mark.skipif(ANALYZE is None, reason="systemd-analyze is not installed")


def settings(unit: str) -> dict[str, list[str]]:
    rows: dict[str, list[str]] = {}
    for line in (FOLDER / unit).read_text().splitlines():
        if "=" in line and not line.startswith("#"):
            name, _, value = line.partition("=")
            rows.setdefault(name, []).append(value)
    return rows


def analyze(*words: str) -> str:
    done = subprocess.run([str(ANALYZE), *words], capture_output=True, text=True, check=False,
                          timeout=60)  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@needs_systemd
@pytest.mark.parametrize("unit", UNITS)
def test_systemd_finds_nothing_wrong_with_a_unit(unit: str, tmp_path: Path) -> None:
    text = (FOLDER / unit).read_text()
    here = tmp_path / unit
    here.write_text(text.replace("/opt/holdpoint/bin/holdpoint", "/bin/true"))
    assert analyze("verify", "--recursive-errors=no", str(here)).strip() == ""


@needs_systemd
@pytest.mark.parametrize("unit", UNITS)
def test_a_unit_is_shut_in(unit: str) -> None:
    said = analyze("security", "--offline=true", "--no-pager", str(FOLDER / unit))
    level = re.search(r"exposure level for \S+: ([\d.]+)", said)
    assert level is not None
    assert float(level[1]) <= MOST_EXPOSED


@pytest.mark.parametrize(("unit", "part"), [(UNITS[0], guard), (UNITS[1], screen)])
def test_the_command_of_a_unit_is_one_of_ours(unit: str, part: object) -> None:
    (command,) = settings(unit)["ExecStart"]
    parser = argparse.ArgumentParser(exit_on_error=False)
    part.arguments(parser)  # type: ignore[attr-defined]
    read = parser.parse_args(command.split()[2:])
    assert command.split()[1] == part.__name__.split(".")[1]  # type: ignore[attr-defined]
    assert f"/var/lib/{settings(UNITS[0])['StateDirectory'][0]}" == read.data


def test_the_supervisor_waits_longer_than_a_guard_that_wakes_and_ends_itself() -> None:
    """Decision note 0010: a guard that hung ends; the watchdog is for one that never wakes."""
    rows = settings(UNITS[0])
    assert rows["Type"] == ["notify"]
    assert float(rows["WatchdogSec"][0]) >= 2.0 * HUNG_S
    assert rows["Restart"] == ["always"]


def test_screen_and_guard_are_two_users_of_one_group() -> None:
    (one, other) = (settings(unit) for unit in UNITS)
    assert one["User"] != other["User"]
    assert one["Group"] == other["Group"]


def test_the_rule_for_serial_adapters_is_written_as_udev_reads_it() -> None:
    """udev(7), "RULES FILES": KEY, operator, value in double quotes, comma between."""
    pair = r'[A-Z]+(\{\w+\})?(==|!=|=|\+=|-=|:=)"[^"]*"'
    lines = (FOLDER / "60-holdpoint.rules").read_text().splitlines()
    rules = [line for line in lines if line and not line.startswith("#")]
    assert rules
    for rule in rules:
        assert re.fullmatch(rf"{pair}(, *{pair})*", rule), rule
    jumps = set(re.findall(r'GOTO="(\w+)"', "\n".join(rules)))
    assert jumps == set(re.findall(r'LABEL="(\w+)"', "\n".join(rules)))
    examples = [line[2:] for line in lines if "FILL-IN" in line]
    assert all(re.fullmatch(rf"{pair}(, *{pair})*", rule) for rule in examples)
