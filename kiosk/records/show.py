"""The log as plain text and as JSON, for a terminal."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from kiosk import words
from kiosk.records import review
from kiosk.records.rows import Column, CycleRecord, CycleRow, EventRow
from kiosk.units import whole_percent

TRACE_COLUMNS = 60
_TRACE_LINES = 10
_BEFORE_MS, _AFTER_MS = 10_000, 5_000  # shown around a cycle
_NONE = "-"

Data = Mapping[str, Any]


def _number(value: object, digits: int = 1, unit: str = "") -> str:
    if not isinstance(value, int | float):
        return _NONE
    return f"{value:.{digits}f}{unit}"


def _percent(ratio: float | None) -> str:
    return _NONE if ratio is None else f"{whole_percent(ratio)} %"


def _names(value: object) -> str:
    return " ".join(map(str, value)) if isinstance(value, list | tuple) and value else "none"


def _label(utc: str) -> str:
    return utc.replace("T", " ").split(".")[0].removesuffix("Z") + "Z"


def _clock(utc: str) -> str:
    return utc[11:23].rstrip("Z")


def _result(row: CycleRow) -> str:
    if row.closed_ms is None:
        return "not closed"
    return (row.result or "closed").replace("_", " ")


# The list


def cycle_table(rows: Sequence[CycleRow]) -> list[str]:
    """Lines of a table, one cycle a line, newest first."""
    heads = ("no", "cycle", "opened (UTC)", "job", "result", "minimum", "lowest R", "alarms")
    cells = [heads] + [
        (
            str(row.number), row.id, _label(row.opened_utc), row.job_id or _NONE, _result(row),
            _number(row.minimum_kpa, 1, " kPa"), _percent(row.lowest_ratio),
            " ".join(row.alarms) or _NONE,
        )
        for row in rows
    ]  # fmt: skip
    widths = [max(len(line[k]) for line in cells) for k in range(len(heads))]
    return ["  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip()
            for line in cells]  # fmt: skip


# One event


def _alarm(data: Data, said: words.Words) -> str:
    code, change = data.get("code"), data.get("change")
    text = f"alarm {code} {change}: {said.say(f'alarm.{code}.title')}"
    text += f" ({data['about']})" if data.get("about") else ""
    text += "".join(f", {word}" for word in _alarm_more(data))
    if change != "raised" or data.get("value") is None:
        return text
    unit = f" {data['unit']}" if data.get("unit") else ""
    text += f" ({_number(data['value'], 2)}{unit}, limit {_number(data.get('limit'), 2)}{unit})"
    return text + (", first of its group" if data.get("first") else "")


def _alarm_more(data: Data) -> list[str]:
    """Who, in what words and for how long, and how far the gauges are to be believed."""
    more = [f"by {data['user']}"] if data.get("user") and data.get("change") != "raised" else []
    if data.get("change") == "cleared" and data.get("cut_over") is True:
        more.append("not cutting any more")
    if data.get("comment"):
        more.append(f"saying: {data['comment']}")
    if data.get("change") == "shelved":
        minutes = _number(data.get("shelf_s", 0.0) / 60.0, 0, " min")
        more.append(f"for {minutes} ({_spaced(data.get('shelf_reason'))})")
    if data.get("change") == "raised" and data.get("quality"):
        more.append(f"gauges {data['quality']}")
    return more


def _bypass(data: Data, said: words.Words) -> str:
    title = said.say(f"permissive.{data.get('check')}.title")
    who = f" by {data['user']}" if data.get("user") else ""
    return f"bypass {data.get('change')}{who}: {title} ({_spaced(data.get('reason'))})"


def _person(data: Data, said: words.Words) -> str:
    whom = f" {data['name']} ({data.get('role')})" if data.get("name") else ""
    how = [f"by {data['by']}"] if data.get("by") else []
    how += [f"with {data['way']}"] if data.get("way") else []
    how += [_names(data["what"])] if data.get("what") else []
    how += [said.say(f"refused.{data['refused']}")] if data.get("refused") else []
    how += [_spaced(data["why"])] if data.get("why") else []
    return f"people: {_spaced(data.get('change'))}{whom}" + "".join(f", {word}" for word in how)


def _clock_note(data: Data, _: words.Words) -> str:
    if data.get("change") == "set":
        by = _number(data.get("step_s"), 1, " s")
        moved = f"wall clock moved by {by} (set, or the machine slept)"
        return f"{moved}: {data.get('from')} -> {data.get('to')}"
    follows: dict[object, str] = {True: "follows a time server", False: "follows no time server"}
    return f"wall clock {follows.get(data.get('synced'), 'cannot be asked')}"


def _service(data: Data, _: words.Words) -> str:
    who = f" by {data['user']}" if data.get("user") else ""
    return f"service {'begun' if data.get('on') is True else 'ended'}{who}"


def _command(data: Data, said: words.Words) -> str:
    refused = data.get("refused")
    arguments = data.get("arguments") or {}
    told = ", ".join(f"{key} {_plain(value)}" for key, value in sorted(arguments.items()))
    who = f"{data['user']} asked" if data.get("user") else "asked"
    text = f"{who}: {_spaced(data.get('name'))}" + (f" ({told})" if told else "")
    return text if refused is None else f"{text}; refused: {said.say(f'refused.{refused}')}"


def _plain(value: object) -> str:
    return _names(value) if isinstance(value, list) else str(value)


def _confirm(data: Data, _: words.Words) -> str:
    match data.get("what"):
        case "zone":
            up, down = _names(data.get("up")), _names(data.get("down"))
            return f"confirmed: zone {data.get('zone')}: up {up}; down {down}"
        case "map":
            up, down = _names(data.get("up")), _names(data.get("down"))
            return f"confirmed: the map as set before: up {up}; down {down}"
        case "part":
            warnings = _names(data.get("warnings"))
            return f"confirmed: the part page; warnings read: {warnings}"
        case "cautions":
            who = f" by {data['user']}" if data.get("user") else ""
            return f"confirmed{who}: the cautions of the shift, texts {data.get('texts')}"
    return f"confirmed: {data.get('what')}"


def _state(data: Data, said: words.Words) -> str:
    why = "; ".join(said.say(f"permissive.{code}.no") for code in data.get("lacks") or ())
    event = _spaced(data.get("event")) + (f": {why}" if why else "")
    return f"state {data.get('from')} -> {data.get('to')} ({event})"


def _spaced(code: object) -> str:
    return str(code).replace("_", " ")


def _contacts(data: Data, _: words.Words) -> str:
    def on(key: str) -> str:
        return "on" if data.get(key) is True else "off"

    return f"contacts: start permit {on('start_permit')}, hold healthy {on('hold_healthy')}"


def _plan(data: Data, _: words.Words) -> str:
    text = f"plan {_spaced(data.get('change'))}: job {data.get('job_id') or _NONE}"
    return f"{text}: {data['words']}" if data.get("words") else text


def _cycle(data: Data, _: words.Words) -> str:
    result = data.get("result")
    return f"cycle {data.get('change')}" + (f": {_spaced(result)}" if result else "")


_SAY: dict[str, Callable[[Data, words.Words], str]] = {
    "alarm": _alarm, "command": _command, "confirm": _confirm, "state": _state,
    "output": _contacts, "plan": _plan, "cycle": _cycle, "bypass": _bypass,
    "service": _service, "person": _person, "clock": _clock_note,
}  # fmt: skip


def event_line(event: EventRow, said: words.Words) -> str:
    """One event as one line."""
    say = _SAY.get(event.kind)
    text = say(event.data, said) if say else f"{event.kind}: {json.dumps(dict(event.data))}"
    return f"  {_clock(event.utc)}  {text}"


# The trace


def _top_kpa(columns: Sequence[Column], levels: Sequence[float | None]) -> float:
    highs = [column.high_kpa for column in columns] + list(levels)
    highest = max((high for high in highs if high is not None), default=0.0)
    return 10.0 * (math.floor(highest / 10.0) + 1)


def _mark(column: Column, bottom: float, top: float) -> str:
    if column.low_kpa is None or column.high_kpa is None:
        return "?" if column.missing and bottom <= 0.0 else " "
    return "#" if column.low_kpa < top and column.high_kpa >= bottom else " "


def trace_lines(
    columns: Sequence[Column], required_kpa: float | None, start_kpa: float | None
) -> list[str]:
    """A small picture: # from least to most, ? for no valid value, the two levels as lines."""
    top = _top_kpa(columns, (required_kpa, start_kpa))
    step = top / _TRACE_LINES
    lines = []
    for k in reversed(range(_TRACE_LINES)):
        bottom = k * step
        here = [name for name, level in (("start", start_kpa), ("required", required_kpa))
                if level is not None and bottom <= level < bottom + step]  # fmt: skip
        row = "".join(_mark(column, bottom, bottom + step) for column in columns)
        drawn = row.replace(" ", "-") if here else row
        lines.append(f"  {bottom:5.0f} |{drawn}| {' '.join(here)}".rstrip())
    seconds = (columns[-1].to_ms - columns[0].from_ms) / 1000
    return [*lines, f"        0 s {'':{max(len(columns) - 10, 1)}}{seconds:.0f} s"]


# The whole record


def _plan_lines(plan: Data | None) -> list[str]:
    if plan is None:
        return ["Plan      none in the log"]
    seats = plan.get("seats") or []
    up = [seat["name"] for seat in seats if seat["state"] == "up"]
    lines = [f"Plan      {str(plan.get('digest'))[:16]}; {len(up)} cups up: {_names(up)}"]
    governed = plan.get("governed_by")
    if governed:
        tool = "" if governed["tool"] is None else f", tool {governed['tool']}"
        line = "" if governed["line"] is None else f", line {governed['line']}"
        lines.append(f"Governed  by {governed['mode']}{tool}{line}")
    return lines


def _head_lines(row: CycleRow, plan: Data | None) -> list[str]:
    job = " ".join(part for part in (row.job_id, row.revision and f"rev {row.revision}") if part)
    closed = _NONE if row.closed_utc is None else _label(row.closed_utc)
    minimum, start = row.minimum_kpa, row.start_kpa
    if plan is not None and row.closed_ms is None:
        minimum, start = plan.get("minimum_kpa"), plan.get("start_kpa")
    return [
        f"Cycle     {row.number} ({row.id})",
        f"Job       {job or _NONE}{', ' + row.title if row.title else ''}",
        f"Opened    {_label(row.opened_utc)}; closed {closed}",
        f"Result    {_result(row)}",
        *_plan_lines(plan),
        f"Minimum   {_number(minimum, 1, ' kPa')}; to start {_number(start, 1, ' kPa')}",
        f"Hold      {_number(row.start_vacuum_kpa, 1, ' kPa')} at the start; lowest "
        f"{_number(row.lowest_vacuum_kpa, 1, ' kPa')}, R {_percent(row.lowest_ratio)}",
        f"Cutting   {_number(row.cutting_s, 0, ' s')}",
        f"Alarms    {' '.join(row.alarms) or 'none'}",
    ]


def _plan_of(record: CycleRecord) -> Data | None:
    return None if record.plan_json is None else json.loads(record.plan_json)


def window(path: Path, row: CycleRow) -> tuple[int, int]:
    """What is shown of the traces of a cycle: from and to, ms on the axis of the log."""
    end = row.closed_ms if row.closed_ms is not None else review.end_ms(path)
    return row.opened_ms - _BEFORE_MS, max(end, row.opened_ms) + _AFTER_MS


def _traces(path: Path, row: CycleRow) -> dict[str, tuple[Column, ...]]:
    from_ms, to_ms = window(path, row)
    drawn = {}
    for name in review.channels(path):
        columns = review.trace(path, name, from_ms, to_ms, TRACE_COLUMNS)
        if any(column.n or column.missing for column in columns):
            drawn[name] = columns
    return drawn


def cycle_text(path: Path, key: str) -> str:
    """The whole record of a cycle (id, number or ``last``) as text.  Raises BadInput."""
    record = review.cycle(path, key)
    plan, said = _plan_of(record), words.load()
    levels = (plan.get("required_kpa"), plan.get("start_kpa")) if plan else (None, None)
    lines = _head_lines(record.cycle, plan)
    for name, columns in _traces(path, record.cycle).items():
        lines += ["", f"Trace of {name}, kPa below air", *trace_lines(columns, *levels)]
    for title, events in (("Set up", record.set_up), ("Events", record.events)):
        lines += ["", f"{title} (UTC)", *(event_line(event, said) for event in events)]
    return "\n".join(lines)


def cycle_json(path: Path, key: str) -> dict[str, Any]:
    """The whole record of a cycle as one object.  Raises BadInput."""
    record = review.cycle(path, key)
    return {
        "format": 1,
        "cycle": asdict(record.cycle),
        "plan": _plan_of(record),
        "set_up": [asdict(event) for event in record.set_up],
        "events": [asdict(event) for event in record.events],
        "traces": {
            name: [asdict(column) for column in columns]
            for name, columns in _traces(path, record.cycle).items()
        },
    }
