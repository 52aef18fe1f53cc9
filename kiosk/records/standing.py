"""Where the log ends, and what stood then: a latch, the adopted plan, the confirmed zones."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, replace

from kiosk.interlock.states import State

LATCHED = frozenset({State.HOLD_LOST, State.NO_PERMIT})

# The words of the index event_of_latch, so that the newest such event is one look-up.
_NEWEST_LATCH_EVENT = """
    SELECT json_extract(data, '$.to') FROM event WHERE kind = 'state' AND (
    json_extract(data, '$.to') IN ('HOLD LOST', 'NO PERMIT')
    OR json_extract(data, '$.from') IN ('HOLD LOST', 'NO PERMIT'))
    ORDER BY number DESC LIMIT 1"""
_NEWEST_ADOPTED = """
    SELECT max(number) FROM event
    WHERE kind = 'plan' AND json_extract(data, '$.change') = 'adopted'"""
_NEWEST_SERVICE = """
    SELECT json_extract(data, '$.on') FROM event WHERE kind = 'service'
    ORDER BY number DESC LIMIT 1"""
_SINCE = """
    SELECT kind, data FROM event
    WHERE number >= ? AND kind IN ('plan', 'state', 'confirm', 'command') ORDER BY number"""
_END = """
    SELECT max(at_ms) FROM (
        SELECT at_ms FROM heartbeat
        UNION ALL SELECT max(to_ms) FROM tail
        UNION ALL SELECT * FROM (SELECT at_ms FROM event ORDER BY number DESC LIMIT 1)
        UNION ALL SELECT * FROM (SELECT to_ms FROM chunk ORDER BY number DESC LIMIT 1))"""


@dataclass(frozen=True, slots=True)
class Standing:
    """The plan that stands adopted (digest) and the zones confirmed for it."""

    plan: str | None = None
    zones: frozenset[str] = frozenset()
    map_up: frozenset[str] = frozenset()  # seats confirmed with one word for a whole map
    map_down: frozenset[str] = frozenset()
    undone: frozenset[str] = frozenset()  # since that word


def after(standing: Standing, kind: str, data: Mapping[str, object]) -> Standing:
    """What stands after one more note (kinds and keys: ``kiosk.interlock.decision.Note``)."""
    match kind, data:
        case "plan", {"change": "adopted", "digest": str() as digest}:
            return Standing(digest)
        case ("plan", {"change": "dropped"}) | ("state", {"to": State.SELECT_JOB}):
            return Standing()
        case "confirm", {"what": "map", "up": list() as up, "down": list() as down} if all(
            isinstance(name, str) for name in (*up, *down)
        ):
            return replace(
                standing, map_up=frozenset(up), map_down=frozenset(down), undone=frozenset()
            )
        case "confirm", {"what": "zone", "zone": str() as zone}:
            return replace(standing, zones=standing.zones | {zone}, undone=standing.undone - {zone})
        case "command", {"name": "undo_zone", "refused": None, "arguments": {"zone": str(zone)}}:
            return replace(standing, zones=standing.zones - {zone}, undone=standing.undone | {zone})
    return standing


def confirmed(standing: Standing, plan_json: str) -> frozenset[str]:
    """The zones that stand confirmed: by name, or with every seat in a confirmed map.

    Raises ValueError, KeyError or TypeError when the text is no plan.
    """
    in_map = {
        zone["name"]
        for zone in json.loads(plan_json)["zones"]
        if standing.map_up.issuperset(zone["up"])
        and standing.map_down.issuperset(zone["down"])
        and (zone["up"] or zone["down"])
    }
    return standing.zones | (in_map - standing.undone)


def end_ms(connection: sqlite3.Connection) -> int | None:
    """The newest time in the log, on its axis; None when it is empty."""
    at_ms: int | None = connection.execute(_END).fetchone()[0]
    return at_ms


def latch_of(connection: sqlite3.Connection) -> str | None:
    """The latched state that was entered last and not left since, or None."""
    row = connection.execute(_NEWEST_LATCH_EVENT).fetchone()
    return row[0] if row is not None and row[0] in LATCHED else None


def in_service(connection: sqlite3.Connection) -> bool:
    """Whether service was begun and not ended since."""
    row = connection.execute(_NEWEST_SERVICE).fetchone()
    return row is not None and row[0] == 1


def standing_of(connection: sqlite3.Connection) -> Standing:
    """What stands at the end of the log."""
    standing = Standing()
    adopted = connection.execute(_NEWEST_ADOPTED).fetchone()[0]
    if adopted is None:
        return standing
    for kind, text in connection.execute(_SINCE, (adopted,)):
        standing = after(standing, kind, json.loads(text))
    return standing
