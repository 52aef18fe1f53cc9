"""What a person at the screen may ask, and the one reply each request gets.

On the wire a command is one JSON object:
``{"command": name, "id": text, "epoch": text, "plan": digest or null, ...arguments}``
and its reply ``{"reply": id, "done": true}`` or ``{"reply": id, "refused": code}``.
``get_plan`` is answered with ``{"reply": id, "done": true, "plan": {...}}``, ``get_people`` with
``"people": [...]`` in its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Name(StrEnum):
    """Every command."""

    SELECT_JOB = "select_job"  # job: file name in the jobs folder, or id
    CANCEL_JOB = "cancel_job"
    CONFIRM_ZONE = "confirm_zone"  # zone
    UNDO_ZONE = "undo_zone"  # zone
    CONFIRM_PART = "confirm_part"  # warnings: list of finding codes that were shown
    CONFIRM_MAP = "confirm_map"
    CONFIRM_CAUTIONS = "confirm_cautions"  # cautions: codes that were shown; texts: their digest
    RETAKE_PLAN = "retake_plan"
    REQUEST_PERMIT = "request_permit"
    WITHDRAW = "withdraw"
    FINISH = "finish"  # standstill: true when a person says so (ADVICE ONLY)
    NEXT_PART = "next_part"
    JOB_DONE = "job_done"
    # alarm: code, or list of codes shown; came: raised_utc of each as shown; comment: text
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"  # cause: one of RESET_CAUSES
    BYPASS = "bypass"  # check: code of a permissive; reason: one of BYPASS_REASONS
    END_BYPASS = "end_bypass"  # check
    SHELVE = "shelve"  # alarm: code; reason: one of SHELVE_REASONS
    UNSHELVE = "unshelve"  # alarm
    BEGIN_SERVICE = "begin_service"
    END_SERVICE = "end_service"
    SIGN_ON = "sign_on"  # name and pin; or badge, with pin where the role needs it
    SIGN_OFF = "sign_off"
    UNLOCK_PERSON = "unlock_person"  # name
    GET_PEOPLE = "get_people"
    GET_PLAN = "get_plan"


# Answered by the guard itself; the decision never sees them, and so no PIN reaches the log.
GUARDS_OWN = frozenset(
    {Name.SIGN_ON, Name.SIGN_OFF, Name.UNLOCK_PERSON, Name.GET_PEOPLE, Name.GET_PLAN}
)

# What a person may give as the cause of a latched loss or a start without permit.
RESET_CAUSES = ("leak_at_edge", "cup_or_seal", "pump_or_filter", "part_moved", "gauge_or_wire",
                "wrong_start", "other")  # fmt: skip
BYPASS_REASONS = ("gauge_checked_by_hand", "calibration_is_booked", "nobody_can_sign_on", "other")
SHELVE_REASONS = ("being_worked_on", "waits_for_a_part", "false_alarm", "other")
COMMENT_CAP = 200  # letters


@dataclass(frozen=True, slots=True)
class Command:
    """One request as it arrived.  ``client`` is the connection that sent it."""

    name: Name
    id: str
    epoch: str
    plan: str | None
    client: str
    arguments: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to one command: done, or the code of why not."""

    id: str
    client: str
    refused: str | None = None
