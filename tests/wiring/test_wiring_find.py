"""A gauge of unknown layout found with a dial, at a real terminal, on real lines, and kept."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from plant_process import PlantProcess, until
from wiring_terminal import Terminal, run

from kiosk import cli
from kiosk.site import load_site

MEASURED_KPA = 2.0
PLANT_ROWS = ("vacuum-int16-0.1kPa", "vacuum-float32-kPa", "vacuum-float32-kPa-words-swapped",
              "vacuum-float32-kPa-bytes-swapped", "vacuum-float32-kPa-reversed",
              "absolute-uint16-mbar", "vacuum-int32-Pa", "loop-uA-100kPa")  # fmt: skip


def vacuum(plant: PlantProcess) -> float:
    return float(plant.do("status")["vacuum_kpa"])


def draw(plant: PlantProcess) -> float:
    """Draw vacuum until the dial stands still; what it shows."""
    assert plant.do("vacuum", on=True)["ok"]
    seen: list[tuple[float, float]] = []

    def still() -> bool:
        status = plant.do("status")
        seen.append((status["now_s"], status["vacuum_kpa"]))
        before = [kpa for at, kpa in seen if at <= seen[-1][0] - 0.4]
        return bool(before) and before[-1] > 60.0 and abs(before[-1] - seen[-1][1]) < 0.1

    until(still, 30.0, "a dial that stands still")
    return vacuum(plant)


def vent(plant: PlantProcess) -> None:
    plant.do("release", force=True)
    until(lambda: vacuum(plant) < 1.0, 20.0, "a vented table")


def search(plant: PlantProcess, terminal: Terminal) -> str:
    """Two readings, vented and drawn; what was said after the second."""
    terminal.until("What does the dial show now?")
    terminal.type(f"{vacuum(plant):.1f}")
    terminal.until("Readings so near to each other prove nothing yet.")
    terminal.until("Change the vacuum by 20 kPa or more")
    terminal.type(f"{draw(plant):.1f}")
    return terminal.until("to choose it, Enter for another reading")


def number_of(said: str, row: str) -> str:
    return next(line.split()[0] for line in said.splitlines() if f" {row} " in line)


@pytest.mark.parametrize(
    ("line", "words", "row"),
    [
        pytest.param("gauge", ["--count", "15"], "vacuum-float32-kPa-words-swapped",
                     marks=pytest.mark.long),
        pytest.param("gauge_rtu", ["--first", "2", "--count", "2"], "vacuum-float32-kPa",
                     marks=pytest.mark.long),
        pytest.param("gauge_rtu", ["--first", "14", "--count", "1"], "loop-uA-100kPa",
                     marks=pytest.mark.long),
        ("gauge_text", [], "text-gauge-kPa"),
        ("gauge_asked", ["--request", "P?", "--request-end", r"\r", "--pattern", "P= # kPa"],
         "asked-gauge-kPa"),
    ],
)  # fmt: skip
def test_a_gauge_is_found_with_a_dial_and_kept_in_a_new_file(
    plant: PlantProcess, tmp_path: Path, line: str, words: list[str], row: str
) -> None:
    address, kept = plant.ready[line], tmp_path / "new.site.toml"
    vent(plant)
    with Terminal("--gauge", address, "--write", str(kept), "--altitude-m", "320", *words) as there:
        said = search(plant, there)
        there.type(number_of(said, row))
        there.until("error in kPa, from its data sheet")
        there.type("0.8")
        there.until("still carry an example's number")
        assert there.end() == 0
    site = load_site(kept, unfinished=True)
    gauge = site.gauges[0]
    assert (gauge.address, gauge.layout, gauge.error_kpa) == (address, row, 0.8)
    assert site.simulated  # an address on this computer
    told: dict[str, Any] = {}

    def read() -> bool:  # the newest poll of a busy computer may be a fault
        done = run("--site", str(kept), "--once", "--json", "--data", str(tmp_path))
        told.update(json.loads(done.stdout)["gauges"][0])
        return done.returncode == 0

    until(read, 8.0, "the gauge of the new file")
    assert told["vacuum_kpa"] == pytest.approx(vacuum(plant), abs=MEASURED_KPA)
    assert told["rate_hz"] >= 3.0  # 10 are asked for; a busy computer asks less often


def test_several_that_agree_are_left_to_the_person(plant: PlantProcess) -> None:
    """The simulated gauge says its vacuum in eight ways: all of them, and none chosen."""
    vent(plant)
    with Terminal("--gauge", plant.ready["gauge"], "--count", "15", "--altitude-m", "320") as there:
        said = search(plant, there)
        for row in PLANT_ROWS:
            assert f" {row} " in said
        assert "Several agree" in said
        assert "Absolute ones within 5 kPa" in said  # 2 of the dial and 3 of the weather
        assert "different registers (r)" in said
        there.type("")
        there.until("One more reading?")
        there.type("")
        there.until("Nothing was chosen.")
        assert there.end() == 1


def test_a_dial_that_no_layout_agrees_with_is_told(plant: PlantProcess) -> None:
    vent(plant)
    with Terminal("--gauge", plant.ready["gauge"], "--first", "0", "--count", "1") as there:
        there.until("Stop every guard that asks these devices, whatever its data folder")
        there.until("What does the dial show now?")
        there.type("elephant")
        there.until("Type a vacuum from 0 to the air")
        there.type("45")
        there.until("No ready layout agrees")
        there.until("What does the dial show now?")
        there.press(b"\x04")
        there.until("Nothing was chosen.")
        assert there.end() == 1


def test_registers_are_shown_for_scripts(plant: PlantProcess) -> None:
    draw(plant)
    done = run("--gauge", plant.ready["gauge"], "--once", "--json", "--count", "15",
               "--altitude-m", "320")  # fmt: skip
    told = json.loads(done.stdout)
    assert told["registers"].keys() == {"3", "4"}
    assert int(told["registers"]["3"]["0"], 16) / 10.0 == pytest.approx(vacuum(plant), abs=0.5)
    ready = {row["layout"]: row for row in told["layouts"] if row["ready"]}
    assert ready["vacuum-float32-kPa"]["likely"]
    assert ready["vacuum-float32-kPa"]["vacuum_kpa"] == pytest.approx(vacuum(plant), abs=0.5)
    assert not ready["gauge-int16-0.1kPa"]["likely"]


def test_a_block_with_holes_is_read_around_them(plant: PlantProcess) -> None:
    """The simulated gauge has registers 0 to 14 and refuses any block that goes beyond."""
    done = run("--gauge", plant.ready["gauge"], "--once", "--json", "--first", "9", "--count", "20")
    told = json.loads(done.stdout)
    assert list(told["registers"]["4"]) == ["9", "10", "11", "12", "13", "14"]


@pytest.mark.parametrize(
    ("fault", "look_at"),
    [pytest.param("silent", "unit number, baud rate", marks=pytest.mark.long),
     pytest.param("garbled", "wiring, termination", marks=pytest.mark.long),
     ("closed", "plug, address"), ("exception", "function and register")],
)  # fmt: skip
def test_a_gauge_that_does_not_answer_is_told_in_words(
    plant: PlantProcess, fault: str, look_at: str
) -> None:
    plant.do("fault", name=fault)
    words = ("--gauge", plant.ready["gauge"], "--once", "--count", "2")
    until(lambda: run(*words).returncode == 1, 8.0, f"the fault {fault}")
    done = run(*words)
    assert f"Look at: {look_at}" in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [([], "add --request TEXT"), (["--request", "P?", "--request-end", r"\r"], "--pattern")],
)
def test_what_is_missing_for_a_gauge_that_must_be_asked_is_told(
    plant: PlantProcess, words: list[str], said: str
) -> None:
    assert said in run("--gauge", plant.ready["gauge_asked"], "--once", *words).stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "say what to look at"),
        (["--gauge", "udp://x"], "begin with modbus-tcp://"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--count", "126"], "1 to 125 registers"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--first", "65535"], "1 to 125 registers"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--tolerance-kpa", "nan"], "from 0.1 to 10"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--altitude-m", "nan"], "from -400 to 5000"),
        (["--contacts"], "add --site FILE"),
        (["--site", "x", "--contacts", "--gauge", "modbus-tcp://127.0.0.1:1"], "leave out"),
        (["--site", "x", "--contacts", "--seconds", "60"], "from 1 to 5"),
        (["--site", "x", "--json"], "goes with --once"),
        (["--site", "x", "--write", "y"], "add --gauge ADDRESS"),
        (["--site", "no-such.site.toml"], "there is no such file"),
        (["--io", "modbus-tcp://127.0.0.1:1"], "goes with --write"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--write", "/no/such/x.site.toml"], "folder"),
        (["--gauge", "modbus-tcp://127.0.0.1:1", "--line-end", r"\r"], "for a serial:// address"),
        (["--gauge", "serial:///dev/x", "--request", "P?"], "goes with --request-end"),
        (["--gauge", "serial:///dev/x", "--pattern", "P="], "write one #"),
        (["--gauge", "serial:///dev/x", "--line-end", r"\q"], r"\q is none of"),
        (["--gauge", "serial:///dev/x", "--line-end", "\u00e9"], "ASCII"),
    ],
)
def test_a_mistake_is_one_line_and_status_2(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["wiring", *words]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
