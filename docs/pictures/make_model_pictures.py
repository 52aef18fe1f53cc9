"""Pictures of the holding model's page, every curve worked out by the program itself.

    python docs/pictures/make_model_pictures.py [--out DIR]

Writes ``model-*.svg``.
"""

from __future__ import annotations

import argparse
import datetime
import math
import sys
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from kiosk.hold import airflow  # noqa: E402 - the checkout comes first
from kiosk.hold.cutter import WEAR, specific_force  # noqa: E402
from kiosk.hold.flex import Sheet, Supports, influence, plate_of  # noqa: E402
from kiosk.hold.minimum import Cases, Cups, Weight, job_minimum  # noqa: E402
from kiosk.hold.thinned import Heights  # noqa: E402
from kiosk.job.planning import work_out  # noqa: E402
from kiosk.job.spread import spread_of  # noqa: E402
from kiosk.shop import load_shop  # noqa: E402
from kiosk.site import load_site  # noqa: E402

WIDE, HIGH, LEFT, LOW, TOP, RIGHT = 640.0, 340.0, 70.0, 50.0, 20.0, 20.0
INK, SOFT, FIRST, SECOND, PAPER = "#16191C", "#6B7075", "#1F5FA8", "#B4521A", "#FFFFFF"
Point = tuple[float, float]


class Sketch:
    """Lines and words of one picture; x and y in the units of its axes."""

    def __init__(self, x: Point, y: Point, x_name: str, y_name: str) -> None:
        self._x, self._y = x, y
        self._parts: list[str] = []
        self._axes(x_name, y_name)

    def at(self, x: float, y: float) -> Point:
        """The place on the sheet."""
        across = (x - self._x[0]) / (self._x[1] - self._x[0])
        up = (y - self._y[0]) / (self._y[1] - self._y[0])
        return LEFT + across * (WIDE - LEFT - RIGHT), HIGH - LOW - up * (HIGH - LOW - TOP)

    def line(self, points: Iterable[Point], colour: str = FIRST, dash: str = "") -> None:
        """A line through points."""
        told = " ".join(f"{a:.1f},{b:.1f}" for a, b in (self.at(x, y) for x, y in points))
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._parts.append(
            f'<polyline points="{told}" fill="none" stroke="{colour}" stroke-width="2"{dashed}/>'
        )

    def bar(self, low: Point, high: Point, colour: str = FIRST) -> None:
        """A filled box between two corners."""
        (a, b), (c, d) = self.at(*low), self.at(*high)
        self._parts.append(
            f'<rect x="{min(a, c):.1f}" y="{min(b, d):.1f}" width="{abs(c - a):.1f}"'
            f' height="{abs(d - b):.1f}" fill="{colour}"/>'
        )

    def ring(self, x: float, y: float, radius: float) -> None:
        """A circle; its radius in units of x."""
        a, b = self.at(x, y)
        size = abs(self.at(x + radius, y)[0] - a)
        self._parts.append(
            f'<circle cx="{a:.1f}" cy="{b:.1f}" r="{size:.1f}" fill="none" stroke="{SOFT}"/>'
        )

    def words(
        self, x: float, y: float, said: str, colour: str = INK, anchor: str = "start"
    ) -> None:
        """Words beside a place."""
        a, b = self.at(x, y)
        self._put(a, b, said, colour, anchor)

    def key(self, x: float, y: float, said: str, colour: str, dash: str = "") -> None:
        """Words with a piece of the line that they are about."""
        step = 0.05 * (self._x[1] - self._x[0])
        up = 0.012 * (self._y[1] - self._y[0])
        self.line([(x, y + up), (x + step, y + up)], colour, dash)
        self.words(x + 1.2 * step, y, said)

    def _put(self, a: float, b: float, said: str, colour: str, anchor: str) -> None:
        self._parts.append(
            f'<text x="{a:.1f}" y="{b:.1f}" fill="{colour}" text-anchor="{anchor}">{said}</text>'
        )

    def _axes(self, x_name: str, y_name: str) -> None:
        (x0, x1), (y0, y1) = self._x, self._y
        self.line([(x0, y1), (x0, y0), (x1, y0)], INK)
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            x = self._x[0] + share * (self._x[1] - self._x[0])
            y = self._y[0] + share * (self._y[1] - self._y[0])
            a, b = self.at(x, self._y[0])
            self._put(a, b + 16.0, f"{x:.3g}", SOFT, "middle")
            a, b = self.at(self._x[0], y)
            if y_name:
                self._put(a - 6.0, b + 4.0, f"{y:.3g}", SOFT, "end")
        self._put(WIDE / 2.0, HIGH - 10.0, x_name, INK, "middle")
        self._put(LEFT, 14.0, y_name, INK, "start")

    def svg(self) -> str:
        """The file's text."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {HIGH:g}"'
            f' font-family="sans-serif" font-size="12"><rect width="{WIDE:g}" height="{HIGH:g}"'
            f' fill="{PAPER}"/>' + "\n".join(self._parts) + "</svg>\n"
        )


def one_case(force: Point) -> Cases:
    """One push beside the last cup, with a factor of 2."""
    rows = (0.27, 0.14, 0.009, force[0], force[1], 0.0, 0.0, 0.0, 2.0)
    return Cases(*(np.array([number]) for number in rows))


def directions() -> str:
    """The minimum by the direction of one push at a corner, with six cups and with five."""
    x, y = np.meshgrid([0.0, 0.11, 0.22], [0.0, 0.11])
    whole = Cups(x.ravel(), y.ravel(), np.full(6, 0.034), 0.45)
    fewer = Cups(whole.x_m[:-1], whole.y_m[:-1], whole.seal_radius_m[:-1], 0.45)
    sketch = Sketch((0.0, 360.0), (0.0, 80.0), "direction of a push of 100 N, degrees", "kPa")
    for cups, colour, said, high in (
        (whole, FIRST, "six cups up", 74.0), (fewer, SECOND, "the cup next to it left down", 68.0),
    ):  # fmt: skip
        points = []
        for turn in range(0, 361, 5):
            push = 100.0 * math.cos(math.radians(turn)), 100.0 * math.sin(math.radians(turn))
            found = job_minimum(cups, one_case(push), Weight(10.0, 0.11, 0.055), 0)
            points.append((float(turn), (found.pressure_pa or 0.0) / 1e3))
        sketch.line(points, colour)
        sketch.key(10.0, high, said, colour)
    return sketch.svg()


def chips() -> str:
    """Specific cutting force by chip thickness: MDF, low to high, and as it decides."""
    row = load_shop(None, datetime.date(2026, 1, 1)).materials.by_key["mdf"].kc_across
    sketch = Sketch((0.0, 0.4), (0.0, 200.0), "chip thickness, mm", "k_c of MDF, N/mm2")
    chip = np.linspace(0.01, 0.4, 100)
    rows = (
        (row.k_ref_pa.low, SOFT, "4 4", "low, fresh edge"),
        (row.k_ref_pa.typical, FIRST, "", "typical, fresh edge"),
        (row.k_ref_pa.typical * WEAR["used"], FIRST, "6 3", "typical, used edge"),
        (row.k_ref_pa.high, SECOND, "", "high, fresh edge"),
    )
    for number, (k_pa, colour, dash, said) in enumerate(rows):
        force = specific_force(row, k_pa, chip / 1e3) / 1e6
        sketch.line([(float(h), min(float(k), 200.0)) for h, k in zip(chip, force, strict=True)],
                    colour, dash)  # fmt: skip
        sketch.key(0.26, 185.0 - 14.0 * number, said, colour, dash)
    return sketch.svg()


def spread() -> str:
    """What moves the minimum of a demonstration job, one number at a time."""
    site = load_site(ROOT / "hardware" / "site" / "demo.site.toml")
    found = spread_of(work_out(ROOT / "assets" / "jobs" / "cover-panel.job.toml", site)[1])
    rows = found.moved[:5]
    sketch = Sketch((0.0, 60.0), (0.0, len(rows) + 1.0), "minimum at the cups, kPa", "")
    for number, row in enumerate(rows):
        place = len(rows) - number
        ends = (row.at_low_kpa or 0.0, row.at_high_kpa or 0.0)
        sketch.bar((min(ends), place - 0.3), (max(ends), place + 0.3))
        said = f"{row.name} {row.low:.4g} to {row.high:.4g} {row.unit} ({row.grade})"
        sketch.words(32.0, place - 0.1, said)
    for kpa, said, colour in (
        (found.typical_kpa, "typical", INK), (found.decided_kpa, "decides", SECOND),
    ):  # fmt: skip
        sketch.line([(kpa or 0.0, 0.0), (kpa or 0.0, len(rows) + 0.6)], colour, "5 3")
        sketch.words(kpa or 0.0, len(rows) + 0.7, said, colour, "middle")
    return sketch.svg()


def bending() -> str:
    """A strip on two cups under a load that goes along it, whole and with a pocket."""
    length, width, thick = 0.5, 0.08, 0.012
    outline = np.array([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])
    cups = Supports(np.array([0.08, 0.34]), np.full(2, width / 2.0), np.full(2, 0.034))
    x, y = np.arange(0.0005, length, 0.001), np.arange(0.0005, width, 0.001)
    low = np.where((x > 0.16) & (x < 0.26), thick / 2.0, thick)
    pocket = Heights(x, y, np.tile(low, (y.size, 1)), 0.0005)
    sketch = Sketch((0.0, 500.0), (0.0, 1.2), "place of a load of 40 N along the strip, mm", "mm")
    at = np.column_stack([np.linspace(0.005, 0.435, 87), np.full(87, width / 2.0)])
    for left, colour, said in (
        (None, FIRST, "12 mm thick"), (pocket, SECOND, "6 mm from 160 to 260"),
    ):  # fmt: skip
        plate = plate_of(Sheet(outline, (), thick, 3e9, 3e9, 0.3, left=left), cups)
        assert plate is not None
        gives = np.diagonal(influence(plate, at, at)) * 40.0 * 1e3
        places = (at[:, 0] * 1e3).tolist()
        sketch.line(zip(places, gives.tolist(), strict=True), colour)
        sketch.key(100.0, 1.1 if left is None else 1.02, said, colour)
    sketch.line([(0.0, 0.2), (500.0, 0.2)], SOFT, "4 4")
    for place in (80.0, 340.0):
        sketch.ring(place, 0.06, 34.0)
    return sketch.svg()


def air() -> str:
    """Where pump and leaks meet: free air taken away and let in, by the vacuum."""
    air_pa, rt = 101325.0, 287.05 * 293.15
    pump = airflow.Pump(((0.0, 40.0 / 3600.0), (60e3, 30.0 / 3600.0), (88e3, 0.0)))
    board = [airflow.board_face(2e-13, math.pi * 0.034**2, 0.018)] * 12
    tight = (airflow.lowered_seats(10), *[airflow.Lip(2.0 * math.pi * 0.034)] * 12)
    sketch = Sketch((0.0, 100.0), (0.0, 60.0), "vacuum at the table, kPa", "free air, m3/h")

    def flow(mass: Callable[[float], float]) -> list[Point]:
        steps = np.linspace(0.0, 87.5, 80)
        return [(float(v), mass(air_pa - v * 1e3) * rt / air_pa * 3600.0) for v in steps]

    sketch.line(flow(lambda p: airflow.pump_mass(pump, p, air_pa)), INK)
    sketch.words(4.0, 41.0, "pump")
    open_seat = airflow.holes(1, 0.008)
    cases = (
        (tight, FIRST, "12 lips, 10 lowered seats", 4.0),
        ((*tight, *board), SECOND, "and a board that breathes", 9.0),
        ((*tight, *board, open_seat), SOFT, "and a forgotten seat of 8 mm", 14.0),
    )
    for leaks, colour, said, row in cases:
        sketch.line(
            flow(lambda p, leaks=leaks: sum(airflow.leak_mass(k, p, air_pa) for k in leaks)), colour
        )
        sketch.key(40.0, 60.0 - row, said, colour)
        point = airflow.operating_point(pump, (), leaks, air_pa)
        sketch.ring(point.table_pa / 1e3, point.flow_m3_s * 3600.0, 1.0)
    return sketch.svg()


PICTURES: dict[str, Callable[[], str]] = {
    "model-directions.svg": directions,
    "model-chips.svg": chips,
    "model-spread.svg": spread,
    "model-bending.svg": bending,
    "model-air.svg": air,
}


def main() -> int:
    """Write every picture."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--out", metavar="DIR", type=Path, default=Path(__file__).parent)
    out: Path = parser.parse_args().out
    for name, make in PICTURES.items():
        (out / name).write_text(make(), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
