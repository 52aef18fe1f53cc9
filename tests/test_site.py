"""The site file: what a good one gives, and that no example's value is taken for a machine's."""

from __future__ import annotations

import hashlib
import math
import re
from pathlib import Path

import pytest

from kiosk.mistakes import BadInput
from kiosk.site import Site, load_site

ROOT = Path(__file__).resolve().parents[1]

GOOD = """\
format = 1
name = "Router 2"
simulated = false

[grid]
pattern = "rows"
pitch_mm = [110.0, 120.0]
count = [10, 6]
origin_mm = [75.0, 80.0]

[cup]
seal_diameter_mm = 68.0
seat_diameter_mm = 82.0
lift_mm = 26.0

[air]
altitude_m = 120.0

[pump]
curve = [[0.0, 250.0], [50.0, 230.0], [85.0, 0.0]]

[[pipe]]
length_m = 5.0
bore_mm = 32.0

[[gauge]]
name = "table"
role = "table"
address = "modbus-tcp://10.1.1.5:502?unit=1"
kind = "register"
layout = "vacuum-int16-0.1kPa"
error_kpa = 1.0

[io]
address = "modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1"

[io.inputs]
cycle_running = 0
standstill = 1

[io.outputs]
start_permit = 0
hold_healthy = 1

[limits]
floor_kpa = 25.0
drop_kpa = 2.5
"""


def site_of(folder: Path, text: str) -> Site:
    path = folder / "x.site.toml"
    path.write_text(text, encoding="utf-8")
    return load_site(path)


def line_of(text: str, fragment: str) -> int:
    return next(n for n, line in enumerate(text.splitlines(), 1) if fragment in line)


def test_a_good_file_gives_what_it_says(tmp_path: Path) -> None:
    site = site_of(tmp_path, GOOD)
    assert (site.name, site.simulated, site.altitude_m) == ("Router 2", False, 120.0)
    assert site.cup.outer_diameter_mm == 72.0  # seal + 4
    assert site.pump is not None
    assert site.pump.curve[-1] == (85.0, 0.0)
    assert site.limits.floor_kpa == 25.0
    assert site.limits.start_ratio == 1.15
    assert site.gauges[0].layout in site.layouts
    assert not site.advice_only
    assert site.digest == hashlib.sha256(GOOD.encode()).hexdigest()


def test_seats_of_rows_are_named_by_row_letter_and_column(tmp_path: Path) -> None:
    seats = {seat.name: seat for seat in site_of(tmp_path, GOOD).seats}
    assert len(seats) == 60
    assert (seats["A1"].x_mm, seats["A1"].y_mm, seats["A1"].zone) == (75.0, 80.0, "A")
    assert (seats["A2"].x_mm, seats["A2"].y_mm) == (185.0, 80.0)
    assert (seats["F10"].x_mm, seats["F10"].y_mm, seats["F10"].zone) == (1065.0, 680.0, "F")


def test_the_row_after_z_is_aa(tmp_path: Path) -> None:
    text = GOOD.replace("count = [10, 6]", "count = [2, 28]")
    zones = [seat.zone for seat in site_of(tmp_path, text).seats]
    assert zones[50:56:2] == ["Z", "AA", "AB"]


def test_staggered_rows_move_by_half_a_pitch(tmp_path: Path) -> None:
    text = GOOD.replace('"rows"', '"staggered"')
    seats = {seat.name: seat for seat in site_of(tmp_path, text).seats}
    assert (seats["B1"].x_mm, seats["C1"].x_mm) == (130.0, 75.0)


RINGS = """\
[grid]
pattern = "rings"
centre_mm = [500.0, 300.0]
[[grid.ring]]
radius_mm = 0.0
count = 1
[[grid.ring]]
radius_mm = 150.0
count = 6
start_deg = 30.0
"""

LIST = """\
[grid]
pattern = "list"
[[grid.seat]]
name = "A1"
x_mm = 0.0
y_mm = 0.0
[[grid.seat]]
name = "B7"
x_mm = 90.0
y_mm = 15.0
"""


def with_grid(grid: str) -> str:
    begin, end = GOOD.index("[grid]"), GOOD.index("[cup]")
    return GOOD[:begin] + grid + GOOD[end:]


def test_seats_of_rings_stand_on_their_circles(tmp_path: Path) -> None:
    seats = site_of(tmp_path, with_grid(RINGS)).seats
    assert [seat.name for seat in seats] == ["A1", *(f"B{n}" for n in range(1, 7))]
    assert all(math.isclose(math.hypot(s.x_mm - 500, s.y_mm - 300), 150.0) for s in seats[1:])
    assert seats[1].y_mm == pytest.approx(300.0 + 75.0)  # 150 sin 30 deg


def test_seats_of_a_list_stand_where_it_says(tmp_path: Path) -> None:
    seats = site_of(tmp_path, with_grid(LIST)).seats
    assert [(s.name, s.x_mm, s.y_mm, s.zone) for s in seats] == [
        ("A1", 0.0, 0.0, "A"),
        ("B7", 90.0, 15.0, "B"),
    ]


def test_only_grid_cup_and_air_are_needed(tmp_path: Path) -> None:
    text = GOOD[: GOOD.index("[pump]")]
    site = site_of(tmp_path, text)
    assert (site.pump, site.pipes, site.gauges, site.io) == (None, (), (), None)
    assert site.advice_only


def test_dates_and_the_pull_down_time_are_read_and_may_be_left_out(tmp_path: Path) -> None:
    plain = site_of(tmp_path, GOOD)
    assert (plain.lockout_inspected, plain.gauges[0].calibration_due) == (None, None)
    text = GOOD.replace("85.0, 0.0]]", "85.0, 0.0]]\npull_down_s = 4.5")
    text = text.replace("error_kpa = 1.0", "error_kpa = 1.0\ncalibration_due = 2027-01-31")
    site = site_of(tmp_path, text + "[upkeep]\nlockout_inspected = 2026-03-01\n")
    assert site.pump is not None
    assert site.pump.pull_down_s == 4.5
    assert site.gauges[0].calibration_due == "2027-01-31"
    assert site.lockout_inspected == "2026-03-01"


@pytest.mark.parametrize("name", ["demo", "example"])
def test_the_site_files_that_come_along_are_good(name: str) -> None:
    path = ROOT / "hardware" / "site" / f"{name}.site.toml"
    site = load_site(path, unfinished=name == "example")
    assert site.simulated is (name == "demo")
    assert not site.advice_only


def test_no_number_of_the_example_is_taken_for_a_machines() -> None:
    """Every line of it with a number is told, all at once, but the format's."""
    path = ROOT / "hardware" / "site" / "example.site.toml"
    with pytest.raises(BadInput) as caught:
        load_site(path)
    numbered = [at for at, line in enumerate(path.read_text().splitlines(), 1)
                if re.match(r"[a-z_]+ = .*\d", line) and not line.startswith("format")]  # fmt: skip
    told = {mistake.line: str(mistake) for mistake in caught.value.mistakes}
    assert len(numbered) > 30
    assert set(numbered) <= told.keys()
    assert "pitch_mm still has an example's value (from seat to seat, x and y)" in told[9]
    assert "take the words FILL IN away" in told[9]


@pytest.mark.parametrize(
    "line",
    [
        "lift_mm = 26.0 # FILL IN: raised",
        "lift_mm=26.0#FILL IN",
        "lift_mm = 26.0  #  FILL IN",
        '"lift_mm" = 26.0 # FILL IN',
        "lift_mm = 26.0 # fill in: raised",
        "lift_mm = 26.0 # Fill-in",
        "lift_mm = 26.0 # 26 is made up, FILL IN the real one",
    ],
)
def test_a_mark_is_seen_however_it_is_written(tmp_path: Path, line: str) -> None:
    with pytest.raises(BadInput, match=r"x\.site\.toml:14: lift_mm still has an example's value"):
        site_of(tmp_path, GOOD.replace("lift_mm = 26.0", line))


PITCH = "pitch_mm = [110.0, 120.0]"
AIR = "[air]\naltitude_m = 120.0"
DOTTED = "simulated = false\nair.altitude_m = 120.0 # FILL IN"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (GOOD.replace(PITCH, "pitch_mm = [\n  110.0, 120.0 # FILL IN\n]"), "8: pitch_mm"),
        (GOOD.replace(PITCH, "pitch_mm = [ # FILL IN\n  110.0, 120.0]"), "7: pitch_mm"),
        (GOOD.replace(PITCH, "pitch_mm = [\n110.0, 120.0] # FILL IN"), "8: pitch_mm"),
        (GOOD.replace(AIR, "").replace("simulated = false", DOTTED), "4: altitude_m"),
        (GOOD.replace("lift_mm = 26.0", "# FILL IN: raised\nlift_mm = 26.0"), "14: lift_mm"),
        (GOOD.replace("[air]", "[air] # FILL IN"), "16: air"),
        (GOOD.replace("\n", "\r\n").replace("26.0", "26.0 # FILL IN"), "14: lift_mm"),
    ],
)
def test_a_mark_is_seen_in_every_form_of_the_file(tmp_path: Path, text: str, told: str) -> None:
    """TOML 1.0: dotted keys, arrays over several lines, comments on lines of their own."""
    (tmp_path / "x.site.toml").write_bytes(text.encode())
    with pytest.raises(BadInput, match=rf"x\.site\.toml:{told} still has an example's value"):
        load_site(tmp_path / "x.site.toml")


def test_the_words_elsewhere_are_no_mark(tmp_path: Path) -> None:
    site_of(tmp_path, "# Every line marked FILL IN was filled in\n" + GOOD)
    site_of(tmp_path, GOOD.replace("lift_mm = 26.0", "lift_mm = 26.0 # we had to fill in this"))
    site_of(tmp_path, GOOD.replace('"Router 2"', '"Router # FILL IN" # its name'))


def test_the_shipped_layouts_have_all_types_and_word_orders(tmp_path: Path) -> None:
    layouts = site_of(tmp_path, GOOD).layouts.values()
    assert {row.type for row in layouts} == {"int16", "uint16", "int32", "float32"}
    assert {row.word_order for row in layouts} == {"ABCD", "CDAB", "BADC", "DCBA"}


def test_neighbours_of_a_staggered_grid_are_as_far_apart_as_its_triangle(tmp_path: Path) -> None:
    """Half a pitch across and one up: hypot(55, 120) between rows, 110 along them."""
    text = GOOD.replace('"rows"', '"staggered"')
    seats = {seat.name: (seat.x_mm, seat.y_mm) for seat in site_of(tmp_path, text).seats}
    assert len(seats) == 60
    for other in ("A1", "A2", "C1", "C2"):
        assert math.dist(seats["B1"], seats[other]) == pytest.approx(math.hypot(55.0, 120.0))
    assert math.dist(seats["B1"], seats["B2"]) == pytest.approx(110.0)


def test_seats_of_a_ring_are_evenly_spaced(tmp_path: Path) -> None:
    """Six on a ring of 150 mm: the chord of 60 degrees is the radius itself."""
    seats = [(s.x_mm, s.y_mm) for s in site_of(tmp_path, with_grid(RINGS)).seats[1:]]
    for first, second in zip(seats, seats[1:] + seats[:1], strict=True):
        assert math.dist(first, second) == pytest.approx(150.0)


@pytest.mark.parametrize("address", ["modbus-tcp://10.1.1.5", "modbus-tcp://10.1.1.5?unit=255"])
def test_an_address_without_a_port_and_the_highest_unit_are_good(
    tmp_path: Path, address: str
) -> None:
    """Port 502 is Modbus's own (IANA); a unit over TCP is any byte (V1.0b, 3.1.3)."""
    site = site_of(tmp_path, GOOD.replace("modbus-tcp://10.1.1.5:502?unit=1", address))
    assert site.gauges[0].address == address


@pytest.mark.parametrize(
    ("address", "good"),
    [
        ("modbus-tcp://127.0.0.1:1502?unit=1", True),
        ("modbus-tcp://localhost:1502?unit=1", True),
        ("modbus-tcp://[::1]:1502?unit=1", True),
        ("modbus-rtu:///dev/pts/7?baud=19200&unit=1", True),
        ("modbus-tcp://10.0.0.7:502?unit=1", False),
        ("modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1", False),
    ],
)
def test_a_simulated_machine_has_only_addresses_on_this_computer(
    tmp_path: Path, address: str, good: bool
) -> None:
    text = GOOD.replace("simulated = false", "simulated = true")
    text = text.replace("modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1", "modbus-tcp://127.0.0.1:2")
    text = text.replace("modbus-tcp://10.1.1.5:502?unit=1", address)
    if good:
        assert site_of(tmp_path, text).gauges[0].address == address
        return
    with pytest.raises(BadInput, match="no loopback or pty address"):
        site_of(tmp_path, text)
