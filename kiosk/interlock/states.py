"""The states, by the word on the screen, and what each does to the two contacts."""

from __future__ import annotations

from enum import StrEnum


class State(StrEnum):
    """Every state of the interlock."""

    STARTING = "STARTING"
    PART_HELD = "PART HELD"
    SELECT_JOB = "SELECT JOB"
    SET_UP = "SET UP"
    CHECKING = "CHECKING"
    READY = "READY"
    PERMIT = "PERMIT"
    CUTTING = "CUTTING"
    LOW_HOLD = "LOW HOLD"
    PAUSED = "PAUSED"
    HOLD_LOST = "HOLD LOST"
    NO_PERMIT = "NO PERMIT"
    RELEASE = "RELEASE"


STOPPED_BY = frozenset({State.HOLD_LOST, State.NO_PERMIT})  # feed hold is asked for, latched


class Flag(StrEnum):
    """What may stand beside any state."""

    NO_DATA = "NO DATA"
    ADVICE_ONLY = "ADVICE ONLY"
    SERVICE = "SERVICE"
    BYPASSED = "BYPASSED"
    KEY_BYPASS = "KEY BYPASS"
    SIMULATED = "SIMULATED"
