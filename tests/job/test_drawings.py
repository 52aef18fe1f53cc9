"""Drawings of every release and kind, as a shop has them, against areas in closed form.

DXF files are written by ezdxf, SVG files by hand from SVG 1.1 (W3C Recommendation, chapters 7 to
9).  Chord errors are measured from the curve's own equation.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from scipy.interpolate import BSpline
from shapely import Point as ShapelyPoint
from shapely import Polygon

from kiosk.job.job_file import load_job
from kiosk.job.outline import Blank, read_blank
from kiosk.job.planning import make_plan
from kiosk.mistakes import BadInput
from kiosk.site import load_site
from tests.job.jobs import JOB, SITE, write_job

INLINE = "[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]"
RELEASES = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
CHORD_MM = 0.01  # what is asked of curves


def job_text(file: str, keys: str = "") -> str:
    return JOB.replace(INLINE, f'"{file}"\n{keys}')


def blank_of(folder: Path, file: str, keys: str = "") -> Blank:
    return read_blank(load_job(write_job(folder, job_text(file, keys))))


def dxf(
    folder: Path,
    draw: Callable[[Any], None],
    keys: str = "",
    *,
    release: str = "R2018",
    units: int | None = 4,
    fmt: str = "asc",
) -> Blank:
    drawing = ezdxf.new(release)
    if units is not None:
        drawing.header["$INSUNITS"] = units
    draw(drawing.modelspace())
    drawing.saveas(folder / "part.dxf", fmt=fmt)
    return blank_of(folder, "part.dxf", keys)


def svg(folder: Path, body: str, page: str = 'width="200mm" viewBox="0 0 200 100"') -> Blank:
    """A picture; ``page`` holds the attributes of the outermost element."""
    head = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    (folder / "part.svg").write_text(f"{head} {page}>{body}</svg>", encoding="utf-8")
    return blank_of(folder, "part.svg")


def rectangle(space: Any, x0: float, y0: float, x1: float, y1: float, **more: Any) -> None:
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(start, end, **more)


def refused(folder: Path, draw: Callable[[Any], None], keys: str = "") -> str:
    with pytest.raises(BadInput) as caught:
        dxf(folder, draw, keys)
    return "\n".join(str(mistake) for mistake in caught.value.mistakes)


# -- releases and units --------------------------------------------------------------------


def panel(space: Any) -> None:
    """300 x 200 with two corners of radius 30, a hole of radius 20 and one elliptical."""
    bulge = math.tan(math.pi / 8.0)  # a quarter circle
    rows = [(0, 0, 0), (270, 0, bulge), (300, 30, 0), (300, 200, 0), (30, 200, bulge), (0, 170, 0)]
    if space.doc.dxfversion == "AC1009":
        space.add_polyline2d(rows, format="xyb", close=True)
        space.add_circle((80, 80), 20)
    else:
        space.add_lwpolyline(rows, format="xyb", close=True)
        space.add_circle((80, 80), 20)
        space.add_ellipse((200, 100), major_axis=(40, 0), ratio=0.5)


PANEL_MM2 = 300.0 * 200.0 - 2.0 * (1.0 - math.pi / 4.0) * 30.0**2 - math.pi * 20.0**2
ELLIPSE_MM2 = math.pi * 40.0 * 20.0


@pytest.mark.parametrize("fmt", ["asc", "bin"])
@pytest.mark.parametrize("release", RELEASES)
def test_every_release_gives_the_same_panel(tmp_path: Path, release: str, fmt: str) -> None:
    units = None if release == "R12" else 4  # R12 has no $INSUNITS
    blank = dxf(tmp_path, panel, release=release, units=units, fmt=fmt)
    area = PANEL_MM2 if release == "R12" else PANEL_MM2 - ELLIPSE_MM2
    assert blank.shape.area == pytest.approx(area, rel=2e-5)
    assert blank.units_assumed is (release == "R12")


@pytest.mark.parametrize(
    ("units", "mm"),
    [(1, 25.4), (2, 304.8), (5, 10.0), (6, 1000.0), (9, 0.0254), (13, 0.001), (21, 304.800610)],
)
def test_curves_stay_true_in_inches_feet_and_metres(tmp_path: Path, units: int, mm: float) -> None:
    """A circle of 300 mm radius: every chord lies within 0.01 mm of it, whatever the unit.

    Units 9, 13, 21: mils, microns, US survey feet (NIST SP 811, B.8: 3.048 006 E-01 m).
    """
    blank = dxf(tmp_path, lambda space: space.add_circle((0, 0), 300.0 / mm), units=units)
    assert sagitta(blank.shape, 300.0) <= CHORD_MM
    assert blank.shape.area == pytest.approx(math.pi * 300.0**2, rel=1e-4)


def sagitta(shape: Polygon, radius: float) -> float:
    """How far the chords are inside a circle about the origin: r - distance of their middles."""
    points = np.array(shape.exterior.coords)
    middles = (points[1:] + points[:-1]) / 2.0
    return float((radius - np.hypot(middles[:, 0], middles[:, 1])).max())


def test_an_ellipse_is_followed_within_the_chord_error(tmp_path: Path) -> None:
    blank = dxf(tmp_path, lambda s: s.add_ellipse((0, 0), major_axis=(0, 400), ratio=0.1))
    turns = np.linspace(0.0, 2.0 * math.pi, 20_001)
    spots = np.column_stack([40.0 * np.cos(turns), 400.0 * np.sin(turns)])
    away = max(blank.shape.exterior.distance(ShapelyPoint(*spot)) for spot in spots[::7])
    assert away <= CHORD_MM
    assert blank.shape.area == pytest.approx(math.pi * 400.0 * 40.0, rel=1e-4)


POLES = [(0.0, 0.0), (150.0, -90.0), (300.0, 0.0), (320.0, 200.0), (160.0, 120.0), (0.0, 200.0)]


def test_a_spline_is_followed_within_the_chord_error(tmp_path: Path) -> None:
    """SciPy's B-spline with the same poles and clamped knots; a straight line closes it."""

    def draw(space: Any) -> None:
        space.add_open_spline(POLES, degree=3)
        space.add_line(POLES[-1], POLES[0])

    blank = dxf(tmp_path, draw)
    knots = [0.0] * 4 + [1.0, 2.0] + [3.0] * 4
    spots = BSpline(np.array(knots), np.array(POLES), 3)(np.linspace(0.0, 3.0, 3001))
    border = blank.shape.exterior
    assert max(border.distance(ShapelyPoint(*spot)) for spot in spots) <= CHORD_MM
    assert blank.shape.area == pytest.approx(Polygon(spots).area, rel=1e-4)


def test_a_periodic_spline_is_read_between_its_own_knots(tmp_path: Path) -> None:
    """SciPy's B-spline over uniform knots, poles repeated: SciPy, BSpline, its base interval."""
    poles = [*POLES, *POLES[:3]]

    def draw(space: Any) -> None:
        space.add_spline().set_closed([(x, y, 0.0) for x, y in POLES], degree=3)

    blank = dxf(tmp_path, draw)
    curve = BSpline(np.arange(len(poles) + 4, dtype=float), np.array(poles), 3)
    spots = curve(np.linspace(3.0, float(len(poles)), 3001))
    border = blank.shape.exterior
    assert max(border.distance(ShapelyPoint(*spot)) for spot in spots) <= CHORD_MM
    assert blank.shape.area == pytest.approx(Polygon(spots).area, rel=1e-4)


# -- layers --------------------------------------------------------------------------------


def layered(space: Any) -> None:
    corners = [(0, 0), (300, 0), (300, 200), (0, 200)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "Part"})
    frame = [(-50, -50), (500, -50), (500, 400), (-50, 400)]
    space.add_lwpolyline(frame, close=True, dxfattribs={"layer": "Frame"})
    space.add_circle((250, 150), 10, dxfattribs={"layer": "Part"})
    space.add_circle((60, 60), 25, dxfattribs={"layer": "Holes"})
    space.add_3dface([(0, 0, 0), (9, 0, 0), (9, 9, 9)], dxfattribs={"layer": "Frame"})
    for name in ("Part", "Frame", "Holes"):
        space.doc.layers.add(name)


@pytest.mark.parametrize(
    ("keys", "area"),
    [
        ('outline_layer = "Part"', 60_000.0 - math.pi * 100.0),
        ('outline_layer = "PART"', 60_000.0 - math.pi * 100.0),  # names know no case
        ('outline_layer = "Part"\nopenings_layer = "Holes"', 60_000.0 - math.pi * 625.0),
    ],
)
def test_the_layers_a_job_names_are_read_and_no_others(
    tmp_path: Path, keys: str, area: float
) -> None:
    assert dxf(tmp_path, layered, keys).shape.area == pytest.approx(area, rel=1e-5)


def test_a_layer_that_is_not_there_is_told_at_the_job_s_line(tmp_path: Path) -> None:
    told = refused(tmp_path, layered, 'outline_layer = "Outline"')
    assert told.startswith('t.job.toml:8: outline_layer "Outline" is not in part.dxf: its layers')
    assert '"Part"' in told


def test_a_layer_that_is_off_counts_only_when_it_is_named(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, 0, 0, 300, 200)
        circle = {"layer": "Old"}
        space.add_circle((100, 100), 30, dxfattribs=circle)
        space.doc.layers.add("Old").off()

    assert dxf(tmp_path, draw).shape.area == pytest.approx(60_000.0)
    named = dxf(tmp_path, draw, 'outline_layer = "Old"')
    assert named.shape.area == pytest.approx(math.pi * 900.0, rel=1e-3)


def test_layers_are_for_drawings_only(tmp_path: Path) -> None:
    path = write_job(tmp_path, JOB.replace(INLINE, f'{INLINE}\noutline_layer = "Part"'))
    with pytest.raises(BadInput, match=r"t\.job\.toml:8: outline_layer is for a drawing"):
        load_job(path)


# -- openings ------------------------------------------------------------------------------


def counterbored(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    space.add_circle((30, 25), 5)
    space.add_circle((30, 25), 10)
    space.add_circle((30, 25), 10)
    space.add_circle((70, 25), 4)


def test_an_opening_within_another_adds_nothing(tmp_path: Path) -> None:
    blank = dxf(tmp_path, counterbored)
    assert sorted(round(Polygon(hole).area) for hole in blank.openings) == [50, 314]


def test_openings_that_the_program_cuts_may_be_left_whole(tmp_path: Path) -> None:
    assert dxf(tmp_path, counterbored, 'openings = "none"').shape.area == pytest.approx(5000.0)


@pytest.mark.parametrize(
    ("outline", "keys", "words"),
    [
        (INLINE, "", 'openings = "none" is for a drawing: leave it out'),
        ('"part.dxf"', 'openings_layer = "0"\n', "and openings_layer: keep one of them"),
    ],
)
def test_no_openings_is_said_of_a_drawing_and_alone(
    tmp_path: Path, outline: str, keys: str, words: str
) -> None:
    (tmp_path / "part.dxf").touch()
    path = write_job(tmp_path, JOB.replace(INLINE, f'{outline}\n{keys}openings = "none"'))
    with pytest.raises(BadInput, match=words):
        load_job(path)


# -- gaps ----------------------------------------------------------------------------------


def gapped(gap: float) -> Callable[[Any], None]:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100, 0), (100, 50))
        space.add_line((100, 50), (0, 50))
        space.add_line((0, 50), (0, gap))

    return draw


def test_a_small_gap_is_closed_and_told_with_its_width_and_place(tmp_path: Path) -> None:
    blank = dxf(tmp_path, gapped(0.04))
    assert blank.shape.area == pytest.approx(5000.0)
    assert blank.gap is not None
    assert blank.gap.width_mm == pytest.approx(0.04)
    assert math.dist(blank.gap.at, (0.0, 0.0)) <= 0.04


@pytest.mark.parametrize(("gap", "closed"), [(0.05, True), (0.0501, False)])
def test_the_limit_of_a_gap_is_five_hundredths(tmp_path: Path, gap: float, closed: bool) -> None:
    if closed:
        assert dxf(tmp_path, gapped(gap)).gap is not None
    else:
        assert "0.050 mm from the next loose end" in refused(tmp_path, gapped(gap))


@pytest.mark.parametrize(
    ("corner", "area"),
    [
        # both lines run past the corner; they meet in the middle of their ends
        (((300.03, 0.0), (300.0, -0.02)), 60003.0),
        # the last line ends on the first one, 0.03 mm beside its beginning
        (((300.0, 0.0), (299.97, 0.0)), 59998.5),
    ],
)
def test_lines_that_run_past_their_corner_within_a_gap_are_closed(
    tmp_path: Path, corner: tuple[tuple[float, float], tuple[float, float]], area: float
) -> None:
    """Shoelace formula by hand: a corner moved by (dx, dy) adds (200 dx - 300 dy) / 2."""

    def draw(space: Any) -> None:
        ends = [((0, 0), corner[0]), (corner[1], (300, 200)), ((300, 200), (0, 200))]
        for start, end in [*ends, ((0, 200), (0, 0))]:
            space.add_line(start, end)

    blank = dxf(tmp_path, draw)
    assert blank.shape.area == pytest.approx(area, abs=1e-6)
    assert blank.gap is not None
    assert blank.gap.width_mm == pytest.approx(math.dist(*corner))


def test_a_rounding_is_no_gap(tmp_path: Path) -> None:
    assert dxf(tmp_path, gapped(0.005)).gap is None


def test_a_plan_tells_the_largest_gap(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (400, 0))
        space.add_line((400.02, 0), (400, 300))
        space.add_line((400, 300), (0, 300))
        space.add_line((0, 300), (0, 0.045))

    dxf(tmp_path, draw)
    (tmp_path / "x.site.toml").write_text(SITE, encoding="utf-8")
    plan = make_plan(tmp_path / "t.job.toml", load_site(tmp_path / "x.site.toml"))
    (text,) = (f.text for f in plan.findings if f.code == "drawing_gaps_closed")
    assert "0.045 mm at x 0.000" in text


def test_many_short_lines_are_not_taken_for_gaps(tmp_path: Path) -> None:
    """A circle of radius 5 in 2000 lines of 0.016 mm, each shorter than the gap limit."""

    def draw(space: Any) -> None:
        turns = [2.0 * math.pi * k / 2000 for k in range(2001)]
        spots = [(5.0 * math.cos(t), 5.0 * math.sin(t)) for t in turns]
        for start, end in pairwise(spots):
            space.add_line(start, end)

    blank = dxf(tmp_path, draw)
    assert blank.shape.area == pytest.approx(math.pi * 25.0, rel=1e-4)
    assert blank.gap is None
