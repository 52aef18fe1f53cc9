"""Which layouts agree with what a person read on a dial.  Nothing is chosen here.

Registers prove little by themselves: nearly every block of them makes a likely vacuum in some
layout.  So every ready form is tried at every register, and only those stay that agree with the
dial at every reading.  When several stay, what would tell them apart is worked out from the forms.
"""

from __future__ import annotations

import itertools
import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from hardware.frames import REGISTERS
from hardware.modbus_gauge import reading_of
from hardware.scaling import sample_of
from hardware.serial_gauge import number_in
from kiosk.interlock.reading import Reading
from kiosk.site import Layout
from kiosk.units import KPA_PER, from_kpa

APART_KPA = 20.0  # two readings nearer to each other than this prove nothing
WEATHER_KPA = 3.0  # either way about the mean air pressure: docs/wiring.md, the gauge
_PACKED = {"int16": ">h", "uint16": ">H", "int32": ">i", "float32": ">f"}


@dataclass(frozen=True, slots=True)
class Seen:
    """What a device gave at one moment: registers by function and number, or a line of text."""

    blocks: Mapping[int, Mapping[int, int]]
    line: bytes | None = None


@dataclass(frozen=True, slots=True)
class Dial:
    """One reading: what the device gave while the person read ``vacuum_kpa`` on the dial."""

    seen: Seen
    vacuum_kpa: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A form at a place.  ``ready``: just as it stands in a row, place and all."""

    layout: Layout
    text: bool = False
    ready: bool = False

    @property
    def kind(self) -> str:
        """The word of the site file: register, current or text."""
        if self.text:
            return "text"
        return "register" if self.layout.span is None else "current"

    @property
    def place(self) -> tuple[int, int, int]:
        """Function, first register and count of registers."""
        layout = self.layout
        return layout.function, layout.register, REGISTERS[layout.type]


def candidates(layouts: Iterable[Layout], seen: Seen) -> tuple[Candidate, ...]:
    """Every row in its own place, then every form at every other place that was read."""
    rows = tuple(layouts)
    own = [Candidate(row, ready=True) for row in rows if _raw(row, seen) is not None]
    taken = {_meaning(c.layout) for c in own}
    for row, function in itertools.product(rows, seen.blocks):
        for register in seen.blocks[function]:
            moved = replace(row, name=_moved_name(row, function, register),
                            function=function, register=register)  # fmt: skip
            if _meaning(moved) not in taken and _raw(moved, seen) is not None:
                taken.add(_meaning(moved))
                own.append(Candidate(moved))
    return tuple(own)


def text_candidates() -> tuple[Candidate, ...]:
    """Every unit and reference that a line of text can be in; the plain kind first."""
    usual = Layout("", 3, 0, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0))
    return tuple(
        Candidate(replace(usual, name=f"text-{reference}-{unit}", unit=unit, reference=reference),
                  text=True, ready=(unit, reference) == ("kPa", "vacuum"))
        for unit in KPA_PER
        for reference in ("vacuum", "gauge", "absolute")
    )  # fmt: skip


def _moved_name(row: Layout, function: int, register: int) -> str:
    return f"{row.name[:24]}-f{function}-at-{register}"


def _meaning(layout: Layout) -> Layout:
    """A layout without its name: two of the same meaning are one."""
    order = layout.word_order if REGISTERS[layout.type] == 2 else "ABCD"
    return replace(layout, name="", word_order=order)


def _raw(layout: Layout, seen: Seen) -> list[int] | None:
    block = seen.blocks.get(layout.function, {})
    places = range(layout.register, layout.register + REGISTERS[layout.type])
    return [block[at] for at in places] if all(at in block for at in places) else None


def vacuum_of(candidate: Candidate, seen: Seen, air_kpa: float) -> float | None:
    """The vacuum in kPa that a candidate makes of what was seen; None when it makes none."""
    layout = candidate.layout
    if candidate.text:
        raw = None if seen.line is None else number_in(seen.line, layout.unit)
        if raw is None:
            return None
        sample = sample_of(raw, raw, layout, air_kpa, 0.0)
    else:
        registers = _raw(layout, seen)
        if registers is None:
            return None
        sample = reading_of(registers, layout, air_kpa, 0.0)
    return sample.vacuum_kpa if isinstance(sample, Reading) else None


def plausible(vacuum_kpa: float | None, air_kpa: float) -> bool:
    """Between nothing and all of the air, as a dial reads it: half a kPa below zero is zero."""
    return vacuum_kpa is not None and -0.5 <= vacuum_kpa <= air_kpa


def fits(candidate: Candidate, dial: Dial, air_kpa: float, tolerance_kpa: float) -> bool:
    """True when a candidate agrees with the dial, for an absolute one in any weather."""
    vacuum_kpa = vacuum_of(candidate, dial.seen, air_kpa)
    weather_kpa = WEATHER_KPA if candidate.layout.reference == "absolute" else 0.0
    within_kpa = tolerance_kpa + weather_kpa
    return vacuum_kpa is not None and abs(vacuum_kpa - dial.vacuum_kpa) <= within_kpa


def fitting(
    tried: Iterable[Candidate], dials: Sequence[Dial], air_kpa: float, tolerance_kpa: float
) -> tuple[Candidate, ...]:
    """Those that agree with every reading."""
    return tuple(c for c in tried if all(fits(c, d, air_kpa, tolerance_kpa) for d in dials))


def told(dials: Sequence[Dial]) -> bool:
    """True when the readings lie far enough apart to prove anything."""
    read = [dial.vacuum_kpa for dial in dials]
    return len(read) >= 2 and max(read) - min(read) >= APART_KPA


def best_reading(first: Candidate, other: Candidate, air_kpa: float) -> tuple[float, float] | None:
    """The vacuum at which the two differ most, if ``first`` is right, and by how much, kPa.

    None when they look at different registers, for which no form can tell what is in the other,
    or when they never differ.
    """
    if not first.text and first.place != other.place:
        return None
    most: tuple[float, float] | None = None
    for vacuum_kpa in range(0, int(min(air_kpa, 91.0)), 10):
        apart_kpa = _apart(first, other, float(vacuum_kpa), air_kpa)
        if apart_kpa is not None and apart_kpa > (0.0 if most is None else most[1]):
            most = float(vacuum_kpa), apart_kpa
    return most


def _apart(first: Candidate, other: Candidate, vacuum_kpa: float, air_kpa: float) -> float | None:
    seen = sent_by(first, vacuum_kpa, air_kpa)
    if seen is None:
        return None
    read = vacuum_of(other, seen, air_kpa)
    return air_kpa if read is None else abs(read - vacuum_kpa)


def sent_by(candidate: Candidate, vacuum_kpa: float, air_kpa: float) -> Seen | None:
    """What a device of this kind sends at a vacuum; None when its numbers do not reach so far."""
    layout = candidate.layout
    pressure_kpa = {"vacuum": vacuum_kpa, "gauge": -vacuum_kpa, "absolute": air_kpa - vacuum_kpa}
    value = from_kpa(pressure_kpa[layout.reference], layout.unit)
    if candidate.text:
        return Seen({}, f"{value:.4f}".encode())
    if layout.span is not None:
        value = 4.0 + 16.0 * (value - layout.span[0]) / (layout.span[1] - layout.span[0])
    raw = (value - layout.offset) / layout.scale
    try:
        whole = raw if layout.type == "float32" else round(raw)
        sent = struct.pack(_PACKED[layout.type], whole)
    except (struct.error, OverflowError):
        return None
    if len(sent) == 4:
        sent = bytes(sent["ABCD".index(letter)] for letter in layout.word_order)
    words = struct.unpack(f">{len(sent) // 2}H", sent)
    return Seen({layout.function: dict(enumerate(words, layout.register))})


def same_everywhere(first: Candidate, other: Candidate, air_kpa: float, within_kpa: float) -> bool:
    """True when no vacuum tells two apart that both agreed with the dial.

    One form at one register, by function 3 and by 4, is the same; and so are two forms of the same
    registers that never differ by more than ``within_kpa``.
    """
    if not first.text and first.place != other.place:
        by_3 = (replace(_meaning(c.layout), function=3) for c in (first, other))
        return len(set(by_3)) == 1
    apart = best_reading(first, other, air_kpa)
    return apart is None or apart[1] <= within_kpa
