"""What a job sheet says, made from a Plan and the catalogue; nothing here knows of paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby

from kiosk.job.plan import Finding, Governed, Plan, Seat, SeatState
from kiosk.words import Words

_CAUTIONS = ("C01", "C03", "C05", "C14")
_DIGEST_SHOWN = 12
_TO_SET_UP = {"spacer_discs"}  # notes that whoever changes the grid over must have
_SIGNALS = {"refuse": "refused", "warning": "warning", "note": "note"}


@dataclass(frozen=True, slots=True)
class Figure:
    """One large number and what it is.  ``leads``: the one to look for first."""

    label: str
    value: str
    unit: str
    leads: bool = False


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """A row of the table: what goes up, what stays down, and what a cut or an edge blocks.

    Empty where there is nothing.
    """

    name: str
    up: str
    down: str
    blocked: str


@dataclass(frozen=True, slots=True)
class Remark:
    """A signal word and its sentence."""

    signal: str
    text: str


@dataclass(frozen=True, slots=True)
class SheetWords:
    """The whole sheet in words, from top to bottom.  ``banner``: only on a refused job."""

    job_id: str
    title: str
    subtitle: str
    banner: str | None
    facts: tuple[tuple[str, str], ...]
    figures: tuple[Figure, ...]
    why: tuple[str, ...]
    legend: dict[str, str]
    side: str
    beyond: str
    scale: str
    headings: ZoneRow
    zones: tuple[ZoneRow, ...]
    nothing: str
    findings_title: str
    findings: tuple[Remark, ...]
    notes_title: str
    notes: tuple[Remark, ...]
    notes_left_out: str
    cautions_title: str
    cautions: tuple[Remark, ...]
    aid: str
    local: str
    plan_mark: str
    page: str


def sheet_words(words: Words, plan: Plan, machine: str, simulated: bool) -> SheetWords:
    """Everything that the sheet of ``plan`` says.  ``machine``: the site's name."""
    findings = [row for row in plan.findings if row.severity != "note" or row.code in _TO_SET_UP]
    notes = [row for row in plan.findings if row not in findings]
    return SheetWords(
        job_id=plan.job_id,
        title=plan.title,
        subtitle=_subtitle(words, plan, machine, simulated),
        banner=words.say("sheet.refused") if plan.refused else None,
        facts=_facts(words, plan),
        figures=_figures(words, plan),
        why=_why(words, plan),
        legend=_legend(words, plan),
        side=words.say("sheet.side"),
        beyond=words.say("sheet.beyond"),
        scale=words.rows["sheet.scale"],
        headings=_headings(words),
        zones=_zones(words, plan),
        nothing=words.say("sheet.nothing"),
        findings_title=words.say(f"sheet.findings_{'refused' if plan.refused else 'read'}"),
        findings=tuple(_remark(words, row) for row in findings),
        notes_title=words.say("sheet.notes"),
        notes=tuple(_remark(words, row) for row in notes),
        notes_left_out=words.say("sheet.notes_left_out", count=len(notes)),
        cautions_title=words.say("sheet.cautions"),
        cautions=tuple(
            Remark(words.say(f"caution.{code}.signal"), words.say(f"caution.{code}.short"))
            for code in _CAUTIONS
        ),
        aid=words.say("sheet.aid"),
        local=words.say("sheet.local"),
        plan_mark=words.say("sheet.plan", digest=plan.digest[:_DIGEST_SHOWN]),
        page=words.rows["sheet.page"],
    )


def _subtitle(words: Words, plan: Plan, machine: str, simulated: bool) -> str:
    parts = [words.say("sheet.revision", revision=plan.revision)] if plan.revision else []
    parts.append(words.say("sheet.machine", machine=machine))
    if simulated:
        parts.append(words.say("sheet.simulated"))
    return "  ·  ".join(parts)


def _legend(words: Words, plan: Plan) -> dict[str, str]:
    """What the map's marks mean, but for those that it does not have."""
    there = {
        "up": True, "down": True, "blocked": True, "pin": bool(plan.pins),
        "cut": any(path.through for path in plan.paths),
        "shallow": any(not path.through for path in plan.paths), "part": True,
        "first": plan.governed_push is not None,
        "spot": plan.governed_push is None and plan.governed_grid_mm is not None,
    }  # fmt: skip
    return {name: words.say(f"sheet.legend_{name}") for name, shown in there.items() if shown}


def _facts(words: Words, plan: Plan) -> tuple[tuple[str, str], ...]:
    up = sum(seat.state is SeatState.UP for seat in plan.seats)
    tools = ", ".join(
        words.say("sheet.tool", number=tool.number, kind=words.say(f"tool.{tool.kind}"),
                  diameter=f"{tool.diameter_mm:g}")
        for tool in plan.tools
    )  # fmt: skip
    program = words.say("sheet.no_program") if plan.program is None else plan.program.file
    rows = (
        ("material", plan.material),
        ("thickness", words.say("sheet.mm", value=f"{plan.thickness_mm:g}")),
        ("surface", plan.surface or words.say("sheet.friction")),
        ("cups", words.say("sheet.of", count=up, total=len(plan.seats))),
        ("program", program),
        ("tools", tools),
    )
    return tuple((words.say(f"sheet.{key}"), value) for key, value in rows if value)


# -- the numbers on the gauge --------------------------------------------------------------


def _figures(words: Words, plan: Plan) -> tuple[Figure, ...]:
    most = "expected" if plan.predicted_kpa is not None else "ceiling"
    reach = plan.ceiling_kpa if plan.predicted_kpa is None else plan.predicted_kpa
    if plan.refused:
        needed = "never" if plan.start_kpa is None else "needed"
        return (_figure(words, needed, plan.start_kpa), _figure(words, most, reach))
    return (
        _figure(words, "start", plan.start_kpa, leads=True),
        _figure(words, "cut", plan.required_kpa),
        _figure(words, most, reach),
    )


def _figure(words: Words, key: str, value_kpa: float | None, leads: bool = False) -> Figure:
    label = words.say(f"sheet.{key}_kpa")
    if value_kpa is None:
        return Figure(label, words.say("sheet.nothing"), "", leads)
    return Figure(label, f"{value_kpa:.1f}", "kPa", leads)


def _why(words: Words, plan: Plan) -> tuple[str, ...]:
    governed = plan.governed_by
    if governed is None:
        return ()
    where = _where(words, governed)
    lines = [
        words.say(
            f"sheet.why_{governed.mode}",
            where=where,
            sideways=f"{math.hypot(*governed.force_n[:2]):.0f}",
            upwards=f"{governed.force_n[2]:.0f}",
            factor=f"{governed.factor:g}",
        )
    ]
    if plan.minimum_kpa is not None:
        lines.append(
            words.say(
                "sheet.sum",
                minimum=f"{plan.minimum_kpa:.1f}",
                drop=f"{plan.drop_kpa:.1f}",
                error=f"{plan.gauge_error_kpa:.1f}",
                required=f"{plan.required_kpa:.1f}",
            )
        )
    return tuple(lines)


def _where(words: Words, governed: Governed) -> str:
    if governed.line is None:
        return words.say("sheet.where_load")
    return words.say("sheet.where_line", line=governed.line, tool=governed.tool)


# -- the table of zones --------------------------------------------------------------------


def _headings(words: Words) -> ZoneRow:
    return ZoneRow(*(words.say(f"sheet.column_{n}") for n in ("zone", "up", "down", "blocked")))


def _zones(words: Words, plan: Plan) -> tuple[ZoneRow, ...]:
    """One row a zone; neighbours that stay down as a whole share a row."""
    zones: dict[str, list[Seat]] = {}
    for seat in sorted(plan.seats, key=_number):
        zones.setdefault(seat.zone, []).append(seat)
    ordered = [zones[name] for name in dict.fromkeys(seat.zone for seat in plan.seats)]
    rows: list[ZoneRow] = []
    for idle, group in groupby(ordered, key=_idle):
        if idle:
            rows.append(_idle_row(words, [seats[0].zone for seats in group]))
        else:
            rows.extend(_zone_row(words, seats) for seats in group)
    return tuple(rows)


def _number(seat: Seat) -> int:
    return int(seat.name.removeprefix(seat.zone))


def _idle(seats: list[Seat]) -> bool:
    return all(seat.state is SeatState.DOWN for seat in seats)


def _idle_row(words: Words, names: list[str]) -> ZoneRow:
    return ZoneRow(_run(words, names), words.say("sheet.none"), words.say("sheet.all"), "")


def _zone_row(words: Words, seats: list[Seat]) -> ZoneRow:
    up = " ".join(seat.name for seat in seats if seat.state is SeatState.UP)
    down, blocked = (
        ", ".join(_runs(words, seats, state)) for state in (SeatState.DOWN, SeatState.BLOCKED)
    )
    return ZoneRow(seats[0].zone, up or words.say("sheet.none"), down, blocked)


def _runs(words: Words, seats: list[Seat], state: SeatState) -> list[str]:
    """Seats in this state; neighbours are told as first to last."""
    runs = [
        [seat.name for seat in group]
        for found, group in groupby(seats, key=lambda seat: seat.state)
        if found is state
    ]
    return [_run(words, names) for names in runs]


def _run(words: Words, names: list[str]) -> str:
    if len(names) < 3:
        return ", ".join(names)
    return words.say("sheet.to", first=names[0], last=names[-1])


# -- findings ------------------------------------------------------------------------------


def _remark(words: Words, row: Finding) -> Remark:
    return Remark(words.say(f"sheet.{_SIGNALS[row.severity]}_signal"), row.text)
