"""Outlines from points and drawings, against areas in closed form."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from kiosk.job.job_file import load_job
from kiosk.job.outline import Blank, read_blank
from kiosk.mistakes import BadInput
from tests.job.jobs import DEMO_JOBS, JOB, job_of, write_job

INLINE = "[[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]]"


def drawn(folder: Path, draw: Callable[[Any], None], units: int = 4) -> Blank:
    """The blank of a drawing that ``draw`` makes; $INSUNITS 4 is mm, 1 inch, 0 none."""
    drawing = ezdxf.new("R2010")
    drawing.header["$INSUNITS"] = units
    draw(drawing.modelspace())
    drawing.saveas(folder / "part.dxf")
    return read_blank(job_of(folder, JOB.replace(INLINE, '"part.dxf"')))


def rectangle(space: Any, x0: float, y0: float, x1: float, y1: float) -> None:
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        space.add_line(start, end)


def test_points_in_the_job_give_their_area_and_bounds(tmp_path: Path) -> None:
    blank = read_blank(job_of(tmp_path))
    assert blank.shape.area == pytest.approx(400.0 * 300.0)
    assert blank.shape.bounds == (0.0, 0.0, 400.0, 300.0)


def test_clockwise_points_are_the_same_blank(tmp_path: Path) -> None:
    turned = "[[0.0, 300.0], [400.0, 300.0], [400.0, 0.0], [0.0, 0.0]]"
    blank = read_blank(job_of(tmp_path, JOB.replace(INLINE, turned)))
    assert blank.shape.equals(read_blank(job_of(tmp_path)).shape)


def test_openings_in_the_job_are_taken_out(tmp_path: Path) -> None:
    hole = "openings = [[[10.0, 10.0], [60.0, 10.0], [60.0, 40.0], [10.0, 40.0]]]\nthickness_mm"
    blank = read_blank(job_of(tmp_path, JOB.replace("thickness_mm", hole, 1)))
    assert blank.shape.area == pytest.approx(120_000.0 - 50.0 * 30.0)
    assert len(blank.openings) == 1


def test_lines_and_arcs_join_to_a_stadium(tmp_path: Path) -> None:
    """Two half circles of radius 50 and a rectangle 200 x 100: pi 50^2 + 20000 mm2."""

    def draw(space: Any) -> None:
        space.add_line((0, 0), (200, 0))
        space.add_arc((200, 50), 50, -90, 90)
        space.add_line((0, 100), (200, 100))  # against the direction of the others
        space.add_arc((0, 50), 50, 90, 270)

    blank = drawn(tmp_path, draw)
    assert blank.shape.area == pytest.approx(math.pi * 50**2 + 20_000.0, rel=3e-4)
    assert blank.shape.bounds == pytest.approx((-50.0, 0.0, 250.0, 100.0), abs=0.02)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("bulge", [0.2, math.tan(math.pi / 8), 1.0])
def test_bulges_add_or_take_away_circle_segments(tmp_path: Path, bulge: float, sign: int) -> None:
    """bulge = tan(t / 4); a segment's area is r^2 (t - sin t) / 2, r = chord / (2 sin(t / 2))."""
    chord = 100.0

    def draw(space: Any) -> None:
        rows = [(0, 0, 0), (chord, 0, sign * bulge), (chord, chord, 0), (0, chord, 0)]
        space.add_lwpolyline(rows, format="xyb", close=True)

    turn = 4.0 * math.atan(bulge)
    radius = chord / (2.0 * math.sin(turn / 2.0))
    segment = radius**2 * (turn - math.sin(turn)) / 2.0
    area = drawn(tmp_path, draw).shape.area
    assert area == pytest.approx(chord**2 + sign * segment, rel=3e-4)


def test_the_largest_loop_is_the_outline_and_circles_are_openings(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_circle((60, 60), 20)
        rectangle(space, 0, 0, 300, 200)
        space.add_ellipse((200, 100), major_axis=(40, 0), ratio=0.5)

    blank = drawn(tmp_path, draw)
    holes = math.pi * 20**2 + math.pi * 40 * 20  # circle; ellipse with half axes 40 and 20
    assert blank.shape.area == pytest.approx(60_000.0 - holes, rel=1e-4)
    assert len(blank.openings) == 2


@pytest.mark.parametrize(("units", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0), (0, 1.0)])
def test_the_drawing_s_units_are_honoured(tmp_path: Path, units: int, mm: float) -> None:
    """$INSUNITS: 1 inch, 4 mm, 5 cm, 6 m, 0 none (DXF reference)."""
    blank = drawn(tmp_path, lambda space: rectangle(space, 0, 0, 30, 20), units)
    assert blank.shape.area == pytest.approx(600.0 * mm**2)
    assert blank.units_assumed is (units == 0)


def test_ends_that_miss_by_a_rounding_are_joined(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100.005, 0.003), (100, 50))
        space.add_line((99.998, 50), (0, 50))
        space.add_line((0, 50.001), (0, 0.004))

    assert drawn(tmp_path, draw).shape.area == pytest.approx(5000.0, rel=1e-3)


def open_corner(space: Any) -> None:
    space.add_line((0, 0), (100, 0))
    space.add_line((100, 0), (100, 50))
    space.add_line((100, 50), (0, 50))
    space.add_line((0, 50), (0, 1.5))


def crossing(space: Any) -> None:
    space.add_lwpolyline([(0, 0), (100, 100), (100, 0), (0, 100)], close=True)


def branching(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    space.add_line((0, 0), (30, 30))


def outside(space: Any) -> None:
    rectangle(space, 0, 0, 100, 100)
    space.add_circle((120, 50), 30)


def overlapping(space: Any) -> None:
    rectangle(space, 0, 0, 200, 100)
    space.add_circle((50, 50), 20)
    space.add_circle((75, 50), 20)


def nothing(space: Any) -> None:
    space.add_text("no edge")


def tiny(space: Any) -> None:
    rectangle(space, 0, 0, 0.5, 0.5)


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (
            open_corner,
            r"open at x 0\.000, y 0\.000 mm \(LINE, .*\), 1\.500 mm from .* y 1\.500 mm: close",
        ),
        (crossing, r"LWPOLYLINE, layer \"0\", handle \w+\) crosses .* at x 50\.000, y 50\.000 mm"),
        (branching, r"3 lines meet at x 0\.000, y 0\.000 mm"),
        (outside, r"opening 1 \(CIRCLE, .*\) is not inside the outline"),
        (overlapping, r"opening 1 and opening 2 \(CIRCLE, .*\) overlap"),
        (nothing, "has no closed loop"),
        (tiny, "check the units"),
    ],
)
def test_a_drawing_that_is_no_outline_is_refused_in_words(
    tmp_path: Path, draw: Callable[[Any], None], words: str
) -> None:
    with pytest.raises(BadInput, match=words) as caught:
        drawn(tmp_path, draw)
    assert all(str(mistake).startswith("part.dxf: ") for mistake in caught.value.mistakes)


def test_a_gap_is_told_once_with_both_ends_and_its_width(tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        drawn(tmp_path, open_corner)
    (mistake,) = caught.value.mistakes
    assert "1.500 mm from the next loose end at x 0.000, y 1.500 mm" in str(mistake)


@pytest.mark.parametrize(
    "content", [b"", b"not a drawing", b"\x00\xff\xfe" * 50, b"0\nSECTION\n2\n"]
)
def test_a_file_that_is_no_drawing_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "part.dxf").write_bytes(content)
    path = write_job(tmp_path, JOB.replace(INLINE, '"part.dxf"'))
    with pytest.raises(BadInput, match=r"^part\.dxf: "):
        read_blank(load_job(path))


def test_points_that_cross_are_told_with_the_job_s_line(tmp_path: Path) -> None:
    text = JOB.replace(INLINE, "[[0.0, 0.0], [9.0, 9.0], [9.0, 0.0], [0.0, 9.0]]")
    with pytest.raises(BadInput, match=r"^t\.job\.toml:7: outline crosses or touches itself"):
        read_blank(job_of(tmp_path, text))


def test_the_demonstration_rail_has_the_area_of_its_drawing() -> None:
    """760 x 240 less what two corners of radius 40 leave: 2 (1 - pi / 4) 40^2."""
    blank = read_blank(load_job(DEMO_JOBS / "shelf-rail.job.toml"))
    assert blank.shape.area == pytest.approx(
        760.0 * 240.0 - 2.0 * (1.0 - math.pi / 4.0) * 40.0**2, rel=1e-5
    )
