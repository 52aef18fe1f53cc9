"""The cautions of the shift: whether who is signed on has read them."""

from __future__ import annotations

from kiosk.interlock import delays
from kiosk.interlock.codes import CAUTIONS
from kiosk.interlock.commands import COMMENT_CAP, Command
from kiosk.interlock.turn import Turn


def are_read(turn: Turn) -> bool:
    """Whether the person at the screen confirmed them within a shift's time.

    Nobody counts as one person: where signing on is bypassed, whoever stands there has to read.
    """
    read_s = turn.memory.cautions_s.get(turn.facts.people.name or "")
    return read_s is not None and turn.now_s - read_s < delays.SHIFT_S


def forbids(turn: Turn) -> str | None:
    """Only the one whose name goes with it, and once."""
    people = turn.facts.people
    if not people.set_up:
        return "no_people"
    bypassed = any(bypass.check == "signed_on" for bypass in turn.memory.bypasses)
    if people.role is None and not bypassed:
        return "not_signed_on"
    return "not_now" if are_read(turn) else None


def confirm(turn: Turn, command: Command) -> str | None:
    """Keep who read them; ``cautions`` are the codes shown, ``texts`` a digest of their words."""
    shown, texts = command.arguments.get("cautions"), command.arguments.get("texts")
    if not isinstance(shown, list | tuple) or not isinstance(texts, str | None):
        return "bad_arguments"
    if texts is not None and len(texts) > COMMENT_CAP:
        return "bad_arguments"
    if not set(CAUTIONS) <= {code for code in shown if isinstance(code, str)}:
        return "cautions_not_listed"
    who = turn.facts.people.name
    turn.put(cautions_s={**turn.memory.cautions_s, who or "": turn.now_s})
    turn.note("confirm", what="cautions", user=who, cautions=list(CAUTIONS), texts=texts)
    return None


def forget_nobody(turn: Turn) -> None:
    """With the bypass of signing on ends what somebody without a name has read."""
    turn.put(cautions_s={who: at for who, at in turn.memory.cautions_s.items() if who})
