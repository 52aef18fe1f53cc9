"""What the decision holds of a gauge, as the tests of doubts ask for it."""

from __future__ import annotations

from interlock_site import INPUTS, site_of
from interlock_world import World

from kiosk.interlock.doubt import Doubt

PUMP = site_of(inputs=INPUTS | {"pump_running"})


def doubt(world: World, name: str = "table") -> Doubt:
    return world.memory.doubts[name]


def letter(world: World, name: str = "table") -> str:
    return next(gauge.health for gauge in world.shown.gauges if gauge.name == name)
