"""Where on its edge, in which sense and at what angle to the grain a cutter cuts; by hand."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from kiosk.hold.cutter import Cutter, Engagement
from kiosk.hold.cutting import cutter_load
from kiosk.hold.materials import materials_from
from kiosk.hold.milling import WINDOW_SIDES, push_window, round_about

TEXT = (Path(__file__).resolve().parents[2] / "assets" / "materials.toml").read_text("utf-8")
MATERIALS = materials_from(TEXT)
SIDE = Engagement("side", 10e-3, 3e-3, 0.1, 300.0, False)
SLOT = Engagement("slot", 18e-3, None, 0.15, 300.0, True)


def cutter(kind: str, helix_deg: float = 30.0, upcut_m: float = 6e-3) -> Cutter:
    return Cutter(kind, 12e-3, 2, math.radians(helix_deg), upcut_m, "used")


def test_a_tip_below_the_part_leaves_less_of_the_up_cut_in_the_work() -> None:
    """Moving the split down by the overshoot is the same cut: only their difference matters."""
    over = dataclasses.replace(SLOT, from_m=2e-3)
    low = cutter_load(cutter("compression"), MATERIALS["mdf"], over)
    moved = cutter_load(cutter("compression", upcut_m=4e-3), MATERIALS["mdf"], SLOT)
    assert low.up_n == pytest.approx(moved.up_n, rel=5e-3)
    assert low.up_n < 0.8 * cutter_load(cutter("compression"), MATERIALS["mdf"], SLOT).up_n
    assert low.centroid_m == pytest.approx(moved.centroid_m, abs=1e-4)


def test_a_split_below_the_part_pulls_nothing_up() -> None:
    over = dataclasses.replace(SLOT, from_m=6e-3)
    assert cutter_load(cutter("compression"), MATERIALS["mdf"], over).up_n == 0.0


def test_run_out_makes_the_chip_of_one_tooth_thicker_up_to_the_whole_feed_of_a_turn() -> None:
    """f_z = 0.1 / (300 x 2) = 1/6 mm; with 0.1 mm of run-out as at 0.16 m/s; at most 1/3 mm."""
    out = cutter_load(
        cutter("straight", 0.0), MATERIALS["mdf"], dataclasses.replace(SIDE, runout_m=1e-4)
    )
    faster = dataclasses.replace(SIDE, feed_m_s=0.16)
    assert out.lateral_n == pytest.approx(
        cutter_load(cutter("straight", 0.0), MATERIALS["mdf"], faster).lateral_n, rel=1e-9
    )
    most = cutter_load(
        cutter("straight", 0.0), MATERIALS["mdf"], dataclasses.replace(SIDE, runout_m=1e-3)
    )
    twice = dataclasses.replace(SIDE, feed_m_s=0.2)
    assert most.lateral_n == pytest.approx(
        cutter_load(cutter("straight", 0.0), MATERIALS["mdf"], twice).lateral_n, rel=1e-9
    )


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 60.0, 90.0])
def test_a_narrow_cut_takes_the_force_of_its_angle_to_the_grain(angle_deg: float) -> None:
    """0.05 of the diameter: an arc of 25.8 deg, so the teeth move within it of the feed."""
    narrow = dataclasses.replace(SIDE, width_m=0.6e-3)
    beech, tool = MATERIALS["beech"], cutter("straight", 0.0)
    along = cutter_load(tool, beech, narrow, "along").lateral_n
    across = cutter_load(tool, beech, narrow, "across").lateral_n
    found = cutter_load(tool, beech, narrow, math.radians(angle_deg)).lateral_n
    end = math.acos(1.0 - 2.0 * 0.05)  # the chip is thickest there, and the force greatest
    share = math.sin(math.radians(angle_deg) + end) ** 2
    assert found == pytest.approx(along + (across - along) * share, rel=0.03)


@pytest.mark.parametrize("helix_deg", [0.0, 30.0])
@pytest.mark.parametrize("climb", [False, True])
def test_a_window_reaches_as_far_as_the_peak_and_no_further(helix_deg: float, climb: bool) -> None:
    tool, mdf = cutter("upcut", helix_deg), MATERIALS["mdf"]
    corners = np.array(push_window(tool, mdf, SIDE, None, climb))
    peak = cutter_load(tool, mdf, SIDE).lateral_n
    reach = float(np.hypot(corners[:, 0], corners[:, 1]).max())
    assert 0.97 * peak <= reach <= 1.01 * peak / math.cos(math.pi / WINDOW_SIDES)


@pytest.mark.parametrize("climb", [False, True])
@pytest.mark.parametrize("grain_deg", [-60.0, -25.8, 0.0, 25.8, 60.0, 90.0])
def test_a_window_takes_the_angle_to_the_grain_of_the_tooth_in_the_thickest_chip(
    grain_deg: float, climb: bool
) -> None:
    """A tooth at angle a moves along (cos a, -sin a); the chip is thickest at the arc of
    engagement: 25.8 deg, and in climbing 180 deg less that.  Grain counter-clockwise from the feed.
    """
    narrow = dataclasses.replace(SIDE, width_m=0.6e-3)
    beech, tool = MATERIALS["beech"], cutter("straight", 0.0)
    along = cutter_load(tool, beech, narrow, "along").lateral_n
    across = cutter_load(tool, beech, narrow, "across").lateral_n
    arc = math.acos(1.0 - 2.0 * 0.05)
    moving = -(math.pi - arc) if climb else -arc
    share = math.sin(moving - math.radians(grain_deg)) ** 2
    corners = np.array(push_window(tool, beech, narrow, math.radians(grain_deg), climb))
    reach = float(np.hypot(corners[:, 0], corners[:, 1]).max())
    assert reach == pytest.approx(along + (across - along) * share, rel=0.06)


@pytest.mark.parametrize("kind", ["upcut", "compression", "straight", "ball"])
@pytest.mark.parametrize("depth_m", [1e-3, 18e-3])
def test_a_ramp_lies_between_a_level_cut_and_the_plunge_that_it_is_when_it_is_steep(
    kind: str, depth_m: float
) -> None:
    """A move that sinks by s per length has f s downward (a vector's parts); level it is a slot,
    straight down a plunge.  Drill torque goes with feed^(1 - m) (Kienzle): a ramp that sinks by
    half its way has at least 0.5^(1 - m) of the plunge's, with the lesser m, of thick chips.
    """
    mdf, tool = MATERIALS["mdf"], cutter(kind)
    ramp = Engagement("ramp", depth_m, None, 0.1, 300.0, True)
    slot = cutter_load(tool, mdf, dataclasses.replace(ramp, kind="slot"))
    plunge = cutter_load(tool, mdf, dataclasses.replace(ramp, kind="plunge"))
    half = cutter_load(tool, mdf, dataclasses.replace(ramp, sink=0.5))
    steep = cutter_load(tool, mdf, dataclasses.replace(ramp, sink=1.0))
    assert cutter_load(tool, mdf, ramp) == slot
    for name in ("lateral_n", "up_n", "down_n", "torque_nm"):
        level, middle, down = (getattr(load, name) for load in (slot, half, steep))
        assert level <= middle <= down == max(level, getattr(plunge, name))
    least = 0.5 ** (1.0 - mdf.kc_across.m_thick.typical)
    assert half.torque_nm >= least * plunge.torque_nm * (1.0 - 1e-9)


def test_cutting_against_the_feed_draws_the_part_in_and_climbing_pushes_it_away() -> None:
    """Spindle clockwise, feed along x.  Without a radial force the push is along the tooth's own
    motion: against the feed (material on the left, +y) towards +x and the cutter; climbing
    (material on the right, -y) towards -x and away from the cutter, also -y.  Handbooks of
    milling, from memory."""
    mdf = MATERIALS["mdf"]
    bare = dataclasses.replace(mdf, kr=dataclasses.replace(mdf.kr, low=0.0, typical=0.0, high=0.0))
    tool = cutter("straight", 0.0)
    against = np.array(push_window(tool, bare, SIDE, None, False)).mean(axis=0)
    climbing = np.array(push_window(tool, bare, SIDE, None, True)).mean(axis=0)
    assert against[0] > 0.0 > against[1]
    assert climbing[0] < 0.0
    assert climbing[1] < 0.0


def test_the_polygon_round_a_circle_stands_off_by_one_over_the_cosine() -> None:
    turn = np.linspace(0.0, 2.0 * math.pi, 1200, endpoint=False)
    corners = np.array(round_about(np.stack([np.cos(turn), np.sin(turn)], axis=1), 12))
    assert np.hypot(corners[:, 0], corners[:, 1]) == pytest.approx(1.0 / math.cos(math.pi / 12.0))
