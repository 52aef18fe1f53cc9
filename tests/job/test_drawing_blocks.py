"""Blocks in DXF drawings, and drawings that are refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from test_drawings import dxf, rectangle, refused

# -- blocks --------------------------------------------------------------------------------


def bracket(space: Any, **insert: Any) -> None:
    """An L of 100 x 60 less 60 x 40, and a hole, in a block: 3600 - pi 64 mm2."""
    block = space.doc.blocks.new("Bracket")
    corners = [(0, 0), (100, 0), (100, 20), (40, 20), (40, 60), (0, 60)]
    block.add_lwpolyline(corners, close=True)
    block.add_circle((20, 40), 8)
    space.add_blockref("Bracket", (500, 300), dxfattribs=insert)


BRACKET_MM2 = 100.0 * 60.0 - 60.0 * 40.0 - math.pi * 64.0


@pytest.mark.parametrize(
    ("insert", "factor", "bounds"),
    [
        ({}, 1.0, (500, 300, 600, 360)),
        ({"xscale": 2.0, "yscale": 2.0}, 4.0, (500, 300, 700, 420)),
        ({"rotation": 90.0}, 1.0, (440, 300, 500, 400)),
        ({"xscale": -1.0}, 1.0, (400, 300, 500, 360)),  # a mirror image
        ({"yscale": -1.5, "xscale": 1.5}, 2.25, (500, 210, 650, 300)),
        ({"xscale": 2.0, "yscale": 1.0}, 2.0, (500, 300, 700, 360)),  # the hole is an ellipse
    ],
)
def test_a_block_is_read_with_scale_turn_and_mirror(
    tmp_path: Path, insert: dict[str, float], factor: float, bounds: tuple[float, ...]
) -> None:
    shape = dxf(tmp_path, lambda space: bracket(space, **insert)).shape
    assert shape.area == pytest.approx(factor * BRACKET_MM2, rel=1e-4)
    assert shape.bounds == pytest.approx(bounds, abs=1e-6)
    assert len(shape.interiors) == 1


def test_blocks_in_blocks_and_bulges_in_uneven_scales_are_read(tmp_path: Path) -> None:
    """A stadium of radius 20 in a block, in a block: scaled 2 x 1, then turned by 30 degrees."""

    def draw(space: Any) -> None:
        inner = space.doc.blocks.new("Inner")
        rows = [(0, 0, 0), (60, 0, 1.0), (60, 40, 0), (0, 40, 1.0)]
        inner.add_lwpolyline(rows, format="xyb", close=True)
        outer = space.doc.blocks.new("Outer")
        outer.add_blockref("Inner", (5, 5), dxfattribs={"xscale": 2.0})
        space.add_blockref("Outer", (0, 0), dxfattribs={"rotation": 30.0})

    shape = dxf(tmp_path, draw).shape
    assert shape.area == pytest.approx(2.0 * (60.0 * 40.0 + math.pi * 20.0**2), rel=1e-4)
    # Half ellipses of 40 x 20 around (5, 25) and (125, 25), turned: the support of an ellipse.
    turn = math.radians(30.0)
    ends = [(x * math.cos(turn) - 25.0 * math.sin(turn), x * math.sin(turn) + 25.0 * math.cos(turn))
            for x in (5.0, 125.0)]  # fmt: skip
    across = math.hypot(40.0 * math.cos(turn), 20.0 * math.sin(turn))
    up = math.hypot(40.0 * math.sin(turn), 20.0 * math.cos(turn))
    bounds = (ends[0][0] - across, ends[0][1] - up, ends[1][0] + across, ends[1][1] + up)
    assert shape.bounds == pytest.approx(bounds, abs=0.05)


def test_layer_0_in_a_block_is_the_layer_of_its_insert(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        rectangle(space, -900, -900, 900, 900)
        space.doc.layers.add("Part")
        bracket(space, layer="Part")

    shape = dxf(tmp_path, draw, 'outline_layer = "Part"').shape
    assert shape.area == pytest.approx(BRACKET_MM2, rel=1e-4)


def test_a_block_that_holds_itself_is_refused(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        block = space.doc.blocks.new("Loop")
        block.add_circle((0, 0), 50)
        block.add_blockref("Loop", (1, 0))
        space.add_blockref("Loop", (0, 0))

    assert 'the block "Loop", which is nested too deep: explode it' in refused(tmp_path, draw)


def test_an_entity_seen_from_below_is_mirrored(tmp_path: Path) -> None:
    """Extrusion (0, 0, -1): the object's x points the other way (DXF reference, OCS)."""

    def draw(space: Any) -> None:
        corners = [(0, 0), (100, 0), (0, 60)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"extrusion": (0, 0, -1)})

    shape = dxf(tmp_path, draw).shape
    assert shape.area == pytest.approx(3000.0)
    assert shape.bounds == pytest.approx((-100.0, 0.0, 0.0, 60.0))


# -- refusals ------------------------------------------------------------------------------


def twins(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    rectangle(space, 200, 0, 300, 50)


def solid(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    space.add_3dface([(10, 20, 0), (20, 20, 0), (20, 30, 9)])


def slanted(space: Any) -> None:
    space.add_line((0, 0, 0), (100, 0, 12))


def words_only(space: Any) -> None:
    space.add_text("one")
    space.add_mtext("two")


def mline(space: Any) -> None:
    space.add_mline([(0, 0), (100, 0)])


def lost_block(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    space.add_blockref("Gone", (0, 0))


def doubled(space: Any) -> None:
    rectangle(space, 0, 0, 100, 50)
    space.add_line((0, 0), (100, 0))


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (twins, 'two largest loops are equally large (LINE, layer "0", handle'),
        (twins, "name the outline's layer with outline_layer"),
        (solid, '3DFACE, layer "0", handle'),
        (solid, "at x 10.000, y 20.000 mm is a 3D body: draw its outline as lines"),
        (slanted, "at x 0.000, y 0.000 mm is not flat: draw it flat"),
        (words_only, "has no closed loop in model space (only MTEXT, TEXT): draw the outline"),
        (mline, "cannot be an edge: draw lines, arcs, circles"),
        (lost_block, 'the block "Gone", which is not in the drawing: explode it'),
        (doubled, "3 lines meet at x 0.000, y 0.000 mm (LINE"),
    ],
)
def test_a_refusal_names_the_entity_the_place_and_the_mend(
    tmp_path: Path, draw: Callable[[Any], None], words: str
) -> None:
    told = refused(tmp_path, draw)
    assert words in told
    assert all(line.startswith("part.dxf: ") for line in told.splitlines())
