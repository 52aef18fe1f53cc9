"""What a device gave and what the layouts make of it, as lines and as plain data.  Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from hardware.frames import REGISTERS, number_of
from kiosk.wiring.fit import Candidate, Seen, line_number, plausible, vacuum_of

_IN_A_ROW = 8
_FUNCTION = {3: "holding registers", 4: "input registers"}


def register_lines(seen: Seen) -> list[str]:
    """What came, in hexadecimal, as the wire has it."""
    if seen.line is not None:
        return [f"line: {seen.line!r}"]
    lines = []
    for function, block in seen.blocks.items():
        lines.append(f"function {function} ({_FUNCTION[function]}), hexadecimal:")
        numbers = sorted(block)
        for start in range(numbers[0] - numbers[0] % _IN_A_ROW, numbers[-1] + 1, _IN_A_ROW):
            row = range(start, start + _IN_A_ROW)
            if any(at in block for at in row):
                words = " ".join(f"{block[at]:04X}" if at in block else "----" for at in row)
                lines.append(f"  {start:>5}: {words}")
    return lines


def decoded(candidate: Candidate, seen: Seen) -> float | None:
    """The number before scale and offset; None when there is none."""
    layout = candidate.layout
    if candidate.text:
        return line_number(layout, seen)
    block = seen.blocks.get(layout.function, {})
    places = range(layout.register, layout.register + REGISTERS[layout.type])
    if not all(at in block for at in places):
        return None
    return number_of([block[at] for at in places], layout.type, layout.word_order)


HEAD = f"{'layout':<37}{'from':>12}{'decoded':>15}{'kPa vacuum':>12}  "


def candidate_line(candidate: Candidate, seen: Seen, air_kpa: float) -> str:
    """One candidate: name, place, number, vacuum, and whether that is likely."""
    raw, vacuum_kpa = decoded(candidate, seen), vacuum_of(candidate, seen, air_kpa)
    layout = candidate.layout
    place = "line" if candidate.text else f"f{layout.function} r{layout.register}"
    number = "-" if raw is None else f"{raw:.6g}"
    vacuum = "-" if vacuum_kpa is None else f"{round(vacuum_kpa, 2) + 0.0:.2f}"
    mark = "likely" if plausible(vacuum_kpa, air_kpa) else ""
    return f"{layout.name:<37}{place:>12}{number:>15}{vacuum:>12}  {mark}".rstrip()


def candidate_row(candidate: Candidate, seen: Seen, air_kpa: float) -> dict[str, Any]:
    """One candidate as plain data."""
    layout = candidate.layout
    raw, vacuum_kpa = decoded(candidate, seen), vacuum_of(candidate, seen, air_kpa)
    finite = raw if raw is not None and math.isfinite(raw) else None
    return {
        "layout": layout.name,
        "ready": candidate.ready,
        "function": None if candidate.text else layout.function,
        "register": None if candidate.text else layout.register,
        "decoded": finite,
        "vacuum_kpa": vacuum_kpa,
        "likely": plausible(vacuum_kpa, air_kpa),
    }


def seen_data(seen: Seen, tried: Iterable[Candidate], air_kpa: float) -> dict[str, Any]:
    """Everything as plain data, for ``--json``; of other places only what is likely."""
    rows = [candidate_row(candidate, seen, air_kpa) for candidate in tried]
    return {
        "line": None if seen.line is None else seen.line.decode("latin-1"),
        "registers": {
            str(function): {str(at): f"{number:04X}" for at, number in block.items()}
            for function, block in seen.blocks.items()
        },
        "layouts": [row for row in rows if row["ready"] or row["likely"]],
    }
