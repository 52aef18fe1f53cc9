"""The one table of limits: every number the decision compares against, with its checked range.

A row of ``LIMIT_ROWS`` is a key of ``[limits]`` in the site file.  Zero never means "off": a value
outside its range is a mistake in the site file.  The fixed numbers below the table are not for
a shop to change.  The decision and the site file both read this module; it knows neither.
"""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of one machine.  Ratios are R = (measured - error - drop) / minimum."""

    floor_kpa: float = 20.0  # the minimum is never below this
    drop_kpa: float | None = None  # gauge to the worst cup, when there is no air model
    start_ratio: float = 1.15
    unproved_ratio: float = 1.10
    warn_ratio: float = 1.07
    clear_ratio: float = 1.10
    loss_ratio: float = 1.00
    collapse_ratio: float = 0.70
    warn_s: float = 2.0
    loss_ms: float = 150.0
    time_left_s: float = 45.0  # see docs/early-warning.md
    settle_kpa_per_s: float = 0.5
    settle_s: float = 3.0
    permit_s: float = 60.0
    pause_s: float = 120.0
    vented_kpa: float = 2.0
    stale_s: float = 0.5
    invalid_s: float = 1.0


LIMIT_RANGES: dict[str, tuple[float, float]] = {
    "floor_kpa": (5.0, 60.0),
    "drop_kpa": (0.1, 40.0),
    "start_ratio": (1.05, 1.50),
    "unproved_ratio": (1.03, 1.45),
    "warn_ratio": (1.01, 1.40),
    "clear_ratio": (1.02, 1.45),
    "loss_ratio": (1.00, 1.20),
    "collapse_ratio": (0.30, 0.95),
    "warn_s": (0.2, 10.0),
    "loss_ms": (50.0, 1000.0),
    "time_left_s": (10.0, 600.0),
    "settle_kpa_per_s": (0.05, 2.0),
    "settle_s": (1.0, 30.0),
    "permit_s": (10.0, 300.0),
    "pause_s": (10.0, 1800.0),
    "vented_kpa": (0.5, 5.0),
    "stale_s": (0.1, 0.5),
    "invalid_s": (0.2, 1.0),
}

# Fixed numbers: delays in s or ms with their least number of samples, whichever is longer.
WARN_SAMPLES = 3
LOSS_SAMPLES = 3
COLLAPSE_MS, COLLAPSE_SAMPLES = 50.0, 2
FALL_KPA_PER_S, FALL_WINDOW_MS, FALL_BELOW_RATIO = 10.0, 250.0, 1.30
TIME_LEFT_BELOW_RATIO, TIME_LEFT_CLEAR_S, CLEAR_HOLD_S = 1.30, 90.0, 5.0
START_HOLD_S = 3.0
DRAW_DOWN_S = 30.0  # no leak hint before
LATE_START_S = 1.0  # a start this soon after the permit went still counts
VENTED_S = 3.0
IO_LOST_S = 3.0
CONTACT_WRONG_S = 0.5
LAST_COMMIT_S = 5.0
PLANNER_S = 60.0
SCREEN_SILENT_S = 2.0
GAUGES_APART_KPA, GAUGES_APART_SHARE, GAUGES_APART_S = 3.0, 0.04, 3.0
GAUGES_LOSS_KPA, GAUGES_LOSS_S = 10.0, 1.0
CEILING_SHARE = 0.80  # of the local air pressure, when no pump is in the site file
FREE_DISK_SHARE = 0.05
ALIVE_HZ = 2.0
STEP_S = 0.05  # a step at least this often
LOWEST_RATE_HZ = 10.0

LIMIT_KEYS: tuple[str, ...] = tuple(field.name for field in fields(Limits))
