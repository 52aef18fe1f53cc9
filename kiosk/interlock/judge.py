"""The commands: in which states, on which conditions, and what each does.

``refusal`` judges what is known; the snapshot's list of allowed commands comes from the same
rows, so that a screen never offers what would be refused.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kiosk.interlock import alarms, cautions, cycle, forbids, waivers
from kiosk.interlock.commands import COMMENT_CAP, RESET_CAUSES, Command, Name, Reply
from kiosk.interlock.decision import Note, PlanRequest
from kiosk.interlock.events import Event
from kiosk.interlock.facts import JobOffer
from kiosk.interlock.memory import Planning
from kiosk.interlock.moves import happen, take_plan
from kiosk.interlock.states import State
from kiosk.interlock.turn import IN_CUT, Turn

ANY = frozenset(State)
LEAVES_JOB = frozenset({State.SELECT_JOB, State.SET_UP, State.CHECKING, State.READY})


@dataclass(frozen=True, slots=True)
class CommandRow:
    """One command.  ``forbids`` and ``act`` give the code of a refusal, or None."""

    name: Name
    states: frozenset[State]
    forbids: Callable[[Turn], str | None]
    act: Callable[[Turn, Command], str | None]
    names_plan: bool = False  # the command must carry the digest of the plan it means


# -- what is done ------------------------------------------------------------------------------


def _offer(turn: Turn, asked: str) -> JobOffer | None:
    """The offer of that file, else the only one of that id; None when there is none."""
    good = [offer for offer in turn.facts.jobs if offer.error is None]
    by_file = [offer for offer in good if offer.file == asked]
    found = by_file or [offer for offer in good if offer.id == asked]
    return found[0] if len(found) == 1 else None


def _do_select(turn: Turn, command: Command) -> str | None:
    asked = command.arguments.get("job")
    if not isinstance(asked, str):
        return "bad_arguments"
    offer = _offer(turn, asked)
    if offer is None:
        return "unknown_job"
    if turn.state is not State.SELECT_JOB:
        happen(turn, Event.CANCELLED)
    turn.drop_planner = turn.memory.planning is not None
    turn.put(planning=Planning(command.id, offer.file, turn.now_s), refusal=None)
    turn.plan_request = PlanRequest(command.id, offer.file)
    return None


def _do_cancel(turn: Turn, _: Command) -> str | None:
    if turn.memory.planning is not None:
        turn.drop_planner, turn.plan_request = True, None
    turn.put(planning=None, refusal=None)
    happen(turn, Event.CANCELLED)
    return None


def _zone(turn: Turn, command: Command) -> str | None:
    """The named zone if the plan has it."""
    plan, asked = turn.memory.plan, command.arguments.get("zone")
    names = () if plan is None else tuple(zone.name for zone in plan.zones)
    return asked if isinstance(asked, str) and asked in names else None


def _do_confirm_zone(turn: Turn, command: Command) -> str | None:
    name = _zone(turn, command)
    if name is None:
        return "unknown_zone"
    if name in turn.memory.zones:
        return "zone_already"
    _confirm(turn, "zone", frozenset({name}))
    return None


def _confirm(turn: Turn, what: str, names: frozenset[str]) -> None:
    plan = turn.memory.plan
    zones = [] if plan is None else [zone for zone in plan.zones if zone.name in names]
    turn.put(zones=turn.memory.zones | names, kept_zones=turn.memory.kept_zones - names)
    turn.note(
        "confirm",
        what=what,
        zone=zones[0].name if what == "zone" else None,
        up=[seat for zone in zones for seat in zone.up],
        down=[seat for zone in zones for seat in zone.down],
        warnings=[],
    )
    happen(turn, Event.ZONE_CONFIRMED)


def _do_undo(turn: Turn, command: Command) -> str | None:
    name = _zone(turn, command)
    if name is None or name not in turn.memory.zones:
        return "unknown_zone"
    turn.put(zones=turn.memory.zones - {name}, part_confirmed=False)
    happen(turn, Event.ZONE_UNDONE)
    return None


def _do_confirm_part(turn: Turn, command: Command) -> str | None:
    listed, plan = command.arguments.get("warnings", ()), turn.memory.plan
    if not isinstance(listed, list | tuple) or plan is None:
        return "bad_arguments"
    if not all(isinstance(code, str) for code in listed):
        return "bad_arguments"
    if not set(plan.warnings) <= set(listed):
        return "warnings_not_listed"
    turn.put(part_confirmed=True, rose=False)
    cycle.open_cycle(turn)
    turn.note("confirm", what="part", zone=None, up=[], down=[], warnings=sorted(set(listed)))
    happen(turn, Event.PART_CONFIRMED)
    return None


def _do_confirm_map(turn: Turn, _: Command) -> str | None:
    _confirm(turn, "map", turn.memory.kept_zones)
    return None


def _do_retake(turn: Turn, _: Command) -> str | None:
    kept = turn.memory.kept
    if kept is None:
        return "not_now"
    take_plan(turn, kept.plan)
    happen(turn, Event.PLAN_RETAKEN)
    return None


def _do_request(turn: Turn, _: Command) -> str | None:
    return None if happen(turn, Event.REQUESTED) else "hold_not_proved"


def _happens(event: Event) -> Callable[[Turn, Command], str | None]:
    def act(turn: Turn, _: Command) -> str | None:
        happen(turn, event)
        return None

    return act


def _lacks_word(turn: Turn, command: Command) -> bool:
    """Where no contacts are, a person must say that the spindle stands still."""
    return turn.site.advice_only and command.arguments.get("standstill") is not True


def _do_finish(turn: Turn, command: Command) -> str | None:
    if _lacks_word(turn, command):
        return "standstill_unknown"
    happen(turn, Event.FINISHED)
    turn.put(word_standstill=turn.site.advice_only)
    return None


def _several(command: Command, name: str) -> Sequence[object] | None:
    """An argument that is one text or a list; None when it is neither."""
    value = command.arguments.get(name)
    if isinstance(value, str):
        return [value]
    return value if isinstance(value, list | tuple) else None


def _do_acknowledge(turn: Turn, command: Command) -> str | None:
    codes, comment = _several(command, "alarm"), command.arguments.get("comment")
    if codes is None or not isinstance(comment, str | None):
        return "bad_arguments"
    if comment is not None and len(comment) > COMMENT_CAP:
        return "bad_arguments"
    timed = "came" in command.arguments
    came = _several(command, "came") if timed else [None] * len(codes)
    if came is None or len(came) != len(codes):
        return "bad_arguments"
    shown = [(code, came[at]) for at, code in enumerate(codes)]
    if not alarms.acknowledge(turn, shown, comment):
        return "nothing_to_acknowledge"
    happen(turn, Event.ACKNOWLEDGED)
    return None


def _do_reset(turn: Turn, command: Command) -> str | None:
    cause = command.arguments.get("cause")
    if cause is None:
        return "cause_missing"
    if cause not in RESET_CAUSES:
        return "bad_arguments"
    if _lacks_word(turn, command):
        return "standstill_unknown"
    alarms.reset(turn)
    happen(turn, Event.RESET)
    turn.put(word_standstill=turn.site.advice_only)
    return None


def _nothing(turn: Turn, command: Command) -> str | None:
    return None


_S = State
ROWS = (
    CommandRow(Name.SELECT_JOB, LEAVES_JOB, forbids.select, _do_select),
    CommandRow(Name.CANCEL_JOB, LEAVES_JOB, forbids.select, _do_cancel, names_plan=True),
    CommandRow(Name.CONFIRM_ZONE, frozenset({_S.SET_UP}), forbids.never, _do_confirm_zone,
               names_plan=True),
    CommandRow(Name.UNDO_ZONE, frozenset({_S.SET_UP, _S.CHECKING, _S.READY, _S.PERMIT}),
               forbids.some_zone, _do_undo, names_plan=True),
    CommandRow(Name.CONFIRM_PART, frozenset({_S.SET_UP}), forbids.part, _do_confirm_part,
               names_plan=True),
    CommandRow(Name.CONFIRM_MAP, frozenset({_S.SET_UP}), forbids.whole_map, _do_confirm_map,
               names_plan=True),
    CommandRow(Name.CONFIRM_CAUTIONS, ANY, cautions.forbids, cautions.confirm),
    CommandRow(Name.RETAKE_PLAN, frozenset({_S.PART_HELD}), forbids.retake, _do_retake),
    CommandRow(Name.REQUEST_PERMIT, frozenset({_S.READY}), forbids.request, _do_request,
               names_plan=True),
    CommandRow(Name.WITHDRAW, frozenset({_S.PERMIT, _S.PAUSED}), forbids.never,
               _happens(Event.WITHDRAWN)),
    CommandRow(Name.FINISH, frozenset({_S.PAUSED, _S.CHECKING, _S.READY, _S.PART_HELD}),
               forbids.no_motion, _do_finish),
    CommandRow(Name.NEXT_PART, frozenset({_S.RELEASE}), forbids.next_part,
               _happens(Event.NEXT_PART), names_plan=True),
    CommandRow(Name.JOB_DONE, frozenset({_S.RELEASE}), forbids.vented, _happens(Event.JOB_DONE)),
    CommandRow(Name.ACKNOWLEDGE, ANY, forbids.some_alarm, _do_acknowledge),
    CommandRow(Name.RESET, ANY, forbids.reset, _do_reset),
    CommandRow(Name.BYPASS, LEAVES_JOB, waivers.forbids_bypass, waivers.bypass),
    CommandRow(Name.END_BYPASS, ANY, waivers.forbids_end_bypass, waivers.end_bypass),
    CommandRow(Name.SHELVE, ANY, waivers.forbids_shelve, waivers.shelve),
    CommandRow(Name.UNSHELVE, ANY, waivers.forbids_unshelve, waivers.unshelve),
    CommandRow(Name.BEGIN_SERVICE, ANY - IN_CUT - {_S.STARTING}, waivers.forbids_begin_service,
               waivers.set_service(on=True)),
    CommandRow(Name.END_SERVICE, ANY, waivers.forbids_end_service, waivers.set_service(on=False)),
    CommandRow(Name.SIGN_ON, ANY, forbids.no_people, _nothing),
    CommandRow(Name.SIGN_OFF, ANY, forbids.sign_off, _nothing),
    CommandRow(Name.UNLOCK_PERSON, ANY, forbids.unlock_person, _nothing),
    CommandRow(Name.GET_PEOPLE, ANY, forbids.no_people, _nothing),
    CommandRow(Name.GET_PLAN, ANY, forbids.never, _nothing),
)  # fmt: skip
BY_NAME = {row.name: row for row in ROWS}

# Said instead of not_now where a person would ask why.
_INSTEAD = {
    (Name.REQUEST_PERMIT, State.SET_UP): "part_not_confirmed",
    (Name.REQUEST_PERMIT, State.CHECKING): "hold_not_proved",
}


def refusal(turn: Turn, name: Name) -> str | None:
    """The code of what forbids a command now, whatever its arguments; None when nothing does."""
    row = BY_NAME[name]
    if turn.state in row.states:
        return row.forbids(turn)
    if name is Name.REQUEST_PERMIT and turn.site.advice_only:
        return "advice_only"
    if name is Name.REQUEST_PERMIT and turn.state is State.CHECKING and not turn.lines.known:
        return "io_lost"
    return _INSTEAD.get((name, turn.state), "not_now")


def allowed(turn: Turn) -> tuple[str, ...]:
    """Names of the commands that would be done now with right arguments."""
    return tuple(row.name.value for row in ROWS if refusal(turn, row.name) is None)


def judge(turn: Turn, command: Command) -> None:
    """Do a command or refuse it; one reply and one row for the log either way."""
    before = turn.memory.cycle
    code = _objection(turn, command) or BY_NAME[command.name].act(turn, command)
    turn.replies.append(Reply(command.id, command.client, code))
    cycle = turn.memory.cycle or before  # one that opens a cycle and one that closes it are in it
    data = {
        "name": command.name.value, "client": command.client,
        "arguments": dict(command.arguments), "refused": code, "user": turn.facts.people.name,
    }  # fmt: skip
    turn.notes.append(Note("command", None if cycle is None else cycle.id, data))


def _objection(turn: Turn, command: Command) -> str | None:
    if command.epoch != turn.memory.epoch:
        return "wrong_epoch"
    if command.client != turn.facts.screen.client:
        return "not_commanding"
    code = refusal(turn, command.name)
    if code is not None:
        return code
    plan = turn.memory.plan
    digest = None if plan is None else plan.digest
    wrong = BY_NAME[command.name].names_plan and command.plan != digest
    return "wrong_plan" if wrong else None
