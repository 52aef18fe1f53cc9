"""One NE 107 letter for each gauge, and the worst of all.

F failure, C function check, S out of specification, M maintenance required; empty when good.  Of
several the first in this order is said: public texts differ about the order, and this one keeps
what takes the permit away before what does not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kiosk.interlock.days import days_until
from kiosk.interlock.delays import CALIBRATION_SOON_D
from kiosk.interlock.measure import GaugeNow
from kiosk.interlock.reading import Why
from kiosk.interlock.window import is_noisy

if TYPE_CHECKING:
    from kiosk.interlock.turn import Turn

ORDER = ("F", "C", "S", "M", "")


def letter(turn: Turn, gauge: GaugeNow) -> str:
    """The letter of one gauge."""
    if gauge.vacuum_kpa is None or gauge.window.fault is Why.BROKEN:
        return "F"
    if turn.memory.service:
        return "C"
    if _is_doubtful(turn, gauge):
        return "S"
    left = days_until(gauge.setting.calibration_due, turn.utc)
    return "M" if left is not None and left <= CALIBRATION_SOON_D else ""


def _is_doubtful(turn: Turn, gauge: GaugeNow) -> bool:
    window, doubt = gauge.window, turn.memory.doubts[gauge.setting.name]
    apart = turn.seen.apart_kpa is not None and not turn.hold.agree
    wrong = doubt.implausible or doubt.drifted
    return window.fault is Why.OUT_OF_RANGE or is_noisy(window, turn.now_s) or apart or wrong


def worst(turn: Turn) -> str:
    """The letter that comes first of all gauges; F without a gauge."""
    letters = [letter(turn, gauge) for gauge in turn.seen.gauges]
    return min(letters, key=ORDER.index, default="F")
