"""Every ready row of assets/layouts.toml against registers typed by hand.

Two's complement of 16 bits: Modbus Application Protocol V1.1b3, 4.2 (big-endian registers).
Singles: IEEE 754-2019, 3.4: sign, 8 bits of exponent with bias 127, 23 bits of fraction; worked:
  60.0 = 1.875 x 2^5    exponent 132 = 84h, fraction .875     -> 42 70 00 00
  -0.6 = -1.2 x 2^-1    exponent 126 = 7Eh, fraction .2       -> BF 19 99 9A
  413.25 = 1.6142578125 x 2^8  exponent 135, fraction .614... -> 43 CE A0 00
Units: NIST SP 811 (2008) B.8, 1 inHg = 3.386389 kPa; air 101.325 kPa (ISO 2533, sea level).
"""

from __future__ import annotations

import pytest

from hardware.modbus_gauge import reading_of
from kiosk.interlock.reading import Reading
from kiosk.site.layouts import shipped_layouts

AIR_KPA = 101.325
# row: the registers as they stand on the wire, the vacuum that they are
TYPED: dict[str, tuple[str, float]] = {
    "vacuum-int16-0.1kPa": ("02 58", 60.0),  # 600
    "vacuum-float32-kPa": ("42 70 00 00", 60.0),
    "vacuum-float32-kPa-words-swapped": ("00 00 42 70", 60.0),
    "vacuum-float32-kPa-bytes-swapped": ("70 42 00 00", 60.0),
    "vacuum-float32-kPa-reversed": ("00 00 70 42", 60.0),
    "absolute-uint16-mbar": ("01 9D", 60.025),  # 413 mbar
    "vacuum-int32-Pa": ("00 00 EA 60", 60.0),  # 60,000
    "loop-uA-100kPa": ("35 20", 60.0),  # 13,600 uA: 4 mA and 60 % of 16 mA
    "vacuum-int16-0.01kPa": ("17 70", 60.0),  # 6000
    "vacuum-int16-0.1inHg": ("00 B1", 59.93908),  # 17.7 inHg
    "gauge-int16-0.1kPa": ("FD A8", 60.0),  # -600
    "gauge-int16-0.01kPa": ("E8 90", 60.0),  # -6000
    "gauge-float32-kPa": ("C2 70 00 00", 60.0),
    "gauge-float32-kPa-words-swapped": ("00 00 C2 70", 60.0),
    "gauge-float32-bar": ("BF 19 99 9A", 60.0),
    "gauge-float32-bar-words-swapped": ("99 9A BF 19", 60.0),
    "absolute-float32-mbar": ("43 CE A0 00", 60.0),
    "absolute-float32-mbar-words-swapped": ("A0 00 43 CE", 60.0),
    "gauge-int32-Pa": ("FF FF 15 A0", 60.0),  # -60,000
    "gauge-int32-Pa-words-swapped": ("15 A0 FF FF", 60.0),
}
LAYOUTS = shipped_layouts()


def test_every_ready_row_is_checked() -> None:
    assert TYPED.keys() == LAYOUTS.keys()


@pytest.mark.parametrize("name", TYPED)
def test_a_row_reads_the_registers_typed_by_hand(name: str) -> None:
    typed, vacuum_kpa = TYPED[name]
    wire = bytes.fromhex(typed)
    registers = [wire[at] << 8 | wire[at + 1] for at in range(0, len(wire), 2)]
    sample = reading_of(registers, LAYOUTS[name], AIR_KPA, 1.0)
    assert isinstance(sample, Reading), sample
    assert sample.vacuum_kpa == pytest.approx(vacuum_kpa, abs=2e-5)
