"""What hangs together without the rest of the blank holds on its own cups: against the same part as
a job of its own, and against making the cuts one by one.
"""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest
from shapely import LineString, MultiPolygon, Point, Polygon, box

from kiosk.job.freed import Part, parting
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.job.through import ThroughCut, ThroughCuts
from kiosk.site import load_site
from tests.job.jobs import HEAD, JOB, SITE, write_job

WIDE_SITE = SITE.replace("count = [6, 4]", "count = [10, 4]")
SLOT = "G0 X100. Y60. Z5.\nG1 Z-14. F800\nG1 X300. F6000\nG0 Z5.\n"
BLANK = box(0.0, 0.0, 400.0, 300.0)


def parted_at(x: float, feed: int = 1500) -> str:
    """Across the blank in light passes; only the last goes through."""
    return "".join(
        f"G0 X{x} Y-20. Z5.\nG1 Z{z} F{feed}\nG1 Y320.\nG0 Z5.\n" for z in (-7, -14, -20.3)
    )


def contour(x0: float, x1: float, feed: int = 1500) -> str:
    """All round between y 25 and 275, in light passes."""
    return "".join(
        f"G0 X{x0} Y25. Z5.\nG1 Z{z} F800\nG1 X{x1} F{feed}\nG1 Y275.\nG1 X{x0}\nG1 Y25.\nG0 Z5.\n"
        for z in (-4, -8, -12, -16, -20.3)
    )


def worked(folder: Path, width: float, keep: str, program: str) -> Worked:
    """A blank of this width, 300 mm high, cut by a 10 mm cutter on cups 100 mm apart."""
    (folder / "x.site.toml").write_text(WIDE_SITE, encoding="utf-8")
    outline = f"outline = [[0.0, 0.0], [{width}, 0.0], [{width}, 300.0], [0.0, 300.0]]\n{keep}"
    old = "outline = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]\n"
    path = write_job(folder, JOB.replace(old, outline), HEAD + program + "M30\n")
    return work_out(path, load_site(folder / "x.site.toml"))[1]


KEEP_BOTH = "keep = [[200.0, 150.0], [600.0, 150.0]]\n"


def test_a_half_that_is_parted_off_holds_as_a_blank_of_its_own(tmp_path: Path) -> None:
    """Parted at x = 410 first, each half contoured later, 25 mm inside: the slot between pushes the
    left half on its two cups, as it does the same 405 x 300 mm as a job of its own.
    """
    halves = contour(25.0, 380.0) + contour(440.0, 795.0)
    both = worked(tmp_path, 820.0, KEEP_BOTH, parted_at(410.0) + SLOT + halves)
    late = worked(tmp_path, 820.0, KEEP_BOTH, SLOT + parted_at(410.0) + halves)
    alone = worked(tmp_path, 405.0, "", SLOT + contour(25.0, 380.0))
    assert alone.model_kpa is not None
    assert both.model_kpa == pytest.approx(alone.model_kpa, rel=1e-3)
    assert (late.model_kpa or 0.0) < 0.7 * alone.model_kpa


def test_what_is_left_of_the_blank_holds_without_the_pieces_that_are_gone(tmp_path: Path) -> None:
    """The left part is cut out first: the slot in the right one then has its three cups alone."""
    slot = SLOT.replace("X100.", "X500.").replace("X300.", "X700.")
    cut = contour(25.0, 380.0)
    found = worked(tmp_path, 820.0, KEEP_BOTH, cut + slot + contour(440.0, 795.0))
    (rest,) = (body for body in found.bodies if body.part and len(body.part.pieces) > 1)
    assert len(rest.places) == 3
    assert len(found.bodies[0].places) == 5
    assert found.model_kpa == rest.model_kpa
    assert (rest.model_kpa or 0.0) > 1.3 * (found.bodies[0].model_kpa or 0.0)


def test_a_row_of_parts_cut_one_by_one_asks_no_more_than_its_parts(tmp_path: Path) -> None:
    """The last part and the frame hang on three cups then, as the last part alone does."""
    found = worked(
        tmp_path, 820.0, KEEP_BOTH, contour(25.0, 380.0, 4000) + contour(440.0, 795.0, 4000)
    )
    single = max(
        body.model_kpa or 0.0 for body in found.bodies if body.part and len(body.part.pieces) == 1
    )
    assert len(found.bodies) == 4
    assert found.model_kpa == pytest.approx(single, rel=0.1)


# -- the parts themselves ------------------------------------------------------------------


def scribed(seed: int, count: int) -> ThroughCuts:
    """Thin cuts at random, two of three right across the blank; cut ``n`` at line 10 n."""
    chance = random.Random(seed)
    cuts = []
    for n in range(count):
        x, y = chance.uniform(50.0, 350.0), chance.uniform(50.0, 250.0)
        turn, far = chance.uniform(0.0, math.pi), 150.0 if n % 3 == 2 else 600.0
        dx, dy = far * math.cos(turn), far * math.sin(turn)
        cuts.append(ThroughCut((x - dx, y - dy), (x + dx, y + dy), 1.0, 10 * n, n))
    return ThroughCuts(cuts)


def left_after(made: ThroughCuts) -> list[Polygon | MultiPolygon]:
    blanks: list[Polygon | MultiPolygon] = [BLANK]
    for one in made.cuts:
        path = LineString([one.start, one.end]).buffer(one.width_mm / 2.0, quad_segs=32)
        blanks.append(blanks[-1].difference(path))
    return blanks[1:]


def company(left: Polygon | MultiPolygon, spot: Point, spots: list[Point]) -> frozenset[int]:
    home = next(part for part in getattr(left, "geoms", [left]) if part.covers(spot))
    return frozenset(n for n, other in enumerate(spots) if home.covers(other))


def by_hand(made: ThroughCuts, spots: list[Point], kept: frozenset[int]) -> set[tuple[object, ...]]:
    """Every part with some of the kept pieces and not all: which, and its first and last cut."""
    began: dict[frozenset[int], int] = {}
    ended: dict[frozenset[int], int] = {}
    for n, left in enumerate(left_after(made)):
        for index in kept:
            group = company(left, spots[index], spots)
            mine = kept & group
            if len(group) > 1 and mine != kept:
                began.setdefault(mine, n + 1)
                ended[mine] = n + 1
    last = len(made.cuts)
    return {(own, began[own], None if ended[own] == last else ended[own]) for own in began}


def as_told(parts: tuple[Part, ...], kept: frozenset[int]) -> set[tuple[object, ...]]:
    return {(kept.intersection(part.pieces), part.begin, part.last) for part in parts}


@pytest.mark.parametrize("seed", range(8))
def test_every_part_is_told_from_the_cut_after_the_one_that_parts_it(seed: int) -> None:
    made = scribed(seed, 9)
    shapes = list(left_after(made)[-1].geoms)
    kept = frozenset(random.Random(seed).sample(range(len(shapes)), min(5, len(shapes))))
    spots = [shape.representative_point() for shape in shapes]
    assert as_told(parting(shapes, kept, BLANK, made).parts, kept) == by_hand(made, spots, kept)


def test_of_many_offcuts_the_parts_with_kept_pieces_are_told_as_exactly() -> None:
    made = scribed(3, 30)
    shapes = list(left_after(made)[-1].geoms)
    assert len(shapes) > 60
    kept = frozenset(range(0, len(shapes), 12))
    spots = [shape.representative_point() for shape in shapes]
    told = as_told(parting(shapes, kept, BLANK, made).parts, kept)
    assert {row[:2] for row in told} == {row[:2] for row in by_hand(made, spots, kept)}


def test_of_very_many_kept_pieces_none_counts_as_held_by_the_rest_too_long() -> None:
    """A sheet parted into 60 strips, then the strips into halves: run by run, never too late."""
    strips = [ThroughCut((x, -9.0), (x, 309.0), 1.0, n, n) for n, x in enumerate(range(7, 397, 7))]
    halves = [ThroughCut((x, 150.0), (x + 3.5, 150.0), 1.0, 500, 500 + x) for x in range(-10, 410)]
    made = ThroughCuts([*strips, *halves])
    shapes = list(left_after(made)[-1].geoms)
    every = frozenset(range(len(shapes)))
    found = parting(shapes, every, BLANK, made)
    spots = [shape.representative_point() for shape in shapes]
    blanks = left_after(made)
    for index, freed in enumerate(found.freed):
        first = next(
            n for n, left in enumerate(blanks) if len(company(left, spots[index], spots)) == 1
        )
        assert freed is not None
        assert freed.order <= made.cuts[first].order
    assert all(len(part.pieces) > 1 for part in found.parts)
    assert math.isclose(sum(shape.area for shape in shapes), blanks[-1].area)
