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
from kiosk.interlock.reading import Reading
from kiosk.site import Layout, TextForm
from kiosk.site.textform import number_in
from kiosk.site.wiring import kind_for
from kiosk.units import KPA_PER, from_kpa

APART_KPA = 20.0  # two readings nearer to each other than this prove nothing
WEATHER_KPA = 3.0  # either way about the mean air pressure: docs/wiring.md, the gauge
PLAIN_TEXT = "text-vacuum-kPa"  # what a text gauge without a layout sends
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
    ready: bool = False

    @property
    def kind(self) -> str:
        """The word of the site file: register, current or text."""
        return kind_for(self.layout)

    @property
    def text(self) -> bool:
        """True for lines of text, which have no registers."""
        return self.layout.text is not None

    @property
    def place(self) -> tuple[int, int, int]:
        """Function, first register and count of registers."""
        layout = self.layout
        return layout.function, layout.register, REGISTERS[layout.type]


def candidates(layouts: Iterable[Layout], seen: Seen) -> tuple[Candidate, ...]:
    """Every row in its own place, then every form at every other place that was read."""
    rows = tuple(row for row in layouts if row.text is None)
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


def text_candidates(layouts: Iterable[Layout], form: TextForm) -> tuple[Candidate, ...]:
    """Rows of the form as they stand, then every other unit and reference that a line can be in."""
    usual = Layout("", 0, 0, "text", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0), text=form)
    plain = replace(usual, name=PLAIN_TEXT)
    rows = [plain] if form == TextForm() else []
    rows += [row for row in layouts if row.text == form]
    taken = set(map(_meaning, rows))
    every = [
        replace(usual, name=_text_name(form, unit, reference), unit=unit, reference=reference)
        for unit in KPA_PER
        for reference in ("vacuum", "gauge", "absolute")
    ]
    return (*(Candidate(row, ready=True) for row in rows),
            *(Candidate(row) for row in every if _meaning(row) not in taken))  # fmt: skip


def _text_name(form: TextForm, unit: str, reference: str) -> str:
    kind = "asked" if form.request is not None else "text"
    return f"{kind}-{reference}-{unit}"


def _moved_name(row: Layout, function: int, register: int) -> str:
    return f"{row.name[:24]}-f{function}-at-{register}"


def _meaning(layout: Layout) -> Layout:
    """A layout without its name: two of the same meaning are one."""
    order = layout.word_order if REGISTERS.get(layout.type) == 2 else "ABCD"
    return replace(layout, name="", word_order=order)


def _raw(layout: Layout, seen: Seen) -> list[int] | None:
    block = seen.blocks.get(layout.function, {})
    places = range(layout.register, layout.register + REGISTERS[layout.type])
    return [block[at] for at in places] if all(at in block for at in places) else None


def vacuum_of(candidate: Candidate, seen: Seen, air_kpa: float) -> float | None:
    """The vacuum in kPa that a candidate makes of what was seen; None when it makes none."""
    layout = candidate.layout
    if layout.text is not None:
        raw = line_number(layout, seen)
        if raw is None:
            return None
        sample = sample_of(raw, raw, layout, air_kpa, 0.0)
    else:
        registers = _raw(layout, seen)
        if registers is None:
            return None
        sample = reading_of(registers, layout, air_kpa, 0.0)
    return sample.vacuum_kpa if isinstance(sample, Reading) else None


def line_number(layout: Layout, seen: Seen) -> float | None:
    """The number that a text layout finds on the line that was seen; None when it finds none."""
    if layout.text is None or seen.line is None:
        return None
    try:
        return number_in(seen.line, layout.text, layout.unit)
    except ValueError:  # its pattern names another unit
        return None


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
    if layout.text is not None:
        return Seen({}, layout.text.line(f"{value:.4f}"))
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
