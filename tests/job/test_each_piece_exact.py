"""The minimum of the blank and of each piece that comes free, each against a general convex solver.

The solver (Clarabel) gets one load at a time as cones over ring points; it shares nothing with the
program.  The claim of 0.1 % is for the governing load of *every* body, not of the worst one alone.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from kiosk.job.case_rows import CaseRow
from kiosk.job.footprint import cut_circle
from kiosk.job.holding import Body
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.job.table import governing
from kiosk.site import load_site
from tests.hold.ring_socp import programme, solve
from tests.job.jobs import DEMO_JOBS, DEMO_SITE, HEAD, JOB, SITE, write_job

WITHIN = 1e-3
OTHERS = 12

THREE = JOB.replace(
    "thickness_mm", "keep = [[50.0, 150.0], [200.0, 150.0], [350.0, 150.0]]\nthickness_mm"
)
PARTED = "".join(
    f"G0 X{x}. Y-20. Z5.\nG1 Z-20.4 F{feed}\nG1 Y320.\nG0 Z5.\n"
    for x, feed in ((100, 900), (300, 700))
)
SMALL_CUPS = "".join(
    f'[[special]]\nkind = "edge_cup"\nseat = "{seat}"\nseal_diameter_mm = 40.0\n'
    "outer_diameter_mm = 44.0\n"
    for seat in ("A1", "B2", "C4")
)


def three_pieces(folder: Path) -> Worked:
    """Three pieces, parted at x = 100 and 300, on cups of two sizes."""
    (folder / "x.site.toml").write_text(SITE + SMALL_CUPS, encoding="utf-8")
    path = write_job(folder, THREE, HEAD + PARTED + "M30\n")
    return work_out(path, load_site(folder / "x.site.toml"))[1]


def demo(name: str) -> Worked:
    return work_out(DEMO_JOBS / f"{name}.job.toml", load_site(DEMO_SITE))[1]


def load_of(
    row: CaseRow, direction: tuple[float, float], factor: float, turn: float = 1.0
) -> tuple[float, ...]:
    """A case in one direction of its open lateral force, SI, with the factor in; ``turn`` -1 for a
    torque the other way."""
    x, y, z = (n * factor for n in row.force_n)
    x, y = x + row.any_n * factor * direction[0], y + row.any_n * factor * direction[1]
    return (*(mm / 1e3 for mm in row.at_mm), x, y, z, turn * row.torque_nm * factor)


def judged(worked: Worked, body: Body) -> None:
    """Its governing case agrees; no other case in any direction that was tried asks for more."""
    cups = worked.setup.cups(body.places)
    built = programme((cups.x_m, cups.y_m, cups.seal_radius_m, cups.friction))
    downs = [(weight.force_n, weight.x_m, weight.y_m) for weight in body.weights]
    found = body.minimum
    assert found.exact
    assert found.pressure_pa is not None
    assert found.case is not None
    row, direction = body.rows[found.case], found.direction or (0.0, 0.0)
    either = [
        solve(built, load_of(row, direction, body.safety_factor, turn), down) or 0.0
        for turn in (1.0, -1.0)
        for down in downs
    ]
    assert max(either) == pytest.approx(found.pressure_pa, rel=WITHIN)
    chance = np.random.default_rng(5)
    for index in chance.integers(0, len(body.rows), OTHERS):
        turn = float(chance.uniform(0.0, 2.0 * math.pi))
        load = load_of(body.rows[index], (math.cos(turn), math.sin(turn)), body.safety_factor)
        for down in downs:
            least = solve(built, load, down)
            assert least is not None
            assert least <= found.pressure_pa * (1.0 + WITHIN)


@pytest.mark.parametrize("name", ["bracket-pair", "cover-panel"])
def test_every_body_of_a_demonstration_job_is_exact(name: str) -> None:
    worked = demo(name)
    assert len(worked.bodies) > 1
    for body in worked.bodies:
        judged(worked, body)


def test_every_piece_of_a_job_on_cups_of_two_sizes_is_exact(tmp_path: Path) -> None:
    worked = three_pieces(tmp_path)
    kept = [body.part and body.part.pieces for body in worked.bodies]
    assert kept == [None, (0,), (1,), (2,), (0, 2)]  # the last: what the first cut leaves together
    assert len({place.seal_radius_mm for body in worked.bodies for place in body.places}) == 2
    governing = {round(body.model_kpa or 0.0, 3) for body in worked.bodies}
    assert len(governing) == 5  # each has a minimum of its own
    for body in worked.bodies:
        judged(worked, body)


def test_the_lines_that_need_most_are_picked_over_all_bodies(tmp_path: Path) -> None:
    """Two cuts, one beside two pieces each: both lines are told, each with its greatest need."""
    (tmp_path / "x.site.toml").write_text(SITE + SMALL_CUPS, encoding="utf-8")
    path = write_job(tmp_path, THREE, HEAD + PARTED + "M30\n")
    plan, worked = work_out(path, load_site(tmp_path / "x.site.toml"))
    needs: dict[int, float] = {}
    for body in worked.bodies:
        for row in (body.governed(), *body.runners_up()):
            assert row is not None
            assert row.line is not None
            needs[row.line] = max(needs.get(row.line, 0.0), row.minimum_kpa)
    ordered = sorted(needs.items(), key=lambda item: -item[1])
    assert [(row.line, row.minimum_kpa) for row in governing(plan)] == ordered[:10]
    assert len(ordered) > 1
    alone = [body.model_kpa for body in worked.bodies]
    assert ordered[0][1] == pytest.approx(max(kpa or 0.0 for kpa in alone))


def test_a_cup_cut_through_its_middle_differs_from_its_circle_as_the_page_says() -> None:
    """Stiffness against tilting of the outline, a line of springs, about the centroid of the area:
    arc and chord summed numerically, against the circle of equal area that the model has.
    """
    area, off = cut_circle(1.0, 0.0)
    radius = math.sqrt(area / math.pi)
    turn = math.pi / 2.0 + (np.arange(4000) + 0.5) * math.pi / 4000
    across = (np.arange(4000) + 0.5) / 2000.0 - 1.0
    x = np.concatenate([np.cos(turn), np.zeros(4000)]) + off
    y = np.concatenate([np.sin(turn), across])
    length = np.concatenate([np.full(4000, math.pi / 4000), np.full(4000, 1.0 / 2000.0)])
    circle = 2.0 * math.pi * radius * radius**2 / 2.0
    assert (length * x**2).sum() / circle == pytest.approx(0.72, abs=0.01)
    assert (length * y**2).sum() / circle == pytest.approx(2.0, abs=0.02)
    assert length.sum() / (2.0 * math.pi * radius) == pytest.approx(1.16, abs=0.01)
    assert 1.0 / radius == pytest.approx(1.41, abs=0.01)
