"""What can happen to the interlock, and in which order when it happens in one step."""

from __future__ import annotations

from enum import StrEnum


class Event(StrEnum):
    """Every event, in the order of judging: what forbids comes before what allows."""

    FIRST_ROUND = "first_round"  # every fact that the site file names was seen once
    IO_LOST = "io_lost"
    DATA_LOST = "data_lost"
    HOLD_LOST = "hold_lost"
    HOLD_LOW = "hold_low"
    CONTACT_WRONG = "contact_wrong"
    KEY_ON = "key_on"
    UNPROVED = "unproved"
    SETUP_CHANGED = "setup_changed"
    ZONE_UNDONE = "zone_undone"
    SCREEN_LOST = "screen_lost"
    WITHDRAWN = "withdrawn"
    EXPIRED = "expired"
    VENTED = "vented"
    CYCLE_STOPPED = "cycle_stopped"
    CYCLE_STARTED = "cycle_started"
    CANCELLED = "cancelled"
    FINISHED = "finished"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"
    NEXT_PART = "next_part"
    JOB_DONE = "job_done"
    PLAN_REFUSED = "plan_refused"
    PLAN_ADOPTED = "plan_adopted"
    PLAN_RETAKEN = "plan_retaken"
    ZONE_CONFIRMED = "zone_confirmed"
    PART_CONFIRMED = "part_confirmed"
    REQUESTED = "requested"
    IO_BACK = "io_back"
    DATA_BACK = "data_back"
    SCREEN_BACK = "screen_back"
    KEY_OFF = "key_off"
    HOLD_BACK = "hold_back"
    ALL_CONFIRMED = "all_confirmed"
    PROVED = "proved"


# Logged when they begin even where they move nothing.
LOGGED = frozenset(
    {
        Event.IO_LOST, Event.IO_BACK, Event.DATA_LOST, Event.DATA_BACK, Event.CONTACT_WRONG,
        Event.KEY_ON, Event.KEY_OFF, Event.SCREEN_LOST, Event.SCREEN_BACK,
        Event.CYCLE_STARTED, Event.CYCLE_STOPPED, Event.VENTED,
    }
)  # fmt: skip
