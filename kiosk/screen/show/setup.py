"""Set-up map: the seats zone by zone, then the part, or the map kept from before."""

from __future__ import annotations

from dataclasses import replace
from itertools import takewhile

from kiosk.interlock.snapshot import Snapshot, ZoneShown
from kiosk.job.plan import Finding, Plan, Seat, SeatState
from kiosk.screen.show import numbers
from kiosk.screen.show.cupmap import cup_map, seat_number, zone_kind, zone_title, zones_title
from kiosk.screen.show.frame import command
from kiosk.screen.show.shown import Button, Desk, Row, SetupShown
from kiosk.words import Words

STAYS = 2  # reasons why seats stay down
WARNINGS = 2  # on the screen at once
_NAME, _HEAD = 24, 10  # characters of a program's name, and of its beginning when it is longer


def mode(snapshot: Snapshot) -> str:
    """zones, part or kept: what is asked for now."""
    if snapshot.map_kept:
        return "kept"
    return "part" if current_zone(snapshot) is None else "zones"


def current_zone(snapshot: Snapshot) -> ZoneShown | None:
    """The first zone that is not confirmed."""
    return next((zone for zone in snapshot.zones if not zone.confirmed), None)


def current_zones(snapshot: Snapshot, plan: Plan | None) -> tuple[ZoneShown, ...]:
    """What is confirmed by one press: the current zone, or with it the flat ones next to it.

    Flat is a zone in which nothing is up.  Each is a command and a row of the log of its own.
    Without a map there is nothing to look along, so each is asked for by itself.
    """
    zone = current_zone(snapshot)
    if zone is None or zone.up or plan is None:
        return () if zone is None else (zone,)
    kind = zone_kind(plan, zone.name)
    later = snapshot.zones[snapshot.zones.index(zone) :]
    return tuple(
        takewhile(lambda z: not (z.up or z.confirmed) and zone_kind(plan, z.name) == kind, later)
    )


def body(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> SetupShown:
    """The map and what stands beside it."""
    return {"zones": _zones, "part": _part, "kept": _kept}[mode(snapshot)](
        words, snapshot, plan, desk
    )


def _zones(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> SetupShown:
    zones = current_zones(snapshot, plan)
    names = tuple(zone.name for zone in zones)
    return SetupShown(
        mode="zones",
        map=cup_map(words, plan, snapshot, current=names),
        title=zones_title(words, plan, names),
        up_label=words.say("setup.up"),
        up=up_words(words, zones[0]),
        down_label=words.say("setup.down"),
        down=down_words(words, zones[0]),
        stays=_stays(words, plan, names),
        next=_next(words, snapshot, plan),
        count=_count(words, snapshot),
        count_words=words.say("setup.count_words"),
    )


def _part(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> SetupShown:
    asked = (
        words.say("setup.part_pins" if _has_pins(plan) else "setup.part_map"),
        _program(words, plan),
        _tools(words, plan),
    )
    rows = tuple(Row(each, "ask") for each in asked)
    warnings, shown = _warnings(words, snapshot, plan, desk), cup_map(words, plan, snapshot)
    return SetupShown(
        mode="part",
        map=replace(shown, labels=()) if warnings else shown,  # no room for names beside them
        title=words.say("setup.part"),
        rows=rows,
        warnings=warnings,
        count=_count(words, snapshot),
        count_words=words.say("setup.count_words"),
    )


def _has_pins(plan: Plan | None) -> bool:
    """The part lies on pins; without, the map alone tells its place."""
    return plan is not None and bool(plan.pins)


def _kept(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> SetupShown:
    return SetupShown(
        mode="kept",
        map=cup_map(words, plan, snapshot),
        title=words.say("setup.kept"),
        words=words.say("setup.kept_words"),
        stays=_stays(words, plan, ()),
        count=_count(words, snapshot),
        count_words=words.say("setup.count_words"),
    )


def _count(words: Words, snapshot: Snapshot) -> str:
    return words.say("setup.count", up=snapshot.seats_up, total=snapshot.seats_to_turn_up)


def up_words(words: Words, zone: ZoneShown) -> str:
    """Which seats of a zone go up."""
    said = numbers.spoken(words, [seat_number(name) for name in zone.up])
    return said or words.say("setup.up_none")


def down_words(words: Words, zone: ZoneShown) -> str:
    """Which seats of a zone stay down."""
    if not zone.up:
        return words.say("setup.all_down")
    said = numbers.spoken(words, [seat_number(name) for name in zone.down])
    return said or words.say("setup.up_none")


def _next(words: Words, snapshot: Snapshot, plan: Plan | None) -> str:
    now = current_zones(snapshot, plan)
    later = [zone for zone in snapshot.zones if not zone.confirmed and zone not in now]
    if not later:
        return words.say("setup.next_part")
    return words.say("setup.next", zone=zone_title(words, plan, later[0].name))


def _stays(words: Words, plan: Plan | None, zones: tuple[str, ...]) -> tuple[str, ...]:
    """Why hatched seats stay down: those of the zones, else of the whole map."""
    if plan is None:
        return ()
    blocked: dict[str, list[Seat]] = {}
    for seat in plan.seats:
        if seat.state is SeatState.BLOCKED and (not zones or seat.zone in zones):
            blocked.setdefault(_reason(seat), []).append(seat)
    rows = sorted(blocked.items(), key=lambda row: -len(row[1]))
    return tuple(_stay(words, why, seats, len(zones) == 1) for why, seats in rows[:STAYS])


def _reason(seat: Seat) -> str:
    """Why it is blocked, without the line that differs from seat to seat."""
    return seat.why.split(", line")[0]


def _stay(words: Words, why: str, seats: list[Seat], one_zone: bool) -> str:
    """One seat with its full reason, several with what they share."""
    if len(seats) == 1:
        return words.say("setup.stays_one", seats=seats[0].name, why=seats[0].why)
    names = [seat_number(seat.name) if one_zone else seat.name for seat in seats]
    return words.say("setup.stays", seats=numbers.spoken(words, names), why=why)


def _program(words: Words, plan: Plan | None) -> str:
    """Cups stand clear of this program alone.  Of a long name both ends are said."""
    if plan is None or plan.program is None:
        return words.say("setup.part_zero")
    file = plan.program.file
    short = file if len(file) <= _NAME else f"{file[:_HEAD]}…{file[_HEAD + 1 - _NAME :]}"
    return words.say("setup.part_program", file=short)


def _tools(words: Words, plan: Plan | None) -> str:
    if plan is None or not plan.tools:
        return words.say("setup.part_tools_none")
    said = [
        words.say(
            "setup.tool",
            number=tool.number,
            kind=words.say(f"tool.{tool.kind}"),
            diameter=numbers.plain(tool.diameter_mm),
        )
        for tool in plan.tools
    ]
    return words.say("setup.part_tools", tools=", ".join(numbers.tied(tool) for tool in said))


def _warnings(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> tuple[Row, ...]:
    """Those not read yet first, so that reading one brings the next.

    Two leave no room for the map; once all are read, one place for them gives it back.
    """
    if len(snapshot.warnings) > 1 and set(snapshot.warnings) <= desk.ticked:
        said = words.say("setup.part_were_read", count=len(snapshot.warnings))
        again = Button(said, opens="untick:")
        return (Row(said, "yes", button=again),)
    codes = sorted(snapshot.warnings, key=lambda code: code in desk.ticked)
    first = codes[:WARNINGS] if codes[WARNINGS:] else list(snapshot.warnings)
    return tuple(_warning(words, plan, code, desk) for code in first)


def _warning(words: Words, plan: Plan | None, code: str, desk: Desk) -> Row:
    ticked = code in desk.ticked
    button = Button(words=_finding(words, plan, code), opens=f"tick:{code}")
    return Row(button.words, "yes" if ticked else "warn", button=button)


def _finding(words: Words, plan: Plan | None, code: str) -> str:
    found = [] if plan is None else [f for f in plan.findings if f.code == code]
    return " ".join(finding.text for finding in found) or code.replace("_", " ")


def notes(plan: Plan | None) -> tuple[Finding, ...]:
    """Findings that need no act."""
    return () if plan is None else tuple(f for f in plan.findings if f.severity == "note")


def buttons(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> tuple[Button, ...]:
    """Undo, and the one button that names what it confirms."""
    main = {"zones": _zone_button, "part": _part_button, "kept": _kept_button}[mode(snapshot)]
    undo = _undo(words, snapshot, plan)
    button = main(words, snapshot, plan, desk)
    return (button,) if undo is None else (undo, button)


def _undo(words: Words, snapshot: Snapshot, plan: Plan | None) -> Button | None:
    """Undo of the zone before the one being set."""
    if mode(snapshot) == "kept":
        return None
    current = current_zone(snapshot)
    names = [zone.name for zone in snapshot.zones]
    end = len(names) if current is None else names.index(current.name)
    before = [zone for zone in snapshot.zones[:end] if zone.confirmed]
    if not before:
        return None
    name = before[-1].name
    title = zone_title(words, plan, name)
    return command(words, snapshot, "undo_zone", words.say("setup.undo", zone=title), zone=name)


def _zone_button(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Button:
    zones = current_zones(snapshot, plan)
    zone, names = zones[0], tuple(zone.name for zone in zones)
    title = zones_title(words, plan, names)
    detail = words.say(
        "setup.confirm_detail", up=up_words(words, zone), down=down_words(words, zone)
    )
    one = len(zones) == 1
    flat = "setup.confirm_flat" if one else "setup.confirm_flat_many"
    said = words.say("setup.confirm" if zone.up else flat, zone=title)
    button = command(
        words, snapshot, "confirm_zone", said, detail, hold=True, weight="main",
        zone=zone.name if one else names,
    )  # fmt: skip
    return button if one else replace(button, each="zone")


def _part_button(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Button:
    read = set(snapshot.warnings) <= desk.ticked
    said = words.say("setup.part_confirm" if read else "setup.part_read")
    lies = "setup.part_confirm_pins" if _has_pins(plan) else "setup.part_confirm_map"
    known = plan is not None and plan.program is not None
    asked = words.say("setup.part_asked_program" if known else "setup.part_asked")
    detail = words.say(lies, asked=asked) if read else ""
    button = command(
        words, snapshot, "confirm_part", said, detail, hold=True, weight="main",
        warnings=tuple(snapshot.warnings),
    )  # fmt: skip
    return (
        button if read else Button(words=said, enabled=False, hold_s=button.hold_s, weight="main")
    )


def _kept_button(words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk) -> Button:
    detail = words.say("setup.kept_confirm_detail", up=snapshot.seats_to_turn_up)
    said = words.say("setup.kept_confirm")
    return command(words, snapshot, "confirm_map", said, detail, hold=True, weight="main")
