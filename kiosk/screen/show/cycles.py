"""Cycle book: past cycles, newest first, and the record of one."""

from __future__ import annotations

from itertools import pairwise

from kiosk.records.rows import Column, CycleRow
from kiosk.screen.book import Found, Opened
from kiosk.screen.show import numbers
from kiosk.screen.show.drawn import Mark, Record
from kiosk.screen.show.shown import Button, Desk, Overlay, Row
from kiosk.screen.show.stop import local_time
from kiosk.words import Words

PAGE = 6  # cycles on one page
ALARMS = 3  # alarms that are named
AIR_KPA = 100.0  # top of the scale where no plan says the air's pressure
BAD = ("hold_lost", "no_permit")


def button(words: Words) -> Button:
    """The touch place that opens the list."""
    return Button(words.say("book.title"), opens="cycles")


def listed(words: Words, desk: Desk, back: Button) -> Overlay:
    """The list, a page of it; or that it is being read, is empty or cannot be read."""
    found = desk.book if desk.book is not None and not desk.book.asked else None
    cycles = found.cycles if found is not None else ()
    pages = max(1, -(-len(cycles) // PAGE))
    page = desk.page % pages
    more = Button(words.say("alarms.more"), _page(words, page, pages), opens="page")
    return Overlay(
        kind="cycles",
        title=words.say("book.title"),
        rows=tuple(_tile(words, desk, row) for row in cycles[page * PAGE : (page + 1) * PAGE]),
        buttons=(more,) if pages > 1 else (),
        empty="" if cycles else _empty(words, found),
        back=back,
    )


def _page(words: Words, page: int, pages: int) -> str:
    return words.say("alarms.page", page=page + 1, pages=pages)


def _empty(words: Words, found: Found | None) -> str:
    if found is None:
        return words.say("book.reading")
    return (
        words.say("book.trouble", text=found.trouble) if found.trouble else words.say("book.none")
    )


def _tile(words: Words, desk: Desk, row: CycleRow) -> Row:
    when = local_time(row.opened_utc, desk.utc_offset_s, "%Y-%m-%d %H:%M")
    result = _result(words, row)
    if row.lowest_ratio is not None:
        percent = _percent(words, row.lowest_ratio)
        result = words.say("book.tile", result=result, percent=percent)
    place = Button(row.job_id or "-", f"{numbers.tied(when)}\n{result}", opens=f"cycle:{row.id}")
    return Row(place.words, "bad" if row.result in BAD else "", button=place)


def _result(words: Words, row: CycleRow) -> str:
    return words.say(f"result.{row.result if row.closed_ms is not None else 'open'}")


def _percent(words: Words, ratio: float | None) -> str:
    return numbers.tied(f"{numbers.percent(words, ratio)} {words.say('number.percent_sign')}")


def opened(words: Words, desk: Desk) -> Overlay:
    """One cycle: facts at the left, the gauge's trace against the plan's levels at the right."""
    back = Button(words.say("place.back"), opens=f"cycles:{desk.page}")
    found = desk.book if desk.book is not None and desk.book.asked == desk.about else None
    if found is None or found.opened is None:
        return Overlay("cycle", words.say("book.title"), empty=_empty(words, found), back=back)
    row = found.opened.row
    when = local_time(row.opened_utc, desk.utc_offset_s, "%Y-%m-%d %H:%M:%S")
    return Overlay(
        kind="cycle",
        title=words.say("book.one", job=row.job_id or "-", title=row.title or "", when=when),
        rows=_facts(words, found.opened),
        record=_record(words, found.opened),
        back=back,
    )


def _facts(words: Words, opened: Opened) -> tuple[Row, ...]:
    row, plan = opened.row, opened.plan or {}
    cut = "-" if row.cutting_s is None else numbers.duration(words, row.cutting_s)
    facts = (
        ("book.minimum", numbers.level(words, row.minimum_kpa or plan.get("minimum_kpa"))),
        ("book.start", numbers.level(words, row.start_kpa or plan.get("start_kpa"))),
        ("book.at_start", numbers.measured(words, row.start_vacuum_kpa)),
        ("book.lowest_r", _percent(words, row.lowest_ratio)),
        ("book.cutting", cut),
        ("book.who", ", ".join(opened.who) or words.say("people.nobody")),
    )  # fmt: skip
    result = Row(_result(words, row), "bad" if row.result in BAD else "yes"
                 if row.result == "done" else "wait")  # fmt: skip
    rows = tuple(Row(words.say(name), "", said) for name, said in facts)
    return (result, *_causes(words, opened.causes), *rows, *_alarms(words, row.alarms))


def _causes(words: Words, codes: tuple[str, ...]) -> tuple[Row, ...]:
    """What a person picked at the reset; nobody proved it."""
    if not codes:
        return ()
    return (
        Row(words.say("book.cause"), "", ", ".join(words.say(f"reset_cause.{c}") for c in codes)),
    )


def _alarms(words: Words, codes: tuple[str, ...]) -> tuple[Row, ...]:
    if not codes:
        return (Row(words.say("alarms.none")),)
    rows = [Row(words.say(f"alarm.{code}.title"), "", code) for code in codes[:ALARMS]]
    rest = len(codes) - ALARMS
    return (*rows, Row(words.say("book.more", count=rest))) if rest > 0 else tuple(rows)


def _record(words: Words, opened: Opened) -> Record:
    plan, columns = opened.plan or {}, opened.columns
    air_kpa = float(plan.get("air_kpa") or AIR_KPA)
    levels = (("required", "limit", "scale.required"), ("start", "level", "scale.start"))
    marks = tuple(
        Mark(plan[f"{key}_kpa"] / air_kpa, numbers.level(words, plan[f"{key}_kpa"]),
             words.say(name), weight)
        for key, weight, name in levels
        if plan.get(f"{key}_kpa") is not None
    )  # fmt: skip
    seconds = (columns[-1].to_ms - columns[0].from_ms) / 1000.0 if columns else 0.0
    return Record(
        trace=_joined([_share(column, air_kpa) for column in columns]),
        unknown=tuple(column.missing > 0 and column.n == 0 for column in columns),
        marks=marks,
        top=numbers.about(words, air_kpa),
        gauge=words.say("book.gauge", name=opened.gauge) if columns else words.say("book.no_trace"),
        long=numbers.duration(words, seconds) if columns else "",
    )


def _joined(shares: list[tuple[float, float] | None]) -> tuple[tuple[float, float] | None, ...]:
    """Each column reaches the one before it, so that a steep rise is one line."""
    found = list(shares)
    for at, (before, here) in enumerate(pairwise(shares), 1):
        if before is not None and here is not None:
            found[at] = (min(here[0], before[1]), max(here[1], before[0]))
    return tuple(found)


def _share(column: Column, air_kpa: float) -> tuple[float, float] | None:
    if column.low_kpa is None or column.high_kpa is None:
        return None
    low, high = (min(1.0, max(0.0, kpa / air_kpa)) for kpa in (column.low_kpa, column.high_kpa))
    return low, high
