"""What was found, put into a site file: nothing else in it changes, and it stays a site file."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plant_process import PlantProcess
from wiring_terminal import Terminal, run

from kiosk.mistakes import BadInput
from kiosk.site import GaugeSite, InputOutput, Layout, TextForm, load_site
from kiosk.site.layouts import shipped_layouts
from kiosk.site.wiring import INPUTS
from kiosk.wiring.sitetext import Found
from kiosk.wiring.write import write_site

HERE = Path(__file__).resolve().parents[2] / "hardware" / "site"
EXAMPLE = (HERE / "example.site.toml").read_text()
GAUGE = GaugeSite("second", "pump", "modbus-tcp://192.0.2.9:502?unit=2", "register",
                  "gauge-int16-0.1kPa", 0.7, 12.5)  # fmt: skip
IO = InputOutput("modbus-tcp://192.0.2.8:502?unit=1", {"cycle_running": 7}, {"start_permit": 4})
MOVED = replace(shipped_layouts()["gauge-int16-0.1kPa"], name="gauge-int16-f4-at-38", function=4,
                register=38)  # fmt: skip


def write(path: Path, found: Found, force: bool = False) -> list[str]:
    said: list[str] = []
    write_site(path, found, force, said.append)
    return said


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "mine.site.toml"
    path.write_text(EXAMPLE)
    return path


def test_a_new_file_is_a_site_file_with_its_gaps_marked(tmp_path: Path) -> None:
    path = tmp_path / "new.site.toml"
    said = write(path, Found(GAUGE, None, IO, error_stated=False))
    loaded = load_site(path, unfinished=True)
    assert loaded.gauges == (GAUGE,)
    assert loaded.io == IO
    assert not loaded.simulated
    marked = [line for line in path.read_text().splitlines() if "# FILL IN: " in line]
    for key in ("pitch_mm", "count", "origin_mm", "seal_diameter_mm", "seat_diameter_mm",
                "lift_mm", "altitude_m", "drop_kpa", "error_kpa"):  # fmt: skip
        assert any(line.startswith(f"{key} = ") for line in marked), key
        assert any(f" {key}: " in line for line in said), key
        with pytest.raises(BadInput, match=f"{key} still has an example's value"):
            load_site(path)


def test_a_gauge_is_added_and_no_other_line_is_touched(site: Path) -> None:
    write(site, Found(GAUGE))
    assert site.read_text().startswith(EXAMPLE.rstrip("\n"))
    before, after = EXAMPLE.splitlines(), site.read_text().splitlines()
    assert [line for line in after if line in before][: len(before)] == before
    assert load_site(site, unfinished=True).gauges[1] == GAUGE


def test_a_layout_of_its_own_goes_with_its_gauge(site: Path) -> None:
    write(site, Found(replace(GAUGE, layout=MOVED.name), MOVED))
    assert load_site(site, unfinished=True).layouts[MOVED.name] == MOVED


@given(form=st.builds(
    TextForm, st.sampled_from([None, "P= # kPa", "\x02#", '"#" \\', "#\x7f"]),
    st.sampled_from([None, "\r", "\r\n", "\x03"]), st.sampled_from(["P?", "\x05", '"'])
    , st.sampled_from(["", "\r", "\n"]),
))  # fmt: skip
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_form_of_text_comes_back_as_it_was(tmp_path: Path, form: TextForm) -> None:
    path = tmp_path / "text.site.toml"
    path.write_text(EXAMPLE)
    row = GaugeSite("t", "pump", "serial:///dev/ttyUSB7", "text", "asked", 1.0)
    layout = Layout("asked", 0, 0, "text", "ABCD", 1.0, 0.0, "kPa", "gauge", (-5.0, 102.0),
                    text=form)  # fmt: skip
    write(path, Found(row, layout))
    assert load_site(path, unfinished=True).layouts["asked"] == layout


def test_nothing_is_replaced_without_force(site: Path) -> None:
    for found in (Found(replace(GAUGE, name="table")), Found(io=IO)):
        with pytest.raises(BadInput, match=r"already: give --name another, or --force"):
            write(site, found)
    assert site.read_text() == EXAMPLE


def test_with_force_only_the_table_of_that_name_changes(site: Path) -> None:
    write(site, Found(replace(GAUGE, name="table"), None, IO), force=True)
    text, loaded = site.read_text(), load_site(site, unfinished=True)
    assert loaded.gauges == (replace(GAUGE, name="table", rate_hz=20.0),)  # the file's own rate
    assert loaded.io == IO
    head, tail = EXAMPLE.index("[[gauge]]"), EXAMPLE.index("[limits]")
    assert text[:head] == EXAMPLE[:head]
    assert text.endswith(EXAMPLE[tail:])


OWN = """
[[gauge]]     # in the cabinet
name = "second"   # FILL IN
# serial number 1234
calibration_due = 2027-01-31
role = "table"
address = "modbus-tcp://192.0.2.7"
kind = "text"
rate_hz = 50.0    # as fast as it goes
frozen_s = 120.0

error_kpa = 2.0
  # of the table next
[upkeep]
"""


def test_with_force_what_was_not_found_out_about_a_gauge_stays(site: Path) -> None:
    site.write_text(EXAMPLE + OWN.replace('"text"', '"register"\nlayout = "gauge-int16-0.1kPa"'))
    said = write(site, Found(GAUGE), force=True)
    assert load_site(site, unfinished=True).gauges[1] == replace(
        GAUGE, rate_hz=50.0, frozen_s=120.0, calibration_due="2027-01-31"
    )
    assert "As they were, so check that they still fit: calibration_due, rate_hz, frozen_s" in said
    lines = [line for line in OWN.splitlines() if not re.match("name|role|addr|kind|error", line)]
    kept = site.read_text().splitlines()[len(EXAMPLE.splitlines()) :]
    assert [line for line in kept if line in lines] == lines
    assert "FILL IN" not in "".join(kept)


def test_a_gauge_that_becomes_one_of_text_loses_its_layout_and_no_other_line(site: Path) -> None:
    row = GaugeSite("table", "table", "serial:///dev/ttyS5", "text", "", 2.5)
    write(site, Found(row), force=True)
    assert load_site(site, unfinished=True).gauges == (row,)
    rate = next(line for line in EXAMPLE.splitlines() if line.startswith("rate_hz"))
    text = site.read_text()
    assert text[text.index("[[gauge]]") : text.index("[io]")].splitlines() == [
        "[[gauge]]",
        'name = "table"',
        'role = "table"',
        'address = "serial:///dev/ttyS5"',
        'kind = "text"',
        "error_kpa = 2.5",
        rate,
        "",
    ]


def test_what_would_become_wrong_is_refused_and_the_file_stays(site: Path) -> None:
    on_the_gauges_line = InputOutput("modbus-rtu:///dev/ttyUSB0?unit=3", {}, {"beacon": 0})
    with pytest.raises(BadInput, match="would become wrong, and is as it was") as caught:
        write(site, Found(io=on_the_gauges_line), force=True)
    assert "line of its own" in str(caught.value)
    with pytest.raises(BadInput, match="with another baud, parity or stop"):
        write(site, Found(replace(GAUGE, address="modbus-rtu:///dev/ttyUSB0?baud=9600&unit=2")))
    with pytest.raises(BadInput, match="simulated = true"):
        write(site, Found(replace(GAUGE, address="modbus-tcp://127.0.0.1:9?unit=1")))
    assert site.read_text() == EXAMPLE
    assert os.listdir(site.parent) == [site.name]


def test_a_file_written_another_way_is_left_to_the_person(site: Path) -> None:
    """TOML 1.0: rows may be an inline array, which nothing can be put after."""
    text = EXAMPLE[: EXAMPLE.index("[[gauge]]")] + EXAMPLE[EXAMPLE.index("[io]") :]
    text = text.replace("simulated = false", "simulated = false\ngauge = []")
    site.write_text(text)
    with pytest.raises(BadInput, match="put this in by hand"):
        write(site, Found(GAUGE))
    assert site.read_text() == text


def test_tables_that_are_scattered_are_left_to_the_person(site: Path) -> None:
    text = EXAMPLE.replace("[io.outputs]", "[limits]\ndrop_kpa = 2.0\n\n[io.outputs]", 1)
    text = text[: text.rindex("[limits]")]
    site.write_text(text)
    load_site(site, unfinished=True)
    with pytest.raises(BadInput, match="put this in by hand"):
        write(site, Found(io=IO), force=True)
    assert site.read_text() == text


def test_line_ends_rights_and_links_stay(site: Path) -> None:
    site.write_bytes(EXAMPLE.replace("\n", "\r\n").encode())
    site.chmod(0o640)
    link = site.with_name("link.site.toml")
    link.symlink_to(site)
    write(link, Found(GAUGE))
    assert link.is_symlink()
    assert site.stat().st_mode & 0o777 == 0o640
    assert site.read_bytes().startswith(EXAMPLE.rstrip("\n").replace("\n", "\r\n").encode())
    assert b"\n" not in site.read_bytes().replace(b"\r\n", b"")


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=40),
    error_kpa=st.floats(0.01, 20.0), rate_hz=st.floats(1.0, 200.0),
)  # fmt: skip
def test_any_name_and_number_comes_back_as_it_was(
    tmp_path: Path, name: str, error_kpa: float, rate_hz: float
) -> None:
    path = tmp_path / "any.site.toml"
    path.write_text(EXAMPLE)
    row = replace(GAUGE, name=f"x {name}"[:40], error_kpa=error_kpa, rate_hz=rate_hz)
    write(path, Found(row))
    assert load_site(path, unfinished=True).gauges[1] == row


def test_the_refusal_comes_before_the_work(plant: PlantProcess, site_file: Path) -> None:
    done = run("--gauge", plant.ready["gauge"], "--write", str(site_file))
    assert done.returncode == 2
    assert 'has [[gauge]] "table" already' in done.stderr
    assert done.stdout == ""


def test_the_modules_numbers_are_named_by_a_person(plant: PlantProcess, tmp_path: Path) -> None:
    kept = tmp_path / "io.site.toml"
    with Terminal("--io", plant.ready["io"], "--write", str(kept)) as there:
        there.until('Number of cycle_running, or "none"')
        there.type("zero")
        there.until("Type a whole number")
        there.type("0")
        for name in ("standstill", "valve_open"):
            there.until(f'Number of {name}, or "none"')
            there.type("none")
        there.until('Number of stop_healthy, or "none"')
        there.type("0")
        there.until("cycle_running has that number")
        there.type("3")
        there.until('Number of key_bypass, or "none"')
        plant.do("key", on=True)
        there.type("")
        there.until("changed: 4")
        plant.do("key", on=False)
        there.type("4")
        for name in INPUTS[INPUTS.index("key_bypass") + 1 :]:
            there.until(f'Number of {name}, or "none"')
            there.type("none")
        for name, number in (("start_permit", "0"), ("hold_healthy", "1"), ("alive", "2"),
                             ("beacon", "none")):  # fmt: skip
            there.until(f'Number of the coil of {name}, or "none"')
            there.type(number)
        there.until("written")
        assert there.end() == 0
    assert load_site(kept, unfinished=True).io == InputOutput(
        plant.ready["io"],
        {"cycle_running": 0, "stop_healthy": 3, "key_bypass": 4},
        {"start_permit": 0, "hold_healthy": 1, "alive": 2},
    )
