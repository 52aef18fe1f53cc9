"""Overlays: the alarm list, all conditions of the permit, job and words."""

from __future__ import annotations

from kiosk.interlock.snapshot import AlarmShown, Snapshot
from kiosk.job.plan import Plan, SeatState
from kiosk.screen.show import hold, numbers, setup, stop
from kiosk.screen.show.frame import HOLD_S, command
from kiosk.screen.show.shown import AlarmRow, Button, Desk, Overlay
from kiosk.words import Words

ALARM_PAGE = 2  # alarms on one page, each with its own place to touch


def overlay(
    words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk, caution: str
) -> Overlay | None:
    """The open sheet, if any."""
    if desk.overlay == "alarms":
        return _alarms(words, snapshot, desk)
    if desk.overlay == "permissives":
        rows = hold.rows(words, snapshot)
        return Overlay("permissives", words.say("hold.list_title"), rows=rows, back=back(words))
    if desk.overlay == "details":
        return _details(words, snapshot, plan, desk, caution)
    if desk.overlay == "causes":
        sheet = stop.causes(words, snapshot, desk)
        return Overlay(
            sheet.kind, sheet.title, rows=sheet.rows, buttons=sheet.buttons, back=back(words)
        )
    return None


def words_only(words: Words, caution: str) -> Overlay:
    """The full caution and what the panel is not, when nothing else is known."""
    lines = tuple(_word_lines(words, caution))
    return Overlay("details", words.say("details.title"), lines=lines, back=back(words))


def back(words: Words) -> Button:
    """Close the sheet."""
    return Button(words.say("place.back"), opens="back")


def _alarms(words: Words, snapshot: Snapshot, desk: Desk) -> Overlay:
    ordered = sorted(snapshot.alarms, key=lambda a: (a.acknowledged, a.priority, a.since_s))
    pages = max(1, -(-len(ordered) // ALARM_PAGE))
    page = desk.page % pages
    shown = ordered[page * ALARM_PAGE : (page + 1) * ALARM_PAGE]
    return Overlay(
        kind="alarms",
        title=words.say("alarms.title"),
        alarms=tuple(_alarm(words, alarm) for alarm in shown),
        buttons=_alarm_buttons(words, snapshot, page, pages),
        empty="" if ordered else f"{words.say('alarms.none')}. {words.say('alarms.none_detail')}",
        back=back(words),
    )


def _alarm_buttons(words: Words, snapshot: Snapshot, page: int, pages: int) -> tuple[Button, ...]:
    buttons: list[Button] = []
    if pages > 1:
        said = words.say("alarms.page", page=page + 1, pages=pages)
        buttons.append(Button(words.say("alarms.more"), said, opens="page"))
    if len([alarm for alarm in snapshot.alarms if not alarm.acknowledged]) > 1:
        said = words.say("alarms.seen_all")
        buttons.append(command(words, snapshot, "acknowledge", said, hold=True, alarm=None))
    return tuple(buttons)


def _alarm(words: Words, alarm: AlarmShown) -> AlarmRow:
    button = Button(
        words.say("stop.seen"),
        command="acknowledge",
        arguments=(("alarm", alarm.code),),
        hold_s=HOLD_S if alarm.priority == 1 else 0.0,
    )
    return AlarmRow(
        code=alarm.code,
        priority=alarm.priority,
        title=words.say(f"alarm.{alarm.code}.title"),
        text=words.say(f"alarm.{alarm.code}.do"),
        facts=" · ".join(part for part in _facts(words, alarm) if part),
        button=None if alarm.acknowledged else button,
    )


def _facts(words: Words, alarm: AlarmShown) -> list[str]:
    state = "active" if alarm.active else "gone"
    if not alarm.active and alarm.acknowledged:
        state = "latched" if alarm.latched else "seen"
    facts = [alarm.code, words.say(f"alarm_state.{state}")]
    if alarm.latched and state != "latched":
        facts.append(words.say("alarm_state.latched"))
    if alarm.first:
        facts.append(words.say("alarm_state.first"))
    facts.append(words.say("alarms.ago", seconds=numbers.duration(words, alarm.since_s)))
    facts.append(numbers.judged(words, "alarms.value", alarm.value, alarm.limit, alarm.unit))
    return facts


def _details(
    words: Words, snapshot: Snapshot, plan: Plan | None, desk: Desk, caution: str
) -> Overlay:
    """Two pages: the full caution and what the panel is not come first, then the job."""
    job = desk.page % 2 == 1
    lines = _job_lines(words, snapshot, plan) if job else _word_lines(words, caution)
    return Overlay(
        kind="details",
        title=words.say("details.job_title" if job else "details.title"),
        lines=tuple(lines),
        buttons=_job_buttons(words, snapshot, job),
        back=back(words),
    )


def _job_buttons(words: Words, snapshot: Snapshot, job: bool) -> tuple[Button, ...]:
    other = words.say("details.title" if job else "details.job_title")
    buttons = [Button(other, opens="page")]
    if "cancel_job" in snapshot.allowed:
        said, detail = words.say("details.leave"), words.say("details.leave_detail")
        buttons.append(command(words, snapshot, "cancel_job", said, detail, hold=True))
    return tuple(buttons)


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
        hold.why(words, plan),
    ]
    facts.extend(_more_facts(words, plan))
    notes = " ".join(finding.text for finding in setup.notes(plan))
    lines = [(title, ". ".join(fact for fact in facts if fact) + ".")]
    return [*lines, (words.say("details.notes"), notes)] if notes else lines


def _more_facts(words: Words, plan: Plan) -> list[str]:
    """Cups, program and tools."""
    up = [seat.name for seat in plan.seats if seat.state is SeatState.UP]
    facts = [words.say("details.cups", count=len(up), names=" ".join(up))]
    if plan.program is not None:
        facts.append(
            words.say(
                "details.program",
                moves=plan.program.moves,
                minutes=max(1, round(plan.program.seconds / 60.0)),
                tools=", ".join(str(number) for number in plan.program.tools),
            )
        )
    return facts


def _word_lines(words: Words, caution: str) -> list[tuple[str, str]]:
    signal = words.say(f"caution.{caution}.signal")
    return [
        (f"{words.say('details.caution')}: {signal}", words.say(f"caution.{caution}.text")),
        (words.say("aid.title"), f"{words.say('aid.text')} {words.say('aid.entries')}"),
    ]
