"""A site file as text: tables put in, replaced or begun, every other line left as it is. Pure."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hardware.frames import REGISTERS
from kiosk.site import GaugeSite, InputOutput, Layout, TextForm
from kiosk.site.unfilled import FILL_IN
from kiosk.toml_lines import Where, lines_of

FOUND_OUT = frozenset({"name", "role", "address", "kind", "layout", "error_kpa"})  # of a gauge


@dataclass(frozen=True, slots=True)
class Found:
    """What is to be written.  ``layout`` only when it is no ready row."""

    gauge: GaugeSite | None = None
    layout: Layout | None = None
    io: InputOutput | None = None
    error_stated: bool = True  # a person typed the gauge's error


def _text(value: str) -> str:
    """A basic string of TOML 1.0; JSON's escapes are among its own."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _number(value: float) -> str:
    return repr(float(value)) if math.isfinite(value) else "nan"


def gauge_text(gauge: GaugeSite, error_stated: bool) -> str:
    """A ``[[gauge]]`` table."""
    lines = _gauge_lines(gauge, error_stated).values()
    return "\n".join(["[[gauge]]", *lines, f"rate_hz = {_number(gauge.rate_hz)}", ""])


def _gauge_lines(gauge: GaugeSite, error_stated: bool) -> dict[str, str]:
    """Key and line of all that is found out about a gauge."""
    mark = "" if error_stated else f"    {FILL_IN}from its data sheet, with display and module"
    stated = {"name": gauge.name, "role": gauge.role, "address": gauge.address,
              "kind": gauge.kind, "layout": gauge.layout}  # fmt: skip
    lines = {key: f"{key} = {_text(value)}" for key, value in stated.items() if value}
    return lines | {"error_kpa": f"error_kpa = {_number(gauge.error_kpa)}{mark}"}


def layout_text(layout: Layout) -> str:
    """A ``[[layout]]`` table."""
    lines = ["[[layout]]", f"name = {_text(layout.name)}", f"type = {_text(layout.type)}"]
    if layout.text is not None:
        lines += _form_lines(layout.text)
    else:
        lines += [f"function = {layout.function}", f"register = {layout.register}"]
    if REGISTERS.get(layout.type) == 2:
        lines.append(f"word_order = {_text(layout.word_order)}")
    lines += [f"scale = {_number(layout.scale)}", f"offset = {_number(layout.offset)}",
              f"unit = {_text(layout.unit)}", f"reference = {_text(layout.reference)}",
              f"valid_kpa = [{', '.join(map(_number, layout.valid_kpa))}]"]  # fmt: skip
    if layout.span is not None:
        lines.append(f"span = [{', '.join(map(_number, layout.span))}]")
    return "\n".join(lines) + "\n"


def _form_lines(form: TextForm) -> list[str]:
    stated = {"pattern": form.pattern, "line_end": form.line_end, "request": form.request}
    if form.request is not None:
        stated["request_end"] = form.request_end
    return [f"{key} = {_text(value)}" for key, value in stated.items() if value is not None]


def io_text(io: InputOutput) -> str:
    """The ``[io]`` table with its inputs and outputs."""
    text = f"[io]\naddress = {_text(io.address)}\n"
    for head, names in (("inputs", io.inputs), ("outputs", io.outputs)):
        if names:
            rows = "".join(f"{name} = {number}\n" for name, number in names.items())
            text += f"\n[io.{head}]\n{rows}"
    return text


def new_text(found: Found, simulated: bool) -> str:
    """A whole site file; what was not found out is marked to be filled in."""
    flag = "true" if simulated else "false"
    return f"""\
# Every line marked FILL IN carries an example's number: put your own machine's there.
format = 1
name = "Router"                    {FILL_IN}what the shop calls the machine
simulated = {flag}

[grid]
pattern = "rows"                   {FILL_IN}rows or staggered
pitch_mm = [110.0, 110.0]          {FILL_IN}from seat to seat, x and y
count = [10, 6]                    {FILL_IN}seats in x and in y
origin_mm = [75.0, 75.0]           {FILL_IN}first seat's centre, from the stops

[cup]
seal_diameter_mm = 68.0            {FILL_IN}of the sealing lip
seat_diameter_mm = 82.0            {FILL_IN}of the whole cup with its holder
lift_mm = 26.0                     {FILL_IN}raised above lowered

[air]
altitude_m = 0.0                   {FILL_IN}of the workshop above the sea

{tables_text(found)}
[limits]
drop_kpa = 2.0                     {FILL_IN}from the gauge to the worst cup
"""


def tables_text(found: Found) -> str:
    """What was found, as tables with an empty line after each."""
    parts = []
    if found.layout is not None:
        parts.append(layout_text(found.layout))
    if found.gauge is not None:
        parts.append(gauge_text(found.gauge, found.error_stated))
    if found.io is not None:
        parts.append(io_text(found.io))
    return "\n".join(parts)


def replaced(text: str, found: Found) -> list[str]:
    """What of a site file would give way to what was found, by its name."""
    values = tomllib.loads(text)
    names = []
    if found.gauge is not None and _row(values, "gauge", found.gauge.name) is not None:
        names.append(f'[[gauge]] "{found.gauge.name}"')
    if found.layout is not None and _row(values, "layout", found.layout.name) is not None:
        names.append(f'[[layout]] "{found.layout.name}"')
    if found.io is not None and "io" in values:
        names.append("[io]")
    return names


def merged(text: str, found: Found) -> str:
    """The text with what was found put in: in place of the old one, else at its end."""
    text = text.replace("\r\n", "\n")
    for where, new in _parts(text, found):
        text = _with(text, where, new)
    return text


def _parts(text: str, found: Found) -> list[tuple[Where, str]]:
    """Each table with the place it has in the file; an index of -1 for a new row."""
    values = tomllib.loads(text)
    parts: list[tuple[Where, str]] = []
    if found.layout is not None:
        at = _row(values, "layout", found.layout.name)
        parts.append((("layout", -1 if at is None else at), layout_text(found.layout)))
    if found.gauge is not None:
        at = _row(values, "gauge", found.gauge.name)
        if at is None:
            parts.append((("gauge", -1), gauge_text(found.gauge, found.error_stated)))
        else:
            lines = _gauge_lines(found.gauge, found.error_stated)
            parts.append((("gauge", at), _renewed(text, ("gauge", at), lines)))
    if found.io is not None:
        parts.append((("io",) if "io" in values else ("io", -1), io_text(found.io)))
    return parts


def _row(values: Mapping[str, object], key: str, name: str) -> int | None:
    rows = values.get(key, [])
    if not isinstance(rows, list):
        return None
    return next((at for at, row in enumerate(rows)
                 if isinstance(row, dict) and row.get("name") == name), None)  # fmt: skip


def _with(text: str, where: Where, new: str) -> str:
    lines = text.split("\n")
    if where[-1] == -1:
        body = text.rstrip("\n")
        return f"{body}\n\n{new}"
    taken = _lines_of_table(text, lines, where)
    first, last = min(taken), max(taken)
    return "\n".join([*lines[: first - 1], *new.rstrip("\n").split("\n"), *lines[last:]])


def _renewed(text: str, where: Where, fresh: dict[str, str]) -> str:
    """A gauge's table with what was found out in place of the old; its other lines stay."""
    lines, places = text.split("\n"), lines_of(text)
    first, last = _lines_of_table(text, lines, where)
    old = {places[*where, key]: key for key in FOUND_OUT if (*where, key) in places}
    kept = []
    for at in range(first, last + 1):
        line = fresh.pop(old[at], None) if at in old else lines[at - 1]
        kept += [] if line is None else [line]
    return "\n".join([*kept, *fresh.values()])


def _lines_of_table(text: str, lines: Sequence[str], where: Where) -> list[int]:
    """The lines of a table and all inside it, without the comments and blanks that follow."""
    first_lines = lines_of(text)
    inside = [at for place, at in first_lines.items() if place[: len(where)] == where]
    others = [at for place, at in first_lines.items() if place[: len(where)] != where]
    ends = min((at for at in others if at > max(inside)), default=len(lines) + 1)
    last = ends - 1
    while last > max(inside) and _says_nothing(lines[last - 1]):
        last -= 1
    return [min(inside), last]


def _says_nothing(line: str) -> bool:
    return line.lstrip()[:1] in ("", "#")
