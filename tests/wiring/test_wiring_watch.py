"""Gauges and inputs of a site file, live at a terminal and once for scripts."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import Any

import pytest
from plant_process import PlantProcess, until
from wiring_terminal import Terminal, run

from kiosk.wiring.main import arguments

TEXT_GAUGE = """\
[[gauge]]
name = "text"
role = "pump"
kind = "text"
address = "ADDRESS"
layout = "text"
error_kpa = 1.0

[[gauge]]
name = "asked"
role = "pump"
kind = "text"
address = "ASKED"
layout = "asked"
error_kpa = 1.0

[[layout]]
name = "text"
type = "text"
unit = "kPa"
reference = "gauge"

[[layout]]
name = "asked"
type = "text"
pattern = "P= # kPa"
request = "P?"
request_end = "\\r"
unit = "kPa"
reference = "gauge"

"""


def once(site: Path, silent: int = 0) -> tuple[int, dict[str, Any]]:
    """What is told at once.  ``silent``: so many devices do not answer.

    Where more are told not to, the computer stood still for longer than their time-out: again.
    """

    def told() -> tuple[int, dict[str, Any]] | None:
        done = run("--site", str(site), "--once", "--json", "--data", str(site.parent))
        all_of_it = json.loads(done.stdout)
        faults = [row["fault"] for row in (*all_of_it["gauges"], all_of_it["inputs"])]
        late = sum(fault is not None and fault["why"] == "silent" for fault in faults) > silent
        return None if late else (done.returncode, all_of_it)

    found: tuple[int, dict[str, Any]] = until(told, 8.0, "answers in time")
    return found


def on_serial(site: Path, plant: PlantProcess) -> Path:
    """The same machine with its gauge on a serial line and two more that send text."""
    text = site.read_text().replace(plant.ready["gauge"], plant.ready["gauge_rtu"])
    text = text.replace(plant.ready["io"], plant.ready["io_rtu"])
    row = TEXT_GAUGE.replace("ADDRESS", plant.ready["gauge_text"])
    row = row.replace("ASKED", plant.ready["gauge_asked"])
    text = text.replace("[io]\n", row + "[io]\n", 1)
    site.write_text(text)
    return site


def test_everything_of_a_site_is_told_for_scripts(plant: PlantProcess, site_file: Path) -> None:
    status, told = once(site_file)
    machine = plant.do("status")
    assert status == 0
    gauge = told["gauges"][0]
    assert gauge["vacuum_kpa"] == pytest.approx(machine["gauge_kpa"], abs=1.0)
    assert re.fullmatch(r"[0-9A-F]{4} [0-9A-F]{4}", gauge["raw"])
    assert 3.0 <= gauge["rate_hz"] <= 25.0  # 20 are asked for; a busy computer asks less often
    assert 0.0 <= gauge["age_s"] < 2.0
    assert told["inputs"]["values"] == machine["inputs"]
    assert told["contacts"]["values"] == machine["coils"]


def test_serial_lines_are_read_as_well(plant: PlantProcess, site_file: Path) -> None:
    status, told = once(on_serial(site_file, plant))
    assert status == 0
    for gauge in told["gauges"]:
        assert gauge["fault"] is None
        assert gauge["rate_hz"] >= 3.0  # as above
    assert "kPa" in told["gauges"][1]["raw"]
    assert told["inputs"]["values"].keys() == plant.do("status")["inputs"].keys()


@pytest.mark.parametrize(
    ("fault", "face", "why"),
    [("over_range", "gauge", "out_of_range"),
     pytest.param("silent", "gauge", "silent", marks=pytest.mark.long),
     pytest.param("not_a_number", "gauge", "broken", marks=pytest.mark.long),
     pytest.param("exception", "gauge", "refused", marks=pytest.mark.long)],
)  # fmt: skip
def test_a_fault_is_told_with_what_to_look_at(
    plant: PlantProcess, site_file: Path, fault: str, face: str, why: str
) -> None:
    plant.do("fault", name=fault, face=face)
    status, told = once(site_file, silent=why == "silent")
    assert status == 1
    assert told["gauges"][0]["fault"]["why"] == why
    assert told["gauges"][0]["fault"]["look_at"]
    assert told["gauges"][0]["vacuum_kpa"] is None
    assert told["inputs"]["fault"] is None


def test_inputs_that_do_not_answer_are_unknown_and_not_off(
    plant: PlantProcess, site_file: Path
) -> None:
    plant.do("fault", name="silent", face="io")
    status, told = once(site_file, silent=1)
    assert status == 1
    assert told["inputs"]["values"] == {}
    assert told["inputs"]["fault"]["why"] == "silent"
    assert told["gauges"][0]["fault"] is None


def test_the_live_table_follows_the_machine_and_ends_on_ctrl_c(
    plant: PlantProcess, site_file: Path
) -> None:
    with Terminal("--site", str(site_file), "--data", str(site_file.parent)) as terminal:
        terminal.until("key_bypass        off")
        plant.do("key", on=True)
        terminal.until("key_bypass        on ")
        plant.do("key", on=False)
        terminal.until("key_bypass        off")
        plant.do("fault", name="silent")
        terminal.until("no answer")
        terminal.until("Look at: unit number, baud rate, parity, power of the device")
        terminal.press(b"\x03")
        assert terminal.end() == 1  # the gauge does not answer
        table = terminal.text.rsplit("nothing is written", 1)[1]
        assert len(table.splitlines()) <= 24  # one screen: ECMA-48 terminals are 80 by 24
    assert plant.do("status")["coils"] == dict.fromkeys(plant.do("status")["coils"], False)


def test_what_to_wire_where_names_every_number_of_the_file(site_file: Path) -> None:
    done = run("--site", str(site_file), "--connections")
    assert done.returncode == 0
    for line in ("coil 0  start_permit", "coil 1  hold_healthy", "coil 2  alive", "coil 3  beacon",
                 "input 0  cycle_running", "input 5  contact_feedback"):  # fmt: skip
        assert line in done.stdout
    assert "Never wire a contact into an emergency stop chain" in done.stdout
    assert "pulse relay" in done.stdout
    assert "1.0 s, all outputs off" in done.stdout


def test_a_file_without_alive_is_warned_of(site_file: Path) -> None:
    site_file.write_text(site_file.read_text().replace("alive = 2\n", ""))
    assert "WITHOUT alive" in run("--site", str(site_file), "--connections").stdout


def test_a_file_without_contacts_is_told_so(site_file: Path) -> None:
    text = site_file.read_text()
    site_file.write_text(text[: text.index("[io]")])
    assert "leave the contacts out" in run("--site", str(site_file), "--connections").stdout
    done = run("--site", str(site_file), "--contacts", "--data", str(site_file.parent))
    assert done.returncode == 2
    assert "add [io] and [io.outputs]" in done.stderr


def test_the_page_tells_every_option() -> None:
    page = (Path(__file__).resolve().parents[2] / "docs" / "wiring.md").read_text()
    parser = argparse.ArgumentParser()
    arguments(parser)
    options = {word for action in parser._actions for word in action.option_strings}
    told = set(re.findall(r"--[a-z-]+", page))
    assert options - told == {"-h"}
