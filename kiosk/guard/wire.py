"""Lines of the guard's socket into messages and back.  Knows no socket and no state.

``commands.py`` has the shapes.  A damaged line is a value here, never an exception.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kiosk.interlock.commands import Command, Name, Reply
from kiosk.typed import parsed

LINE_CAP = 64 * 1024  # bytes of one line either way, except a plan
COMMAND_CAP = 4 * 1024  # bytes of one command: each goes into the log
PLAN_CAP = 4 * 1024 * 1024
FORMAT = 1
DEPTH_CAP = 8  # lists and objects in an argument, one in the other; what is taken has 1
_ID_CAP = 64
_NAMES = tuple(Name)  # compared one by one: what came may have no hash
_OWN_KEYS = {"command", "id", "epoch", "plan"}


@dataclass(frozen=True, slots=True)
class Alive:
    """A heartbeat.  ``touched``: somebody used the screen since the last one."""

    touched: bool = False


@dataclass(frozen=True, slots=True)
class Damaged:
    """A line that is no message; ``reply`` says so when it had an id."""

    reply: Reply | None


Message = Alive | Command | Damaged


def read(line: bytes, client: str) -> Message:
    """The message of one line from ``client``."""
    try:
        row = parsed(line)
    except ValueError:
        return Damaged(None)
    if not isinstance(row, dict):
        return Damaged(None)
    if "command" in row:
        message = _command(row, client)
        if isinstance(message, Command) and len(line) > COMMAND_CAP:
            return Damaged(Reply(message.id, client, "bad_arguments"))
        return message
    return Alive(row.get("touched") is True) if "alive" in row else Damaged(None)


def _command(row: dict[str, Any], client: str) -> Message:
    ident = row.get("id")
    if not isinstance(ident, str) or not 0 < len(ident) <= _ID_CAP:
        return Damaged(None)
    if row["command"] not in _NAMES:
        return Damaged(Reply(ident, client, "unknown_command"))
    epoch, plan = row.get("epoch"), row.get("plan")
    if not isinstance(epoch, str) or not isinstance(plan, str | None):
        return Damaged(Reply(ident, client, "bad_arguments"))
    arguments = {key: value for key, value in row.items() if key not in _OWN_KEYS}
    if any(_nested_deeper(value, DEPTH_CAP) for value in arguments.values()):
        return Damaged(Reply(ident, client, "bad_arguments"))
    return Command(Name(row["command"]), ident, epoch, plan, client, arguments)


def _nested_deeper(value: object, levels: int) -> bool:
    """True when lists and objects lie deeper in each other than so many levels."""
    if not isinstance(value, dict | list):
        return False
    inner = value.values() if isinstance(value, dict) else value
    return levels == 0 or any(_nested_deeper(item, levels - 1) for item in inner)


def hello(epoch: str, client: str) -> bytes:
    """The first line after a client connected: ``client`` is what it is called here."""
    return _line({"hello": {"format": FORMAT, "epoch": epoch, "client": client}})


def reply(answer: Reply) -> bytes:
    """The line of one reply."""
    if answer.refused is None:
        return _line({"reply": answer.id, "done": True})
    return _line({"reply": answer.id, "refused": answer.refused})


def plan_reply(ident: str, plan_json: str) -> bytes:
    """The reply to get_plan; ``plan_json`` is the plan's own JSON, put in as it is."""
    head = f'{{"reply":{json.dumps(ident)},"done":true,"plan":'
    return head.encode() + plan_json.encode() + b"}\n"


def people_reply(ident: str, people: Sequence[Mapping[str, object]]) -> bytes:
    """The reply to get_people."""
    return _line({"reply": ident, "done": True, "people": list(people)})


def _line(row: dict[str, object]) -> bytes:
    return json.dumps(row, separators=(",", ":"), allow_nan=False).encode() + b"\n"
