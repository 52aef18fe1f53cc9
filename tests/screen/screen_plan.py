"""A plan of our own invention: a shelf rail in beech, on the grid that the screen's scenes show."""

from __future__ import annotations

from dataclasses import replace

from kiosk.job.plan import (
    Allowance,
    CutPath,
    Finding,
    Flex,
    Governed,
    Input,
    Plan,
    ProgramFacts,
    Seat,
    SeatState,
    ToolShown,
    Zone,
)

OUTLINE = ((245.0, 250.0), (790.0, 250.0), (850.0, 360.0), (1005.0, 360.0), (1005.0, 570.0),
           (245.0, 570.0))  # fmt: skip
UP = {
    "C": ("3", "4", "5", "6", "7"),
    "D": ("3", "4", "5", "7", "8", "9"),
    "E": ("3", "4", "5", "6", "7", "8", "9"),
}
BLOCKED = {"D6": "cut through here, line 88"}


INPUTS = (
    Input("friction", 0.45, 0.45, 0.6, 0.9, "", "B", "of the test", True),
    Input("cutting force across the grain", 125.0, 52.0, 88.0, 125.0, "N/mm2", "C", "of the test",
          True),
    Input("density", 680.0, 680.0, 720.0, 760.0, "kg/m3", "C", "of the test", False),
)  # fmt: skip


def plan() -> Plan:
    """A shelf rail in beech on a grid of six rows of ten."""
    seats = tuple(_seat(row, column) for row in range(6) for column in range(10))
    zones = tuple(
        Zone(
            letter,
            tuple(f"{letter}{n}" for n in UP.get(letter, ())),
            tuple(f"{letter}{n}" for n in range(1, 11) if str(n) not in UP.get(letter, ())),
        )
        for letter in "ABCDEF"
    )
    window = ((612.0, 375.0), (640.0, 375.0), (640.0, 445.0), (612.0, 445.0), (612.0, 375.0))
    governed = Governed(
        "slip", (700.0, 250.0, 14.0), (700.0, 250.0, 0.0), (180.0, -112.0, 40.0), 1.4, 2.0, 3, 148,
        50.0,
    )  # fmt: skip
    runners = tuple(
        replace(governed, line=1000 + n, tool=n, mode=("lift" if n % 2 else "slip"),
                minimum_kpa=50.0 - n)
        for n in range(1, 10)
    )  # fmt: skip
    return Plan(
        format=1, digest="d" * 64, site_digest="s" * 64, job_id="SR-210",
        title="Shelf rail, beech", revision="C", job_file="shelf-rail.job.toml", material="beech",
        thickness_mm=22.0, surface="clean", verdict="holds", model_kpa=50.0, minimum_kpa=50.0,
        required_kpa=53.0, start_kpa=60.5, predicted_kpa=68.0, ceiling_kpa=79.9, air_kpa=99.9,
        drop_kpa=2.0, gauge_error_kpa=1.0, allowances=(Allowance("table", 2.0, 1.0),),
        governed_by=governed, runners_up=runners, load_cases=412, seats=seats, zones=zones,
        outline=OUTLINE, openings=(), keeps=(OUTLINE,),
        paths=(
            CutPath(3, 12.0, True, ((239.0, 244.0), (794.0, 244.0), (854.0, 354.0), (1011.0, 354.0),
                                    (1011.0, 576.0), (239.0, 576.0), (239.0, 244.0)), 1.0),
            CutPath(1, 8.0, True, window, 0.4),
            CutPath(2, 10.0, False, ((270.0, 560.0), (980.0, 560.0)), 0.8),
        ),
        pins=((218.0, 350.0), (218.0, 460.0), (460.0, 222.0)),
        tools=(ToolShown(1, "upcut", 8.0), ToolShown(2, "straight", 10.0),
               ToolShown(3, "compression", 12.0)),
        program=ProgramFacts(612, 9120.0, 3010.0, (0.0, 0.0, -0.4), (700.0, 318.0, 22.0),
                             (3, 1, 2), 214.0, "cover-plate-6082-rev-b.nc"),
        flex=Flex(0.05, 0.2, (300.0, 100.0)),
        findings=(Finding("assumed_gauge_error", "note",
                          "The gauge's error is taken as 1 kPa: state it in the site file."),),
        seat_diameter_mm=82.0, outer_diameter_mm=72.0, governed_grid_mm=(1005.0, 360.0),
        governed_push=(0.0, -1.0), inputs=INPUTS,
        loose=(((860.0, 250.0), (1005.0, 250.0), (1005.0, 345.0), (860.0, 345.0)),),
    )  # fmt: skip


def _seat(row: int, column: int) -> Seat:
    letter, number = "ABCDEF"[row], str(column + 1)
    name = letter + number
    state = SeatState.UP if number in UP.get(letter, ()) else SeatState.DOWN
    if name in BLOCKED:
        state = SeatState.BLOCKED
    x, y = 75.0 + 110.0 * column, 75.0 + 110.0 * row
    return Seat(name, letter, x, y, state, BLOCKED.get(name, ""))
