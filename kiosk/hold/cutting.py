"""What a cutter does to the part in any engagement: milling, straight down, or both at once."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from kiosk.hold.cutter import (
    CUTTER_KINDS,
    ENGAGEMENTS,
    WEAR,
    Cutter,
    CutterLoad,
    Engagement,
    Grain,
    kienzle_of,
)
from kiosk.hold.drilling import boring
from kiosk.hold.materials import Material
from kiosk.hold.milling import milling


@lru_cache(maxsize=4096)
def cutter_load(
    cutter: Cutter, material: Material, engagement: Engagement, grain: Grain = None
) -> CutterLoad:
    """Peak loads of one engagement; ``grain`` "along", "across" or None (then across), or the
    angle of the feed to the grain in rad (either sense of turning: ask for both signs).

    Remembered, because thousands of moves share a few engagements.  ValueError in words for an
    unknown kind, no flutes, or a depth, feed or speed that is not above zero.
    """
    _check(cutter, engagement)
    if engagement.kind in ("plunge", "drill"):
        return boring(cutter, material, kienzle_of(material, grain), engagement)
    if engagement.kind == "ramp" and engagement.sink > 0.0:
        return _ramping(cutter, material, grain, engagement)
    return milling(cutter, material, grain, engagement)


def _ramping(cutter: Cutter, material: Material, grain: Grain, use: Engagement) -> CutterLoad:
    """A cut that sinks as it goes: as a level one at its whole feed, and part for part never less
    than the plunge that it makes at the same time, at what its feed has downward.
    """
    level = cutter_load(cutter, material, replace(use, sink=0.0), grain)
    sinking = replace(use, feed_m_s=use.feed_m_s * use.sink)
    plunge = boring(cutter, material, kienzle_of(material, grain), sinking)
    return replace(
        level,
        lateral_n=max(level.lateral_n, plunge.lateral_n),
        up_n=max(level.up_n, plunge.up_n),
        down_n=max(level.down_n, plunge.down_n),
        torque_nm=max(level.torque_nm, plunge.torque_nm),
    )


def _check(cutter: Cutter, use: Engagement) -> None:
    if cutter.kind not in CUTTER_KINDS or use.kind not in ENGAGEMENTS or cutter.edge not in WEAR:
        raise ValueError(f"unknown cutter, engagement or edge: {cutter.kind}, {use.kind}")
    if cutter.flutes < 1 or cutter.diameter_m <= 0.0:
        raise ValueError("a cutter needs a diameter and at least one flute")
    if min(use.depth_m, use.feed_m_s, use.spindle_rev_s) <= 0.0:
        raise ValueError("depth, feed and spindle speed must be above zero")
    if use.width_m is not None and use.width_m <= 0.0:
        raise ValueError("the width of cut must be above zero")
