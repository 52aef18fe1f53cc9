"""The hands at the simulated machine: one JSON object a line in, one out.

{"do": "leak", "bore_mm": 6.0, "over_s": 5.0}    ->  {"ok": true}
{"do": "cycle_start"}                            ->  {"ok": false, "why": "..."}
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from typing import Any

from hardware.plant.plant import Plant

Request = Mapping[str, Any]
_MAX_BORE_MM = 200.0
_MAX_SEATS = 1000


class Wrong(Exception):
    """A request that cannot be done; carries the words of why."""


def _number(request: Request, word: str, default: float, high: float) -> float:
    value = request.get(word, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Wrong(f"{word} is a number")
    if not (math.isfinite(value) and 0.0 <= value <= high):
        raise Wrong(f"{word} is from 0 to {high:g}")
    return float(value)


def _flag(request: Request, word: str, default: bool) -> bool:
    value = request.get(word, default)
    if not isinstance(value, bool):
        raise Wrong(f"{word} is true or false")
    return value


def _vacuum(plant: Plant, request: Request) -> None:
    plant.table.vacuum_on = _flag(request, "on", True)
    if plant.table.vacuum_on:
        plant.table.vent_open = False


def _release(plant: Plant, request: Request) -> None:
    """The machine's own valve refuses while anything moves, unless forced."""
    if not plant.machine.standstill and not _flag(request, "force", False):
        raise Wrong("the machine is not at standstill")
    plant.table.vacuum_on, plant.table.vent_open = False, True


def _seats(plant: Plant, request: Request) -> None:
    up = int(_number(request, "up", plant.table.seats_up, _MAX_SEATS))
    plant.table.seats_up = up
    plant.table.seats_covered = int(_number(request, "covered", up, _MAX_SEATS))


def _leak(plant: Plant, request: Request) -> None:
    bore_mm = _number(request, "bore_mm", 0.0, _MAX_BORE_MM)
    plant.table.set_leak(bore_mm, _number(request, "over_s", 0.0, 3600.0))


def _start(plant: Plant, request: Request) -> None:
    _refuse(plant.machine.start(_flag(request, "force", False)))


def _fault(plant: Plant, request: Request) -> None:
    name, face = str(request.get("name")), str(request.get("face", "gauge"))
    _refuse(plant.faults.set(name, _flag(request, "on", True), face))


def _key(plant: Plant, request: Request) -> None:
    plant.machine.key = _flag(request, "on", True)


def _stop(plant: Plant, request: Request) -> None:
    plant.machine.press_stop(_flag(request, "on", True))


def _refuse(why: str | None) -> None:
    if why is not None:
        raise Wrong(why)


VERBS: dict[str, Callable[[Plant, Request], None]] = {
    "vacuum": _vacuum,
    "seats": _seats,
    "cycle_start": _start,
    "cycle_end": lambda plant, _: _refuse(plant.machine.end()),
    "feed_hold": lambda plant, _: _refuse(plant.machine.hold()),
    "resume": lambda plant, _: _refuse(plant.machine.resume()),
    "leak": _leak,
    "release": _release,
    "estop": _stop,
    "key": _key,
    "fault": _fault,
}


def do(plant: Plant, request: Request) -> dict[str, Any]:
    """Do one request but ``quit``; its reply."""
    verb = request.get("do")
    if verb == "status":
        return {"ok": True, **plant.status()}
    work = VERBS.get(verb) if isinstance(verb, str) else None
    if work is None:
        return {"ok": False, "why": f"known are status, quit, {', '.join(VERBS)}"}
    try:
        work(plant, request)
    except Wrong as wrong:
        return {"ok": False, "why": str(wrong)}
    return {"ok": True}


def parse(line: bytes) -> Request | None:
    """The request on a line; None when it is not one JSON object."""
    try:
        request = json.loads(line)
    except ValueError:
        return None
    return request if isinstance(request, dict) else None
