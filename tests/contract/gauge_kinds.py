"""Every kind of gauge the program can read, as rows: how to reach the plant's one with it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from hardware.catalog import open_gauge
from hardware.gauge import Gauge
from kiosk.interlock.reading import Why
from kiosk.site import GaugeSite, Layout, TextForm

AIR_KPA = 97.54  # of the plant's demo story
WIDE_KPA = (-5.0, 102.0)


# What a poll may say of a fault of the line.  A late answer on a line without transaction numbers
# is silence at first and noise after it.
TCP_FAULTS: dict[str, set[Why]] = {
    "silent": {Why.SILENT},
    "slow": {Why.SILENT},
    "garbled": {Why.GARBLED},
    "wrong_function": {Why.GARBLED},
    "wrong_unit": {Why.GARBLED},
    "wrong_transaction": {Why.GARBLED},
    "short": {Why.GARBLED},
    "long": {Why.GARBLED},
    "exception": {Why.REFUSED},
    "reset": {Why.CLOSED},
    "closed": {Why.CLOSED},
}
RTU_FAULTS = {name: TCP_FAULTS[name] for name in (
    "silent", "slow", "garbled", "wrong_transaction", "exception", "closed",
)}  # fmt: skip
TEXT_FAULTS: dict[str, set[Why]] = {
    "silent": {Why.SILENT},
    "garbled": {Why.GARBLED},
    "wrong_unit": {Why.GARBLED},
    "long": {Why.SILENT},  # a line without an end is no line
    "exception": {Why.GARBLED},
    "closed": {Why.CLOSED},
}


# A late line is only an old one where lines come by themselves; asked for, it is no answer in time.
ASKED_FAULTS = TEXT_FAULTS | {"slow": {Why.SILENT}, "long": {Why.GARBLED}}


@dataclass(frozen=True, slots=True)
class GaugeKind:
    """One row.

    address        takes the plant's ready line
    tolerance_kpa  resolution of what is sent
    faults         what the line can do, and what may be said of it
    broken         what may be said when the sensor gives no number
    over_range     what may be said when it says 250 kPa
    """

    id: str
    kind: str
    layout: Layout
    address: Callable[[dict[str, Any]], str]
    tolerance_kpa: float
    faults: dict[str, set[Why]]
    broken: Why = Why.OUT_OF_RANGE
    over_range: Why | None = Why.OUT_OF_RANGE

    def open(self, ready: dict[str, Any]) -> Gauge:
        row = GaugeSite("table", "table", self.address(ready), self.kind, self.layout.name, 1.0)
        return open_gauge(row, self.layout, time.monotonic, AIR_KPA)


def at(key: str) -> Callable[[dict[str, Any]], str]:
    """The address under a key of the plant's ready line."""
    return lambda ready: str(ready[key])


def register(
    name: str, function: int, first: int, type_name: str, *, order: str = "ABCD",
    scale: float = 1.0, unit: str = "kPa", reference: str = "vacuum",
    tolerance_kpa: float = 0.001, over_range: Why | None = Why.OUT_OF_RANGE,
) -> GaugeKind:  # fmt: skip
    """A row for one form of register, over TCP."""
    layout = Layout(name, function, first, type_name, order, scale, 0.0, unit, reference, WIDE_KPA)
    broken = Why.BROKEN if type_name == "float32" else Why.OUT_OF_RANGE
    return GaugeKind(
        name, "register", layout, at("gauge"), tolerance_kpa, TCP_FAULTS, broken, over_range
    )


def over_serial(row: GaugeKind) -> GaugeKind:
    """The same device on a serial line."""
    return replace(row, id=f"{row.id}, RTU", address=at("gauge_rtu"), faults=RTU_FAULTS)


LOOP = Layout("loop", 4, 14, "uint16", "ABCD", 0.001, 0.0, "kPa", "vacuum", (-2.0, 104.0),
              (0.0, 100.0))  # fmt: skip
FLOAT = register("float32 ABCD, function 4", 4, 2, "float32")
CURRENT = GaugeKind("4-20 mA through a module", "current", LOOP, at("gauge"), 0.01, TCP_FAULTS,
                    Why.BROKEN, Why.BROKEN)  # fmt: skip
STREAMED = Layout("text", 0, 0, "text", "ABCD", 1.0, 0.0, "kPa", "gauge", WIDE_KPA,
                  text=TextForm())  # fmt: skip
TEXT = GaugeKind(
    "lines of text", "text", STREAMED, at("gauge_text"), 0.001, TEXT_FAULTS, Why.GARBLED
)
# As docs/wiring.md tells it: "P?" and CR brings "P= -80.250 kPa" and CR.
ASKED = replace(
    TEXT, id="lines of text, asked for", address=at("gauge_asked"), faults=ASKED_FAULTS,
    layout=replace(STREAMED, text=TextForm("P= # kPa", "\r", "P?", "\r")),
)  # fmt: skip

KINDS = (
    register("int16 tenths of kPa, function 3", 3, 0, "int16", scale=0.1, tolerance_kpa=0.051),
    FLOAT,
    register("float32 CDAB, function 3", 3, 4, "float32", order="CDAB"),
    register("float32 BADC, function 4", 4, 6, "float32", order="BADC"),
    register("float32 DCBA, function 3", 3, 8, "float32", order="DCBA"),
    # 250 kPa below air cannot be said in absolute: the plant says 0 mbar, which is in range
    register("uint16 mbar absolute", 4, 10, "uint16", unit="mbar", reference="absolute",
             tolerance_kpa=0.051, over_range=None),
    register("int32 Pa", 3, 12, "int32", unit="Pa"),
    CURRENT,
    over_serial(FLOAT),
    over_serial(CURRENT),
    TEXT,
    ASKED,
)  # fmt: skip
LINES = (FLOAT, over_serial(FLOAT), TEXT, ASKED)
