"""Pump and valve, where they are wired: since when each has been so, and how fast it pulls down.

What the wires do not say counts as neither running nor stopped.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kiosk.interlock import delays

if TYPE_CHECKING:
    from kiosk.interlock.signals import Lines

PULLS_KEPT = 5


@dataclass(frozen=True, slots=True)
class Supply:
    """Memory of the supply.  Times are monotonic seconds; None: not so, or not known."""

    shut_s: float | None = None  # the valve to the table has been closed since then
    idle_s: float | None = None  # valve closed and pump stopped
    runs: bool = False  # the pump is known to run
    empty_s: float | None = None  # newest moment at which the table was vented
    slow: tuple[bool, ...] = ()  # of the newest pull-downs, oldest first


def follow(supply: Supply, lines: Lines, now_s: float) -> Supply:
    """The memory after one more look at the wires."""
    shut = lines.said("valve_open") is False
    idle = shut and lines.said("pump_running") is False
    return replace(
        supply,
        shut_s=_since(supply.shut_s, shut, now_s),
        idle_s=_since(supply.idle_s, idle, now_s),
        runs=lines.said("pump_running") is True,
    )


def _since(since_s: float | None, stands: bool, now_s: float) -> float | None:
    if not stands:
        return None
    return now_s if since_s is None else since_s


def pull(
    supply: Supply, vacuum_kpa: float | None, vented_kpa: float, full_s: float | None, now_s: float
) -> Supply:
    """The memory after one more look at the vacuum; ``full_s``: how long a pull-down takes.

    A pull-down begins when the vacuum was last under the vented level and ends at FILL_KPA.
    """
    if full_s is None or vacuum_kpa is None:
        return supply
    if vacuum_kpa < vented_kpa:
        return replace(supply, empty_s=now_s)
    if vacuum_kpa < delays.FILL_KPA or supply.empty_s is None:
        return supply
    slow = now_s - supply.empty_s > delays.PULL_RATIO * full_s
    return replace(supply, empty_s=None, slow=(*supply.slow, slow)[-PULLS_KEPT:])


def is_slow(supply: Supply) -> bool:
    """Whether most of the newest pull-downs took too long."""
    return sum(supply.slow) >= delays.SLOW_PULLS
