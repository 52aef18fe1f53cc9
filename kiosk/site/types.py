"""What a site file says: one machine's grid, cups, pump, pipes, gauges, inputs and limits.

All lengths mm, pressures kPa below local atmosphere, unless named.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from kiosk.limits import Limits
from kiosk.site.textform import TextForm


@dataclass(frozen=True, slots=True)
class GridSeat:
    """One place for a cup.  ``zone`` is the row or ring letter it is set and confirmed with."""

    name: str
    x_mm: float
    y_mm: float
    zone: str


@dataclass(frozen=True, slots=True)
class Cup:
    """The ordinary cup of a site."""

    seal_diameter_mm: float
    outer_diameter_mm: float
    seat_diameter_mm: float
    lift_mm: float
    seal_margin_mm: float = 2.0
    lip: str = "nitrile"
    contact: str = "lip"  # lip | stop: what carries the friction
    branch_length_m: float | None = None  # passage from the table to this cup
    branch_bore_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Pipe:
    """One length of pipe between pump and table."""

    length_m: float
    bore_mm: float
    fittings_k: float = 0.0


@dataclass(frozen=True, slots=True)
class Pump:
    """Pump curve: rows of (vacuum kPa, free air m3/h), rising vacuum, falling air."""

    curve: tuple[tuple[float, float], ...]
    pull_down_s: float | None = None  # from 0 to 60 kPa on a good seal, when all is clean


@dataclass(frozen=True, slots=True)
class Layout:
    """How what a gauge sends becomes kPa.  Rows of assets/layouts.toml and [[layout]].

    value = raw * scale + offset, in ``unit``.  Kind ``current``: that value is in mA and ``span``
    gives the pressures at 4 and 20 mA.  ``valid_kpa`` bounds the resulting vacuum.  Type ``text``
    has a ``text`` form, and no registers: function, register and word_order say nothing then.
    """

    name: str
    function: int  # 3 or 4
    register: int  # zero based
    type: str  # int16 | uint16 | int32 | float32 | text
    word_order: str  # ABCD | CDAB | BADC | DCBA
    scale: float
    offset: float
    unit: str
    reference: str  # vacuum (positive below air) | gauge (negative below air) | absolute
    valid_kpa: tuple[float, float]
    span: tuple[float, float] | None = None  # kind current: value in unit at 4 and at 20 mA
    text: TextForm | None = None  # kind text


@dataclass(frozen=True, slots=True)
class GaugeSite:
    """One gauge.  ``layout`` is the name of a row; ``error_kpa`` its stated error."""

    name: str
    role: str  # table | pump
    address: str
    kind: str  # register | text | current
    layout: str
    error_kpa: float
    rate_hz: float = 20.0
    frozen_s: float = 30.0  # a value that stays the same so long while the pump runs is doubted
    calibration_due: str | None = None  # ISO date


@dataclass(frozen=True, slots=True)
class InputOutput:
    """Machine signals: names to zero-based discrete inputs and coils at one address.

    input names: cycle_running standstill valve_open stop_healthy key_bypass contact_feedback
        pump_running filter_loaded on_battery
    output names: start_permit hold_healthy alive beacon
    """

    address: str
    inputs: dict[str, int] = field(default_factory=dict)
    outputs: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Special:
    """Something else than an ordinary cup: a row of [[special]].

    pin, pin_drawing_back: a locating pin at x_mm, y_mm or on ``seat``; never counted as holding.
    edge_cup: a cup of its own size on ``seat``; with ``cut_mm`` a circle cut off straight at that
    distance from its centre, on the side that ``flat_deg`` points to (grid frame, from x).
    roller_lifter: takes ``seat``.  spacer_disc: under the cup of ``seat``.
    board: a spoil board on ``seats``, its face ``lift_mm`` above the panel.
    """

    kind: str
    seat: str | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    seal_diameter_mm: float | None = None
    outer_diameter_mm: float | None = None
    diameter_mm: float | None = None  # of a pin
    cut_mm: float | None = None
    flat_deg: float = 0.0
    seats: tuple[str, ...] = ()
    lift_mm: float | None = None
    material: str = ""  # of a board
    face: str = ""  # of a board: raw | laminate

    @property
    def takes(self) -> tuple[str, ...]:
        """Seats where no other special can stand; a disc lies under a cup and takes none."""
        if self.kind == "spacer_disc":
            return ()
        return self.seats or ((self.seat,) if self.seat else ())


@dataclass(frozen=True, slots=True)
class Site:
    """A whole site file.  Parts that a shop has not stated are None or empty."""

    file: Path
    name: str
    simulated: bool
    pattern: str
    seats: tuple[GridSeat, ...]
    cup: Cup
    altitude_m: float
    pump: Pump | None
    pipes: tuple[Pipe, ...]
    gauges: tuple[GaugeSite, ...]
    layouts: dict[str, Layout]
    io: InputOutput | None
    limits: Limits
    digest: str  # SHA-256 of the file's bytes, hex
    specials: tuple[Special, ...] = ()
    lockout_inspected: str | None = None  # ISO date
    other_codes: tuple[tuple[str, int | None], ...] = ()  # of [control], each with its line

    @property
    def advice_only(self) -> bool:
        """True when contacts or the cycle-running input are not in the file."""
        outputs = {} if self.io is None else self.io.outputs
        inputs = {} if self.io is None else self.io.inputs
        wired = {"start_permit", "hold_healthy"} <= outputs.keys() and "cycle_running" in inputs
        return not wired
