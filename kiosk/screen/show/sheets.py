"""Overlays: the alarm list, all conditions of the permit, job and words."""

from __future__ import annotations

from collections.abc import Callable

from kiosk.interlock.snapshot import AlarmShown, ShelvedShown, Snapshot
from kiosk.job.plan import Governed, Input, Plan, SeatState, weakest
from kiosk.screen.show import cautions, cycles, hold, numbers, people, ready, setup, stop, waive
from kiosk.screen.show.frame import command
from kiosk.screen.show.shown import AlarmRow, Button, Desk, Overlay, Row
from kiosk.words import Words

MOST_LOADS = 10
BYPASS_ALARM = "A14"
ALARM_PAGE = 2  # alarms on one page, each with its own place to touch


def overlay(
    words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk, caution: str
) -> Overlay | None:
    """The open sheet, if any."""
    if desk.overlay == "alarms":
        return _alarms(words, snapshot, desk)
    if desk.overlay == "permissives":
        return Overlay(
            "permissives",
            words.say("hold.list_title"),
            rows=hold.rows(words, snapshot),
            buttons=waive.checks_button(words, snapshot),
            back=back(words),
        )
    if desk.overlay == "details":
        return _details(words, snapshot, plan, desk, caution)
    if desk.overlay == "causes":
        sheet = stop.causes(words, snapshot, desk)
        return Overlay(
            sheet.kind, sheet.title, rows=sheet.rows, buttons=sheet.buttons, back=back(words)
        )
    return _more(words, snapshot, desk)


def _more(words: Words, snapshot: Snapshot, desk: Desk) -> Overlay | None:
    """Sheets to sign on, those only for whom may, unusable files, and past cycles."""
    close = back(words)
    sheets: dict[str, Callable[[], Overlay]] = {
        "people": lambda: people.listed(words, snapshot, desk, close),
        "keypad": lambda: people.keypad(words, desk, close),
        "bypass": lambda: waive.checks(words, snapshot, close),
        "bypass_reason": lambda: waive.bypass_reason(words, snapshot, desk, close),
        "shelve_reason": lambda: waive.shelve_reason(words, snapshot, desk, close),
        "cautions": lambda: cautions.sheet(words, snapshot, desk, close),
        "unusable": lambda: ready.unusable(words, snapshot, desk, close),
        "cycles": lambda: cycles.listed(words, desk, close),
        "cycle": lambda: cycles.opened(words, desk),
    }
    return sheets[desk.overlay]() if desk.overlay in sheets else None


def words_only(words: Words, caution: str) -> Overlay:
    """The full caution and what the panel is not, when nothing else is known."""
    lines = tuple(_word_lines(words, caution))
    return Overlay("details", words.say("details.title"), lines=lines, back=back(words))


def back(words: Words) -> Button:
    """Close the sheet."""
    return Button(words.say("place.back"), opens="back")


def _alarms(words: Words, snapshot: Snapshot, desk: Desk) -> Overlay:
    ordered = sorted(snapshot.alarms, key=lambda a: (a.acknowledged, a.priority, a.since_s))
    rows = [_alarm(words, snapshot, alarm) for alarm in ordered]
    rows += [_shelved(words, snapshot, alarm) for alarm in snapshot.shelved]
    pages = max(1, -(-len(rows) // ALARM_PAGE))
    page = desk.page % pages
    return Overlay(
        kind="alarms",
        title=words.say("alarms.title"),
        alarms=tuple(rows[page * ALARM_PAGE : (page + 1) * ALARM_PAGE]),
        buttons=_alarm_buttons(words, snapshot, page, pages),
        empty="" if rows else f"{words.say('alarms.none')}. {words.say('alarms.none_detail')}",
        back=back(words),
    )


def _alarm_buttons(words: Words, snapshot: Snapshot, page: int, pages: int) -> tuple[Button, ...]:
    buttons: list[Button] = []
    if pages > 1:
        said = words.say("alarms.page", page=page + 1, pages=pages)
        buttons.append(Button(words.say("alarms.more"), said, opens="page"))
    if len(stop.unseen(snapshot)) > 1:
        buttons.append(stop.see_all(words, snapshot, "alarms.seen_all"))
    return tuple(buttons)


def _alarm(words: Words, snapshot: Snapshot, alarm: AlarmShown) -> AlarmRow:
    seen = stop.seen_button(words, snapshot, [alarm], "stop.seen", hold=alarm.priority == 1)
    return AlarmRow(
        code=alarm.code,
        priority=alarm.priority,
        title=words.say(f"alarm.{alarm.code}.title"),
        text=words.say(f"alarm.{alarm.code}.do"),
        facts=" · ".join(part for part in _facts(words, snapshot, alarm) if part),
        button=seen if not alarm.acknowledged else _shelve(words, snapshot, alarm),
        seen=alarm.acknowledged,
    )


def _shelve(words: Words, snapshot: Snapshot, alarm: AlarmShown) -> Button | None:
    return waive.shelve_button(words, alarm) if waive.may_shelve(snapshot, alarm) else None


def _shelved(words: Words, snapshot: Snapshot, alarm: ShelvedShown) -> AlarmRow:
    """An alarm that was taken off the list: why, for how long, and a place to call it back."""
    minutes = max(1, -(-int(alarm.left_s) // 60))
    facts = (
        alarm.code,
        words.say("alarm_state.shelved", minutes=minutes),
        words.say(f"shelve_reason.{alarm.reason}"),
        words.say("alarm_state.active") if alarm.active else "",
    )
    said = words.say("waive.unshelve")
    return AlarmRow(
        code=alarm.code,
        priority=alarm.priority,
        title=words.say(f"alarm.{alarm.code}.title"),
        text=words.say(f"alarm.{alarm.code}.do"),
        facts=" · ".join(fact for fact in facts if fact),
        button=command(words, snapshot, "unshelve", said, alarm=alarm.code),
        seen=True,
        shelved=True,
    )


def _life(alarm: AlarmShown) -> str:
    """What became of it; the end of the cut does not read as a hold that came back."""
    if alarm.active:
        return "active"
    if alarm.cut_over:
        return "cut_over"
    if alarm.acknowledged:
        return "latched" if alarm.latched else "seen"
    return "gone"


def _facts(words: Words, snapshot: Snapshot, alarm: AlarmShown) -> list[str]:
    state = _life(alarm)
    facts = [alarm.code, words.say(f"alarm_state.{state}")]
    if alarm.latched and state != "latched":
        facts.append(words.say("alarm_state.latched"))
    if alarm.first:
        facts.append(words.say("alarm_state.first"))
    facts.append(words.say("alarms.ago", seconds=numbers.duration(words, alarm.since_s)))
    named = NAMED[alarm.code](words, snapshot, alarm) if alarm.code in NAMED else ""
    judged = numbers.judged(words, "alarms.value", alarm.value, alarm.limit, alarm.unit)
    facts.append(named or judged)
    return facts + (waive.bypassed_by(words, snapshot) if alarm.code == BYPASS_ALARM else [])


def _calibration(words: Words, snapshot: Snapshot, _: AlarmShown) -> str:
    """Which gauge is due and when, in place of days and their limit."""
    due = snapshot.details.get("calibration")
    if not isinstance(due, dict):
        return ""
    return words.say("alarms.calibration", gauge=due.get("gauge"), due=due.get("due"))


def _leak(words: Words, snapshot: Snapshot, alarm: AlarmShown) -> str:
    """Which row it is about and how many times what it did that leaks, now or when it came."""
    leak, ratio = snapshot.details.get("leak"), alarm.value
    if isinstance(leak, dict) and leak.get("zone") == alarm.about:
        ratio = leak.get("ratio")
    if alarm.about is None or not isinstance(ratio, int | float):
        return ""
    return words.say("alarms.leak", zone=alarm.about, ratio=f"{ratio:.2f}")


NAMED = {"A15": _leak, "A19": _calibration}  # alarms that name what they are about


PAGES = ("details.title", "details.job_title", "details.table_title")


def _details(
    words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk, caution: str
) -> Overlay:
    """Three pages: the full caution and what the panel is not come first; the job; its minimum."""
    page = desk.page % (len(PAGES) if plan is not None and plan.governed_by else len(PAGES) - 1)
    return Overlay(
        kind="table" if page == 2 else "details",
        title=words.say(PAGES[page]),
        lines=_page_lines(words, snapshot, plan, page, caution),
        rows=_table(words, plan) if page == 2 else (),
        buttons=_page_buttons(words, snapshot, plan, page),
        back=back(words),
    )


def _page_lines(
    words: Words, snapshot: Snapshot, plan: Plan | None, page: int, caution: str
) -> tuple[tuple[str, str], ...]:
    if page == 0:
        return tuple(_word_lines(words, caution))
    return tuple(_job_lines(words, snapshot, plan)) if page == 1 else ()


def _page_buttons(
    words: Words, snapshot: Snapshot, plan: Plan | None, page: int
) -> tuple[Button, ...]:
    """The other pages, leaving the job, on the first page signing on, or all cautions."""
    last = len(PAGES) if plan is not None and plan.governed_by else len(PAGES) - 1
    buttons = [Button(words.say(PAGES[at]), opens=f"page:{at}") for at in range(last) if at != page]
    if page == 0:
        signs = people.set_up(snapshot)
        more = people.details_button if signs else cautions.button
        return (*buttons, more(words, snapshot))
    some_job = snapshot.job_id is not None or snapshot.planning is not None
    if some_job and "cancel_job" in snapshot.allowed:
        said, detail = words.say("details.leave"), words.say("details.leave_detail")
        buttons.append(command(words, snapshot, "cancel_job", said, detail, hold=True))
    return tuple(buttons)


def _table(words: Words, plan: Plan | None) -> tuple[Row, ...]:
    """What sets the minimum and what comes next after it, with what each needs."""
    if plan is None or plan.governed_by is None:
        return ()
    loads = (plan.governed_by, *plan.runners_up)[:MOST_LOADS]
    return tuple(
        Row(_load(words, load), str(at), numbers.level(words, load.minimum_kpa))
        for at, load in enumerate(loads, 1)
    )


def _load(words: Words, load: Governed) -> str:
    names = {"slip": "details.load_slip", "lift": "details.load_lift"}
    name = names.get(load.mode, "details.load_floor")
    return words.say(name, where=hold.where(words, load))


def _job_lines(words: Words, snapshot: Snapshot, plan: Plan | None) -> list[tuple[str, str]]:
    if plan is None:
        return [(words.say("details.none"), "")]
    title = words.say("details.job", id=plan.job_id, title=plan.title)
    facts = [
        words.say(
            "details.material",
            material=plan.material,
            thickness=numbers.plain(plan.thickness_mm),
            surface=plan.surface,
        ),
        words.say(
            "details.minimum",
            minimum=numbers.level(words, plan.minimum_kpa),
            required=numbers.level(words, plan.required_kpa),
            start=numbers.level(words, plan.start_kpa),
        ),
        hold.why(words, plan, at_map=False),
    ]
    facts.append(_weakest(words, weakest(plan.inputs)))
    facts.extend(_more_facts(words, plan))
    notes = " ".join(finding.text for finding in setup.notes(plan))
    lines = [(title, ". ".join(fact for fact in facts if fact) + ".")]
    return [*lines, (words.say("details.notes"), notes)] if notes else lines


def _weakest(words: Words, number: Input | None) -> str:
    """The least sure of the numbers that the minimum goes with."""
    if number is None:
        return ""
    value = numbers.tied(f"{numbers.plain(number.value)} {number.unit}".strip())
    grade = words.say(f"grade.{number.grade}")
    return words.say("details.weakest", name=number.name, value=value, grade=grade)


def _more_facts(words: Words, plan: Plan) -> list[str]:
    """Cups, program and tools."""
    up = [seat.name for seat in plan.seats if seat.state is SeatState.UP]
    facts = [words.say("details.cups", count=len(up), names=" ".join(up))]
    if plan.program is not None:
        tools = plan.program.tools
        name = "details.tool" if len(tools) == 1 else "details.tools"
        facts.append(
            words.say(
                "details.program",
                moves=plan.program.moves,
                minutes=max(1, round(plan.program.seconds / 60.0)),
                tools=words.say(name, numbers=", ".join(str(number) for number in tools)),
            )
        )
    return facts


def _word_lines(words: Words, caution: str) -> list[tuple[str, str]]:
    signal = words.say(f"caution.{caution}.signal")
    return [
        (f"{words.say('details.caution')}: {signal}", words.say(f"caution.{caution}.text")),
        cautions.panel(words),
    ]
