"""Pieces, kept and loose, against areas in closed form."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from pathlib import Path

import pytest
from shapely import LineString, MultiPolygon, Point, Polygon, box

from kiosk.job.cuts import Cut
from kiosk.job.freed import parting
from kiosk.job.job_file import Job, Tool
from kiosk.job.pieces import Piece, parted
from kiosk.job.through import ThroughCuts, through_cut
from tests.job.jobs import JOB, job_of

TOOL = Tool(1, "upcut", 10.0, 2, 30.0, None, "used", 90.0)
NEEDLE = Tool(2, "upcut", 1.0, 2, 30.0, None, "used", 90.0)
BLANK = box(0.0, 0.0, 400.0, 300.0)


def cut(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    line: int = 1,
    tool: Tool = TOOL,
) -> Cut:
    return Cut(start, end, line, tool, 3000.0, 18000.0, drilling=False)


def through(*cuts: Cut, skin_mm: float = 0.5) -> ThroughCuts:
    found = [through_cut(one, skin_mm) for one in cuts]
    return ThroughCuts(one for one in found if one is not None)


def pieces(job: Job, cuts: ThroughCuts, blank: Polygon = BLANK) -> tuple[Piece, ...]:
    return parted(job, blank, cuts).pieces


def loop(corners: list[tuple[float, float]], first_line: int = 10) -> list[Cut]:
    ends = corners[1:] + corners[:1]
    return [
        cut((*a, -0.3), (*b, -0.3), first_line + n)
        for n, (a, b) in enumerate(zip(corners, ends, strict=True))
    ]


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return job_of(tmp_path)


def test_without_a_through_cut_the_blank_is_one_kept_piece(job: Job) -> None:
    (whole,) = pieces(job, through(cut((-9.0, 150.0, 1.0), (409.0, 150.0, 1.0))))
    assert (whole.kept, whole.freed_line, whole.shape.area) == (True, None, 120_000.0)


def test_a_straight_cut_leaves_two_pieces_and_its_own_width(job: Job) -> None:
    """400 x 300 cut at x = 100 with 10 mm: 95 x 300 and 295 x 300 remain."""
    large, small = pieces(job, through(cut((100.0, -20.0, -0.3), (100.0, 320.0, -0.3), 12)))
    assert large.shape.area == pytest.approx(295.0 * 300.0)
    assert small.shape.area == pytest.approx(95.0 * 300.0)
    assert (large.kept, small.kept) == (True, False)
    assert (large.freed_line, small.freed_line) == (12, 12)


def test_keep_points_choose_the_pieces(tmp_path: Path) -> None:
    keep = "keep = [[20.0, 20.0], [300.0, 20.0]]\nthickness_mm"
    job = job_of(tmp_path, JOB.replace("thickness_mm", keep, 1))
    cuts = through(cut((100.0, -20.0, -0.3), (100.0, 320.0, -0.3)))
    assert [piece.kept for piece in pieces(job, cuts)] == [True, True]


def test_a_loop_frees_what_is_inside_with_its_last_cut(job: Job) -> None:
    """A loop 200 x 100 with 10 mm: inside 190 x 90; outside less 210 x 110 with round corners."""
    corners = [(100.0, 100.0), (300.0, 100.0), (300.0, 200.0), (100.0, 200.0)]
    frame, slug = pieces(job, through(*loop(corners)))
    assert slug.shape.area == pytest.approx(190.0 * 90.0)
    swept = 210.0 * 110.0 - (4.0 - math.pi) * 5.0**2
    assert frame.shape.area == pytest.approx(120_000.0 - swept, rel=1e-5)
    assert slug.freed_line == 13


def test_a_drilled_hole_leaves_no_offcut(job: Job) -> None:
    (whole,) = pieces(job, through(cut((50.0, 50.0, 25.0), (50.0, 50.0, -1.0))))
    assert whole.freed_line is None
    assert whole.shape.area == pytest.approx(120_000.0 - math.pi * 5.0**2, rel=1e-6)


def test_a_cleared_opening_leaves_no_offcut(job: Job) -> None:
    """Circles of radius 4, 8 and 12 with a 10 mm cutter clear a disc of radius 17."""
    arcs = []
    for radius in (4.0, 8.0, 12.0):
        turns = [2.0 * math.pi * n / 72 for n in range(73)]
        spots = [(200 + radius * math.cos(t), 150 + radius * math.sin(t)) for t in turns]
        arcs += [cut((*a, -0.3), (*b, -0.3)) for a, b in pairwise(spots)]
    (whole,) = pieces(job, through(*arcs))
    assert whole.shape.area == pytest.approx(120_000.0 - math.pi * 17.0**2, rel=2e-4)


@pytest.mark.parametrize(
    ("tip_mm", "is_through"), [(-1.0, True), (0.0, True), (0.5, True), (0.501, False)]
)
def test_a_tip_at_or_below_the_skin_is_through(tip_mm: float, is_through: bool) -> None:
    found = through_cut(cut((0.0, 0.0, tip_mm), (50.0, 0.0, tip_mm)), 0.5)
    assert (found is not None) is is_through


def test_a_ramp_is_through_from_where_it_reaches_the_skin() -> None:
    """From z 10 to z -10 over 200 mm the tip is at 0.5 after 95 mm."""
    found = through_cut(cut((0.0, 0.0, 10.0), (200.0, 0.0, -10.0)), 0.5)
    assert found is not None
    assert (found.start, found.end) == (pytest.approx((95.0, 0.0)), (200.0, 0.0))
    back = through_cut(cut((200.0, 0.0, -10.0), (0.0, 0.0, 10.0)), 0.5)
    assert back is not None
    assert (back.start, back.end) == ((200.0, 0.0), pytest.approx((95.0, 0.0)))


def test_a_rapid_is_never_a_cut() -> None:
    move = Cut((0.0, 0.0, -1.0), (9.0, 0.0, -1.0), 1, TOOL, 0.0, 0.0, drilling=False, rapid=True)
    assert through_cut(move, 0.5) is None


@pytest.mark.parametrize(
    ("kind", "tip_mm", "width_mm"),
    [
        ("upcut", -0.3, 10.0),
        # ball of radius 5, underside 2 mm above its tip: 2 sqrt(2 (10 - 2)) = 8
        ("ball", -2.0, 8.0),
        # vee of 90 degrees, underside 3 mm above its tip: 6
        ("vee", -3.0, 6.0),
    ],
)
def test_a_through_cut_is_as_wide_as_the_cutter_is_there(
    kind: str, tip_mm: float, width_mm: float
) -> None:
    tool = Tool(1, kind, 10.0, 2, 0.0, None, "used", 90.0)
    found = through_cut(cut((0.0, 0.0, tip_mm), (9.0, 0.0, tip_mm), tool=tool), 0.0)
    assert found is not None
    assert found.width_mm == pytest.approx(width_mm)


def test_cuts_that_meet_a_seat_are_found_in_program_order() -> None:
    cuts = through(
        cut((100.0, 0.0, 0.0), (100.0, 50.0, 0.0), 5),
        cut((20.0, 0.0, 0.0), (20.0, 50.0, 0.0), 6),
        cut((120.0, 0.0, 0.0), (120.0, 50.0, 0.0), 7),
    )
    # edges of the cuts at x = 105 and x = 115; a disc of 20 mm round x = 134 reaches x = 114
    near = cuts.meeting(Point(134.0, 25.0), 20.0)
    assert [one.line for one in near] == [7]
    assert [one.line for one in cuts.meeting(Point(110.0, 25.0), 20.0)] == [5, 7]


@pytest.mark.parametrize("seed", range(8))
def test_each_piece_comes_free_at_the_first_cut_after_which_it_is_alone(
    job: Job, seed: int
) -> None:
    """Against making the cuts one by one, each as a path widened on its own."""
    chance = random.Random(seed)
    cuts = []
    for n in range(70):
        x, y = chance.uniform(-20.0, 420.0), chance.uniform(-20.0, 320.0)
        away = chance.uniform(100.0, 500.0), chance.uniform(-400.0, 400.0)
        a, b = (x, y, -0.3), (x + away[0], y + away[1], -0.3)
        cuts += [cut(a, b, 2 * n, NEEDLE)] + ([cut(b, a, 2 * n + 1, NEEDLE)] if n % 3 == 0 else [])
    made = through(*cuts[: chance.randrange(4, 90)])
    shapes = [piece.shape for piece in pieces(job, made)][:40]
    blanks, left = [], BLANK
    for one in made.cuts:
        path = Point(one.start) if one.start == one.end else LineString([one.start, one.end])
        left = left.difference(path.buffer(one.width_mm / 2.0, quad_segs=32))
        blanks.append(left)
    spots = [shape.representative_point() for shape in shapes]
    found = parting(shapes, (), BLANK, made).freed
    for spot, freed in zip(spots, found, strict=True):
        first = next(n for n, now in enumerate(blanks) if in_company(now, spot, spots) == 1)
        assert freed is not None
        assert freed.line == made.cuts[first].line


def in_company(left: MultiPolygon | Polygon, spot: Point, spots: list[Point]) -> int:
    """How many of the spots lie in the part of what is left that this one lies in."""
    parts = getattr(left, "geoms", [left])
    home = next(part for part in parts if part.covers(spot))
    return sum(home.covers(other) for other in spots)
