"""What one step decided: outputs to write, snapshot to publish, replies to send, notes to keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.interlock.commands import Reply
from kiosk.interlock.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class Outputs:
    """Contacts to write.  Everything is born "no"."""

    start_permit: bool = False
    hold_healthy: bool = False
    alive: bool = False
    beacon: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """One row for the log.

    kind      data keys
    state     event, from, to, and where permissives that fail made the move: lacks (codes)
    command   name, client, arguments, refused (code or None), user
    alarm     code, change (raised cleared acknowledged reset shelved unshelved), state, priority,
              value, limit, unit, first, quality (NE 107 letter), cutting, job_id, user, station,
              config (digest of the site file), comment, cut_over (cleared by the end of
              the cut), shelf_reason, shelf_s (seconds to its end), and where it is about one of
              several: about (of A15 the zone)
    bypass    check, change (begun ended), reason, user, by (who began it)
    service   on, user
    person    change (signed_on refused signed_off unlocked added changed removed file), name, role,
              and way (pin badge, never what was typed), refused, why, by, what; of the guard itself
    clock     change (set synced), synced (None: not known), and of a clock that was set from, to,
              step_s; of the guard itself
    plan      change (adopted refused dropped discarded), digest, job_id, words
    confirm   what (zone part map), zone, up, down, warnings; or what (cautions), user, cautions
              (codes), texts (digest of the words shown)
    cycle     change (opened closed), result (None when opened), and on closing the summary:
              minimum_kpa start_kpa start_vacuum_kpa lowest_ratio lowest_vacuum_kpa cutting_s
              alarms (codes)
    output    start_permit, hold_healthy (written when either changes)
    """

    kind: str
    cycle: str | None
    data: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """Ask the planner for this job; None in Decision means: nothing to ask."""

    command_id: str
    job: str


@dataclass(frozen=True, slots=True)
class Decision:
    """Result of one step."""

    outputs: Outputs
    snapshot: Snapshot
    replies: tuple[Reply, ...]
    notes: tuple[Note, ...]
    plan_request: PlanRequest | None
    drop_planner: bool  # end a running planner: its answer is no longer wanted
