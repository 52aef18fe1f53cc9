"""What a gauge or a machine interface gives: a value, or a fault that says why not.

Expected trouble is a value here, never an exception.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Why(StrEnum):
    """Why there is no value."""

    CLOSED = "closed"  # no connection: refused, unplugged, reset
    SILENT = "silent"  # no answer in time
    GARBLED = "garbled"  # an answer that does not parse, wrong CRC, wrong function, wrong count
    REFUSED = "refused"  # exception reply
    OUT_OF_RANGE = "out_of_range"  # outside the valid range of its layout
    BROKEN = "broken"  # 4-20 mA loop outside NE 43, or NaN from the device


@dataclass(frozen=True, slots=True)
class Reading:
    """One good value.  ``taken_s``: monotonic seconds when the answer had arrived."""

    vacuum_kpa: float  # below local atmosphere, larger is stronger
    raw: float  # as decoded, before scale and offset
    taken_s: float


@dataclass(frozen=True, slots=True)
class Fault:
    """No value, and why.  ``taken_s``: monotonic seconds when that was known."""

    why: Why
    detail: str
    taken_s: float


Sample = Reading | Fault


@dataclass(frozen=True, slots=True)
class Signals:
    """Machine inputs or contacts read back, by the name they have in the site file."""

    taken_s: float
    values: Mapping[str, bool] = field(default_factory=dict)


SignalSample = Signals | Fault
