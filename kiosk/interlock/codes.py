"""Every code that leaves the decision, for the catalogue of words and for tests.

Codes never change once released.
"""

from __future__ import annotations

REFUSALS = (
    "wrong_epoch", "wrong_plan", "not_now", "not_commanding", "unknown_command", "bad_arguments",
    "unknown_job", "unknown_zone", "zone_already", "warnings_not_listed", "not_vented",
    "cycle_running", "standstill_unknown", "needs_supervisor", "inputs_lost", "advice_only",
    "hold_not_proved", "cause_missing", "nothing_to_acknowledge", "io_lost", "part_not_confirmed",
    "no_people", "needs_maintenance", "not_signed_on", "never_bypassed", "never_shelved",
    "reason_missing", "wrong_pin", "unknown_badge", "badge_needed", "pin_needed", "wait",
    "person_locked", "people_unreadable", "not_judged", "cautions_not_listed",
)  # fmt: skip
FORBIDS = ("cycle_running", "standstill_unknown", "inputs_lost", "vacuum_unknown", "cause_missing",
           "needs_supervisor", "not_signed_on")  # fmt: skip
WAITING = ("gauge", "inputs", "contacts")
RELEASES = ("not_yet", "may_release", "vented")
RESULTS = ("done", "not_run", "hold_lost", "no_permit", "cancelled", "unconfirmed")
CAUTIONS = tuple(f"C{number:02}" for number in range(1, 22))  # that are read once a shift
