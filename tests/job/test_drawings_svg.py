"""Outlines from SVG drawings."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from test_drawings import CHORD_MM, blank_of, svg

from kiosk.mistakes import BadInput

# -- SVG -----------------------------------------------------------------------------------

RECT = '<rect x="10" y="20" width="100" height="50"/>'


@pytest.mark.parametrize(
    ("body", "area"),
    [
        (RECT, 5000.0),
        ('<rect x="10" y="20" width="100" height="50" rx="10"/>',
         5000.0 - (4.0 - math.pi) * 100.0),
        ('<circle cx="60" cy="50" r="40"/>', math.pi * 1600.0),
        ('<ellipse cx="60" cy="50" rx="50" ry="20"/>', math.pi * 1000.0),
        ('<polygon points="0,0 90,0 0,60"/>', 2700.0),
        ('<polyline points="0,0 90,0 0,60 0,0"/>', 2700.0),
        ('<line x1="0" y1="0" x2="90" y2="0"/><polyline points="90,0 0,60 0,0"/>', 2700.0),
        ('<path d="M0 0h90L0 60z"/>', 2700.0),
        # a half circle of radius 30 on a 60 x 20 rectangle
        ('<path d="M0 40v20h60v-20a30 30 0 0 0-60 0z"/>', 1200.0 + math.pi * 450.0),
        # under a parabola, two thirds of its box: a quadratic with its pole 2 h above
        ('<path d="M0 90Q45 10 90 90z"/>', 90.0 * 40.0 * 2.0 / 3.0),
        # a cubic over base b with poles h above its ends: 3/4 h high and 3/5 b h in area
        ('<path d="M0 90C0 30 90 30 90 90z"/>', 0.6 * 90.0 * 60.0),
        (RECT + '<circle cx="60" cy="45" r="10"/>', 5000.0 - math.pi * 100.0),
        ('<g transform="translate(5,5) scale(2)"><g transform="rotate(30)">'
         '<rect x="30" y="-10" width="20" height="10"/></g></g>', 800.0),
        ('<rect x="10" y="10" width="20" height="10" transform="matrix(1 0 0.5 1 0 0)"/>', 200.0),
        (f'<defs>{RECT.replace("<rect", "<rect id=@r@".replace("@", chr(34)))}</defs>'
         '<use xlink:href="#r"/>', 5000.0),
        (RECT + '<rect width="190" height="90" display="none"/>', 5000.0),
    ],
)  # fmt: skip
def test_shapes_of_a_picture_have_their_areas(tmp_path: Path, body: str, area: float) -> None:
    assert svg(tmp_path, body).shape.area == pytest.approx(area, rel=3e-4)


def test_y_is_turned_up_from_the_lower_left_corner_of_the_page(tmp_path: Path) -> None:
    """The page is 200 x 100 mm; y 20 to 70 from the top is 30 to 80 from the bottom."""
    assert svg(tmp_path, RECT).shape.bounds == pytest.approx((10.0, 30.0, 110.0, 80.0))


@pytest.mark.parametrize(
    ("page", "mm", "assumed"),
    [
        ('width="200mm" height="100mm" viewBox="0 0 200 100"', 1.0, False),
        ('width="20cm" height="10cm" viewBox="0 0 200 100"', 1.0, False),
        ('width="200in" height="100in" viewBox="0 0 200 100"', 25.4, False),
        ('width="400mm" height="200mm" viewBox="0 0 200 100"', 2.0, False),
        ('width="200px" height="100px" viewBox="0 0 200 100"', 25.4 / 96.0, True),
        ('width="200" height="100"', 25.4 / 96.0, True),
        ('viewBox="0 0 200 100"', 25.4 / 96.0, True),
    ],
)
def test_the_page_sets_the_unit(tmp_path: Path, page: str, mm: float, assumed: bool) -> None:
    """CSS Values and Units 3, clause 5.2: 1 in = 25.4 mm = 96 px."""
    blank = svg(tmp_path, RECT, page)
    assert blank.shape.area == pytest.approx(5000.0 * mm**2, rel=1e-6)
    assert blank.shape.bounds[0] == pytest.approx(10.0 * mm)
    assert blank.units_assumed is assumed


def test_a_round_picture_is_followed_within_the_chord_error(tmp_path: Path) -> None:
    page = 'width="1000mm" height="1000mm" viewBox="-50 -50 100 100"'
    shape = svg(tmp_path, '<circle r="40"/>', page).shape
    points = np.array(shape.exterior.coords) - 500.0
    middles = (points[1:] + points[:-1]) / 2.0
    assert np.hypot(*points.T) == pytest.approx(400.0, abs=1e-6)
    assert float((400.0 - np.hypot(*middles.T)).max()) <= CHORD_MM


def test_what_a_picture_never_draws_where_it_stands_is_no_edge(tmp_path: Path) -> None:
    """SVG 1.1, 14.3.5 and 14.4: clip paths, masks, patterns and markers are not rendered."""
    shape = '<rect width="180" height="90"/>'
    unseen = "".join(f"<{tag}>{shape}</{tag}>" for tag in ("clipPath", "mask", "pattern", "marker"))
    blank = svg(tmp_path, f'{unseen}<rect x="20" y="20" width="100" height="50"/>')
    assert blank.shape.area == pytest.approx(5000.0)
    assert not blank.openings


def test_a_group_of_a_picture_is_a_layer(tmp_path: Path) -> None:
    body = f'<g id="frame"><rect width="200" height="100"/></g><g id="part">{RECT}</g>'
    assert svg(tmp_path, body).shape.area == pytest.approx(15_000.0)  # the frame, less the part
    blank = blank_of(tmp_path, "part.svg", 'outline_layer = "part"')
    assert blank.shape.area == pytest.approx(5000.0, rel=1e-6)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ('<path id="a" d="M0 0h90L0 60"/>', r'open at x 0\.000, y 100\.000 mm \(path id "a"\)'),
        ('<path id="b" d="M0 0L90 60V0L0 60z"/>', r'\(path id "b"\) crosses or touches itself'),
        ("<text>only words</text>", r"has no closed loop in model space \(only text\)"),
        (RECT + RECT.replace('x="10"', 'x="120"'), "two largest loops are equally large"),
        ("<rect", "is no SVG drawing that can be read"),
    ],
)
def test_a_picture_that_is_no_outline_is_refused_in_words(
    tmp_path: Path, body: str, words: str
) -> None:
    with pytest.raises(BadInput, match=rf"^part\.svg: .*{words}"):
        svg(tmp_path, body)


@pytest.mark.parametrize("content", [b"", b"\x00\xff" * 9, b"<html></html>", b"<svg><path d='M0"])
def test_a_file_that_is_no_picture_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "part.svg").write_bytes(content)
    with pytest.raises(BadInput, match=r"^part\.svg: is "):
        blank_of(tmp_path, "part.svg")
