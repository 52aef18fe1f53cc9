"""Every kind of gauge the program can read, as rows: how to reach the plant's one with it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from hardware.catalog import open_gauge
from hardware.gauge import Gauge
from kiosk.site import GaugeSite, Layout

AIR_KPA = 97.54  # of the plant's demo story
WIDE_KPA = (-5.0, 102.0)


@dataclass(frozen=True, slots=True)
class GaugeKind:
    """One row.  ``address`` takes the plant's ready line; ``tolerance_kpa`` is the resolution."""

    id: str
    kind: str
    layout: Layout
    address: Callable[[dict[str, Any]], str]
    tolerance_kpa: float

    def open(self, ready: dict[str, Any]) -> Gauge:
        row = GaugeSite("table", "table", self.address(ready), self.kind, self.layout.name, 1.0)
        return open_gauge(row, self.layout, time.monotonic, AIR_KPA)


def over_tcp(ready: dict[str, Any]) -> str:
    address: str = ready["gauge"]
    return address


def register(
    name: str, function: int, at: int, type_name: str, *, order: str = "ABCD", scale: float = 1.0,
    unit: str = "kPa", reference: str = "vacuum", tolerance_kpa: float = 0.001,
) -> GaugeKind:  # fmt: skip
    layout = Layout(name, function, at, type_name, order, scale, 0.0, unit, reference, WIDE_KPA)
    return GaugeKind(name, "register", layout, over_tcp, tolerance_kpa)


LOOP = Layout("loop", 4, 14, "uint16", "ABCD", 0.001, 0.0, "kPa", "vacuum", (-2.0, 104.0),
              (0.0, 100.0))  # fmt: skip

KINDS = (
    register("int16 tenths of kPa, function 3", 3, 0, "int16", scale=0.1, tolerance_kpa=0.051),
    register("float32 ABCD, function 4", 4, 2, "float32"),
    register("float32 CDAB, function 3", 3, 4, "float32", order="CDAB"),
    register("float32 BADC, function 4", 4, 6, "float32", order="BADC"),
    register("float32 DCBA, function 3", 3, 8, "float32", order="DCBA"),
    register("uint16 mbar absolute", 4, 10, "uint16", unit="mbar", reference="absolute",
             tolerance_kpa=0.051),
    register("int32 Pa", 3, 12, "int32", unit="Pa", tolerance_kpa=0.001),
    GaugeKind("4-20 mA through a module", "current", LOOP, over_tcp, 0.01),
)  # fmt: skip

LINES = tuple(row for row in KINDS if row.id in {"float32 ABCD, function 4"})
