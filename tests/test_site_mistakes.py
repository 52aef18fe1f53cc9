"""Each mistake in a site file is told with its line and its mend."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_site import GOOD, line_of, site_of

from kiosk.limits import LIMIT_KEYS, LIMIT_RANGES
from kiosk.mistakes import BadInput


def text_row(key: str) -> str:
    """A layout of text with one more key, before the limits."""
    head = '[[layout]]\nname = "t"\ntype = "text"\nunit = "kPa"\nreference = "gauge"'
    return f"{head}\n{key}\n[limits]"


# Two more gauges, on one serial port; the second one's settings are to be put in.
TWO_ON_A_LINE = "error_kpa = 1.0" + "".join(
    f'\n[[gauge]]\nname = "{name}"\nrole = "pump"\nkind = "register"\n'
    f'layout = "vacuum-int16-0.1kPa"\nerror_kpa = 1.0\n'
    f'address = "modbus-rtu:///dev/ttyS1?{words}"'
    for name, words in (("a", "baud=19200&unit=1"), ("b", "{}"))
)

# (what to replace, by what, fragment of the line that must be named, words)
WRONG = [
    ("format = 1", "format = 2", "format", "write 1"),
    ('name = "Router 2"\n', "", "", '"name" is missing in the file'),
    ('name = "Router 2"', "name = 2", "name = 2", "write text in quotes"),
    ("simulated = false", 'simulated = "no"', "simulated", "true or false"),
    ('pattern = "rows"', 'pattern = "row"', "pattern", 'write "rows"'),
    ("pitch_mm = [110.0, 120.0]", "pitch_mm = 110.0", "pitch_mm", "write 2 numbers"),
    ("pitch_mm = [110.0, 120.0]", "pitch_mm = [60.0, 120.0]", "[grid]", "A1 and A2 are 60.0 mm"),
    ("count = [10, 6]", "count = [10, 6.5]", "count", "whole numbers"),
    ("count = [10, 6]", "count = [100, 100]", "count", "10000 seats"),
    ("origin_mm", "orgin_mm", "orgin_mm", 'write "origin_mm"'),
    ("seal_diameter_mm = 68.0", "seal_diameter_mm = -68.0", "seal_d", "from 5 to 400"),
    ("seal_diameter_mm = 68.0", "seal_diameter_mm = nan", "seal_d", "from 5 to 400"),
    ("lift_mm = 26.0", 'lift_mm = 26.0\nlip = "nitril"', "lip", 'write "nitrile"'),
    ("lift_mm = 26.0", "outer_diameter_mm = 60.0\nlift_mm = 26.0", "outer_d", "smaller than seal"),
    ("[air]\naltitude_m = 120.0\n", "", "", "the table [air] is missing"),
    ("altitude_m = 120.0", "altitude_m = 9000.0", "altitude_m", "out of range"),
    ("[50.0, 230.0]", "[50.0, 260.0]", "curve", "air must fall"),
    ("[85.0, 0.0]", "[110.0, 0.0]", "curve", "no pump pulls more"),
    ("bore_mm = 32.0", "bore = 32.0", "bore = 32.0", 'write "bore_mm"'),
    ('role = "table"', 'role = "tabel"', "tabel", 'write "table"'),
    ("10.1.1.5:502?unit=1", ":502?unit=1", "tcp://:502", "the host is missing"),
    (":502?unit=1", ":0?unit=1", "10.1.1.5", "the port is none from 1 to 65535"),
    (":502?unit=1", ":502?units=1", "10.1.1.5", "units is not known here"),
    (":502?unit=1", ":502?unit=256", "10.1.1.5", "a whole number from 0 to 255"),
    ("baud=19200&unit=1", "baud=19200&unit=248", "unit=248", "a whole number from 1 to 247"),
    ("baud=19200&unit=1", "baud=19201&unit=1", "19201", "write one of 1200"),
    ("baud=19200&unit=1", "parity=evn&unit=1", "evn", "write none, even or odd"),
    ("10.1.1.5", "127.0.0.1", "127.0.0.1", "write simulated = true"),
    ('kind = "register"', 'kind = "text"', "10.1.1.5", "serial:///"),
    ("vacuum-int16-0.1kPa", "vacuum-int16", "layout", "is unknown: the nearest of"),
    ("vacuum-int16-0.1kPa", "loop-uA-100kPa", "layout", "does not suit"),
    ("error_kpa = 1.0", "error_kpa = 0.0", "error_kpa", "from 0.01 to 20"),
    ("standstill = 1", "standstill = 0", "standstill", "has the number of cycle_running"),
    ("hold_healthy = 1", "hold_healty = 1", "hold_healty", 'write "hold_healthy"'),
    ("modbus-tcp://10.1.1.5:502?unit=1", "modbus-rtu:///dev/ttyUSB0?baud=19200&unit=2", "unit=1",
     "line of its own"),
    (":///dev/ttyUSB0?", ":///dev/ttyS1?stop=a&", "ttyS1",
     "a whole number from 1 to 2"),
    ("error_kpa = 1.0", 'error_kpa = 1.0\n[[gauge]]\nname = "a"\nrole = "pump"\nkind = "text"\n'
     'address = "serial:///dev/ttyS1"\nerror_kpa = 1.0\n[[gauge]]\nname = "b"\nrole = "pump"\n'
     'kind = "text"\nerror_kpa = 1.0\naddress = "serial:///dev/ttyS1?baud=9600"', "ttyS1?baud",
     "needs a port of its own"),
    ("error_kpa = 1.0", TWO_ON_A_LINE.format("baud=9600&unit=2"), "baud=9600",
     'on the port of gauge "a", with another baud, parity or stop'),
    ("error_kpa = 1.0", TWO_ON_A_LINE.format("parity=none&unit=2"), "parity=none",
     "write the same for all devices of one line"),
    ("error_kpa = 1.0", TWO_ON_A_LINE.format("stop=2&unit=2"), "stop=2",
     "with another baud, parity or stop"),
    ("drop_kpa = 2.5", "start_ratio = 1.08", "start_ratio", "must be below start_ratio"),
    ("drop_kpa = 2.5", "no_such = 1", "no_such", "[limits] knows"),
    ("[limits]", "[limit]", "[limit]", 'write "limits"'),
    ("[limits]", text_row('request = "P?"'), "request", "what ends it"),
    ("[limits]", text_row('request_end = "\\r"'), "request_end", "goes with request"),
    ("[limits]", text_row('request = ""\nrequest_end = ""'), 'request = ""', "1 to 60 ASCII"),
    ("[limits]", text_row('line_end = "abcde"'), "line_end", "1 to 4 ASCII"),
    ("[limits]", text_row('pattern = "P="'), '"P="', "write one #"),
    ("[limits]", text_row('pattern = "# mbar"'), '"# mbar"', "says mbar and the layout kPa"),
    ("[limits]", text_row("register = 3"), "register = 3", 'unknown key "register"'),
    ('layout = "vacuum-int16-0.1kPa"\nerror_kpa = 1.0', 'layout = "t"\nerror_kpa = 1.0\n'
     + text_row("").removesuffix("[limits]"), 'layout = "t"', 'it is for kind "text"'),
    ("[limits]", '[[special]]\nkind = "edge_cup"\nseat = "Z9"\nseal_diameter_mm = 30.0\n[limits]',
     'seat = "Z9"', "not in the grid"),
    ("[limits]", '[[special]]\nkind = "edge_cup"\nseat = "A1"\nseal_diameter_mm = 30.0\n'
     "cut_mm = 15.0\nflat_deg = 0.0\n[limits]", "cut_mm", "less than half its diameter"),
    ("[limits]", '[[special]]\nkind = "edge_cup"\nseat = "A1"\nseal_diameter_mm = 30.0\n'
     "cut_mm = 5.0\n[limits]", "[[special]]", "cut_mm and flat_deg go together"),
    ("[limits]", '[[special]]\nkind = "roller_lifter"\nseat = "A1"\n[[special]]\n'
     'kind = "board"\nseats = ["A2", "A1"]\nlift_mm = 19.0\nmaterial = "mdf"\n[limits]',
     "seats = ", 'seat "A1" has a roller_lifter already'),
    ("[limits]", '[[special]]\nkind = "board"\nseats = ["A2", "Q1"]\nlift_mm = 19.0\n'
     'material = "mdf"\n[limits]', "seats = ", 'seat "Q1" is not in the grid'),
    ("[limits]", '[[special]]\nkind = "board"\nseats = []\nlift_mm = 19.0\n'
     'material = "mdf"\n[limits]', "seats = ", "must be a list of seat names"),
    ("[limits]", '[[special]]\nkind = "pin"\nseat = "A1"\nx_mm = 1.0\n[limits]', "seat = ",
     "leave one out"),
    ("[limits]", '[[special]]\nkind = "pin"\ny_mm = 1.0\n[limits]', "[[special]]",
     '"x_mm" is missing'),
    ("error_kpa = 1.0", 'error_kpa = 1.0\ncalibration_due = "soon"', "calibration_due",
     "is not a day"),
    ("error_kpa = 1.0", "error_kpa = 1.0\ncalibration_due = 2027-01-31T10:00:00", "calibration_due",
     "is not a day"),
    ("error_kpa = 1.0", "error_kpa = 1.0\nfrozen_s = 5", "frozen_s", "a number from 10 to 3600"),
    ("[limits]", "[upkeep]\nlockout_inspected = 7\n[limits]", "lockout_inspected",
     "write lockout_inspected = 2026-01-31, without quotes"),
    ("85.0, 0.0]]", "85.0, 0.0]]\npull_down_s = 0", "pull_down_s", "a number from 0.2 to 600"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "fragment", "words"), WRONG)
def test_a_mistake_is_told_on_one_line_with_file_line_and_mend(
    tmp_path: Path, old: str, new: str, fragment: str, words: str
) -> None:
    text = GOOD.replace(old, new, 1)
    assert text != GOOD
    with pytest.raises(BadInput) as caught:
        site_of(tmp_path, text)
    told = [str(mistake) for mistake in caught.value.mistakes]
    assert any(words in line for line in told), told
    line = next(line for line in told if words in line)
    where = f"x.site.toml:{line_of(text, fragment)}: " if fragment else "x.site.toml"
    assert line.startswith(where), line
    assert "\n" not in line


@pytest.mark.parametrize("key", LIMIT_KEYS)
def test_no_limit_can_be_switched_off_with_zero(tmp_path: Path, key: str) -> None:
    text = GOOD[: GOOD.index("[limits]")] + f"[limits]\n{key} = 0\n"
    with pytest.raises(BadInput, match=f"{key} is 0, out of range"):
        site_of(tmp_path, text)


@pytest.mark.parametrize("key", LIMIT_KEYS)
def test_a_limit_outside_its_range_is_refused(tmp_path: Path, key: str) -> None:
    low, high = LIMIT_RANGES[key]
    for value in (low - 0.001, high + 0.001):
        text = GOOD[: GOOD.index("[limits]")] + f"[limits]\n{key} = {value}\n"
        with pytest.raises(BadInput, match=f"{key} is .*out of range"):
            site_of(tmp_path, text)


def test_all_mistakes_of_a_file_are_told_at_once_in_order(tmp_path: Path) -> None:
    text = GOOD
    for old, new in (
        ("format = 1", "format = 3"),
        ("lift_mm = 26.0", "lift_mm = true"),
        ("altitude_m = 120.0", 'altitude_m = "120"'),
        ('role = "table"', 'role = "tables"'),
        ("floor_kpa = 25.0", "floor_kpa = 0.0"),
    ):
        text = text.replace(old, new, 1)
    with pytest.raises(BadInput) as caught:
        site_of(tmp_path, text)
    lines = [mistake.line for mistake in caught.value.mistakes]
    wanted = ("format", "lift_mm", "altitude_m", "tables", "floor_kpa")
    assert lines == [line_of(text, fragment) for fragment in wanted]
