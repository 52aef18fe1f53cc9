"""Depth and width of cut from what earlier passes left; by hand."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from kiosk.job.cuts import Cut
from kiosk.job.job_file import Tool
from kiosk.job.stock import Bite, Stock, width_at

FLAT = Tool(1, "upcut", 10.0, 2, 30.0, None, "used", 90.0)
BALL = Tool(2, "ball", 10.0, 2, 30.0, None, "used", 90.0)
VEE = Tool(3, "vee", 10.0, 2, 0.0, None, "used", 90.0)
THICK_MM = 20.0


def fresh() -> Stock:
    return Stock(box(0.0, 0.0, 200.0, 100.0), THICK_MM, 10.0)


def cut(
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    tool: Tool = FLAT,
    rapid: bool = False,
) -> Cut:
    return Cut(start, end, 1, tool, 3000.0, 18000.0, drilling=False, rapid=rapid)


def bite(stock: Stock, move: Cut) -> Bite:
    found = stock.bite(move)
    assert found is not None
    return found


def test_a_first_slot_is_as_deep_as_the_tip_and_full_width() -> None:
    found = bite(fresh(), cut((-10.0, 50.0, 14.0), (210.0, 50.0, 14.0)))
    assert found.depth_mm == pytest.approx(6.0)
    assert found.width_mm is None
    assert (found.bottom_mm, found.top_mm) == (14.0, 20.0)


def test_a_second_pass_cuts_only_what_the_first_left() -> None:
    stock = fresh()
    bite(stock, cut((-10.0, 50.0, 14.0), (210.0, 50.0, 14.0)))
    found = bite(stock, cut((210.0, 50.0, 5.0), (-10.0, 50.0, 5.0)))
    assert found.depth_mm == pytest.approx(9.0)
    assert (found.bottom_mm, found.top_mm) == (5.0, 14.0)


def test_the_same_pass_again_cuts_nothing() -> None:
    stock = fresh()
    move = cut((-10.0, 50.0, 14.0), (210.0, 50.0, 14.0))
    bite(stock, move)
    assert stock.bite(move) is None


@pytest.mark.parametrize("stepover_mm", [1.0, 2.0, 3.0, 4.0])
def test_a_side_cut_is_as_wide_as_its_stepover_and_never_counted_narrower(
    stepover_mm: float,
) -> None:
    stock = fresh()
    bite(stock, cut((-10.0, 40.0, 14.0), (210.0, 40.0, 14.0)))
    y_mm = 40.0 + stepover_mm
    found = bite(stock, cut((-10.0, y_mm, 14.0), (210.0, y_mm, 14.0)))
    assert found.width_mm is not None
    assert stepover_mm <= found.width_mm <= stepover_mm + 3.0 * stock.cell


def test_a_cut_along_an_edge_is_as_wide_as_it_reaches_in() -> None:
    found = bite(fresh(), cut((-10.0, -3.0, -0.3), (210.0, -3.0, -0.3)))  # 2 mm of 10
    assert found.width_mm is not None
    assert 2.0 <= found.width_mm <= 5.0
    assert found.depth_mm == pytest.approx(THICK_MM)  # what is below the underside cuts nothing


def test_a_thin_finishing_cut_still_counts() -> None:
    stock = fresh()
    bite(stock, cut((-10.0, 40.0, 10.0), (210.0, 40.0, 10.0)))
    found = bite(stock, cut((-10.0, 40.6, 10.0), (210.0, 40.6, 10.0)))
    assert found.width_mm is not None
    assert 0.6 <= found.width_mm <= 3.0
    assert found.depth_mm == pytest.approx(10.0)


def test_a_cut_beside_the_blank_meets_nothing() -> None:
    assert fresh().bite(cut((-10.0, 120.0, 5.0), (210.0, 120.0, 5.0))) is None
    assert fresh().bite(cut((-10.0, 50.0, 20.0), (210.0, 50.0, 20.0))) is None


def test_the_stretch_that_meets_material_ends_where_the_axis_leaves_it() -> None:
    """From x -50 to 250 the front reaches x 0 at 45/300 and the axis leaves x 200 at 250/300."""
    found = bite(fresh(), cut((-50.0, 50.0, 10.0), (250.0, 50.0, 10.0)))
    assert found.first == pytest.approx(45.0 / 300.0, abs=1.0 / 300.0)
    assert found.last == pytest.approx(250.0 / 300.0, abs=1.0 / 300.0)


def test_a_plunge_takes_the_depth_left_below() -> None:
    stock = fresh()
    assert bite(stock, cut((50.0, 50.0, 25.0), (50.0, 50.0, 12.0))).depth_mm == pytest.approx(8.0)
    assert bite(stock, cut((50.0, 50.0, 12.0), (50.0, 50.0, 4.0))).depth_mm == pytest.approx(8.0)
    assert stock.bite(cut((50.0, 50.0, 4.0), (50.0, 50.0, 25.0))) is None  # out again


def test_a_ball_leaves_what_a_flat_cutter_then_takes() -> None:
    """At 3 mm off its axis a ball of radius 5 stands 5 - sqrt(25 - 9) = 1 mm above its tip."""
    stock = fresh()
    bite(stock, cut((-10.0, 50.0, 10.0), (210.0, 50.0, 10.0), BALL))
    row = int((53.0 - stock.y[0]) / stock.cell + 0.5)
    column = int(100.0 / stock.cell)
    away = abs(float(stock.y[row]) - 50.0)
    expected = 10.0 + 5.0 - math.sqrt(25.0 - away**2)
    assert float(stock.height[row, column]) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("tool", [BALL, VEE])
@pytest.mark.parametrize("deep_mm", [0.6, 2.0, 4.0])
def test_a_groove_of_a_pointed_cutter_is_a_full_slot_of_the_width_it_has_there(
    tool: Tool, deep_mm: float
) -> None:
    """Both flanks are in the work, however little of the diameter is: neither side is free."""
    z = THICK_MM - deep_mm
    found = bite(fresh(), cut((-10.0, 50.0, z), (210.0, 50.0, z), tool))
    assert (found.width_mm, found.side) == (None, 0)


def test_a_side_cut_of_a_pointed_cutter_is_told_as_its_share_of_the_width_there() -> None:
    """At 4 mm a vee of 90 deg is 8 mm wide.  2 mm beside such a groove the flanks cross 1 mm off
    the axis: from there to 4 mm on the other side is cut, 5/8 of the width; of 10 mm 6.25.
    """
    stock = fresh()
    bite(stock, cut((-10.0, 40.0, 16.0), (210.0, 40.0, 16.0), VEE))
    found = bite(stock, cut((-10.0, 42.0, 16.0), (210.0, 42.0, 16.0), VEE))
    assert found.width_mm is not None
    assert 6.25 <= found.width_mm <= 8.5
    assert found.side == 1


@pytest.mark.parametrize("back", [False, True])
def test_a_flat_cutter_stands_as_low_at_the_end_of_a_ramp_as_at_its_lowest(back: bool) -> None:
    """A flat end reaches its radius of 5 mm behind the axis: lifted out, it meets nothing there."""
    stock, low, high = fresh(), (140.0, 50.0, 12.0), (100.0, 50.0, 20.0)
    if back:
        bite(stock, cut((140.0, 50.0, 25.0), low))
    bite(stock, cut(low, high) if back else cut(high, low))
    assert stock.bite(cut(low, (140.0, 50.0, 30.0), rapid=True)) is None
    beside = np.hypot(stock.x[None, :] - 140.0, stock.y[:, None] - 50.0) <= 5.0
    assert stock.height[beside].max() == pytest.approx(12.0)


def test_a_rapid_is_seen_but_takes_nothing_away() -> None:
    stock = fresh()
    move = cut((-10.0, 50.0, 14.0), (210.0, 50.0, 14.0), rapid=True)
    assert bite(stock, move) == bite(stock, move)


def wandering(count: int, seed: int) -> list[Cut]:
    """Short moves in a small field, so that each finds what many before it left."""
    chance, at, moves = random.Random(seed), (60.0, 50.0, 22.0), []
    for _ in range(count):
        to = (chance.uniform(50.0, 75.0), chance.uniform(40.0, 60.0), chance.uniform(-1.0, 22.0))
        to = (at[0], at[1], to[2]) if chance.random() < 0.2 else to
        tool = FLAT if len(moves) % 40 < 20 else BALL
        moves.append(cut(at, to, tool, rapid=chance.random() < 0.1))
        at = to
    return moves


def lowered_by(move: Cut, x: float, y: float) -> float | None:
    """Height that a move leaves at a point, by plain geometry; None out of its reach."""
    (ax, ay, az), (bx, by, bz) = move.start, move.end
    square = (bx - ax) ** 2 + (by - ay) ** 2
    share = 1.0 if square == 0.0 else ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / square
    share = min(max(share, 0.0), 1.0)
    away = math.dist((x, y), (ax + share * (bx - ax), ay + share * (by - ay)))
    if away > 5.0:
        return None
    if square == 0.0 or move.tool is FLAT:
        inside = (0.0, 1.0) if square == 0.0 else over(move, x, y)
        return max(min(az + end * (bz - az) for end in inside) + rise(move, away), 0.0)
    return max(az + share * (bz - az) + rise(move, away), 0.0)


def rise(move: Cut, away: float) -> float:
    return 5.0 - math.sqrt(25.0 - away**2) if move.tool is BALL else 0.0


def over(move: Cut, x: float, y: float) -> tuple[float, float]:
    """Shares of a move between which the axis is within 5 mm of a point: |a + s d - p|^2 = 25."""
    (ax, ay, _), (bx, by, _) = move.start, move.end
    d, p = np.array([bx - ax, by - ay]), np.array([ax - x, ay - y])
    roots = np.roots([d @ d, 2.0 * d @ p, p @ p - 25.0]).real
    first, last = np.clip(np.sort(roots), 0.0, 1.0).tolist()
    return first, last


def test_many_moves_at_once_find_and_leave_what_they_do_one_by_one() -> None:
    """Every cell by plain geometry, move by move."""
    moves, stock, alone = wandering(120, 5), fresh(), fresh()
    expected = alone.height.copy()
    for move in moves:
        if move.rapid:
            continue
        for row, y in enumerate(alone.y):
            for column, x in enumerate(alone.x):
                left = lowered_by(move, float(x), float(y)) if 44 < x < 81 and 34 < y < 66 else None
                if left is not None:
                    expected[row, column] = min(expected[row, column], left)
    assert stock.bites(moves) == [alone.bite(move) for move in moves]
    np.testing.assert_allclose(stock.height, expected, atol=1e-9)
    np.testing.assert_array_equal(stock.height, alone.height)


def test_a_long_slanting_move_is_a_slot_all_along() -> None:
    """3 m across a large panel."""
    stock = Stock(box(0.0, 0.0, 2400.0, 1200.0), THICK_MM, 10.0)
    found = bite(stock, cut((-20.0, -10.0, 12.0), (2420.0, 1210.0, 12.0)))
    assert found.depth_mm == pytest.approx(8.0)
    assert found.width_mm is None
    assert found.first < 0.02
    assert found.last > 0.98


@pytest.mark.parametrize("diameter_mm", [0.4, 0.8, 1.0, 1.5, 2.0, 3.0, 3.175, 4.0])
@pytest.mark.parametrize("off_mm", [0.0, 0.2, 0.4, 0.6, 0.8, 1.0])
def test_a_thin_cutter_on_a_large_sheet_is_in_a_full_slot_wherever_it_runs(
    diameter_mm: float, off_mm: float
) -> None:
    """3 x 2 m: cells of 1.2 mm; whole blank to both sides, so a slot by plain geometry."""
    stock = Stock(box(0.0, 0.0, 3000.0, 2000.0), THICK_MM, diameter_mm)
    thin = replace(FLAT, diameter_mm=diameter_mm)
    y = 300.0 + off_mm
    found = bite(stock, cut((-10.0, y, 14.0), (1000.0, y, 14.0), thin))
    assert (found.width_mm, found.depth_mm) == (None, pytest.approx(6.0))
    hole = bite(stock, cut((500.3, y + 50.0, 25.0), (500.3, y + 50.0, 12.0), thin))
    assert (hole.width_mm, hole.depth_mm) == (None, pytest.approx(8.0))


@pytest.mark.parametrize(("above_mm", "width_mm"), [(-0.1, 0.0), (0.0, 10.0), (4.0, 10.0)])
def test_a_flat_cutter_has_its_whole_width_from_the_tip_up(
    above_mm: float, width_mm: float
) -> None:
    assert width_at(FLAT, above_mm) == width_mm
