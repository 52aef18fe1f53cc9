"""The numbers and marks of the rows, typed here a second time.

Sources are named in docs/interlock.md; those without one are our own choice (common practice, no
source).  A change of one of them is meant, and is made here and in the docs as well.
"""

from __future__ import annotations

from datetime import date

import pytest

from kiosk.interlock import (
    alarm_rows,
    days,
    delays,
    judge,
    permissives,
    step,
    supply,
    turn,
    waivers,
)
from kiosk.interlock.commands import Name
from kiosk.interlock.states import STOPPED_BY, State

S, N = State, Name


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("START_SAMPLES", 10), ("SETTLE_SAMPLES", 10), ("VENTED_SAMPLES", 10),
        ("FALL_SAMPLES", 3), ("ROBUST_SAMPLES", 6), ("SOUND_S", 3.0), ("APART_SAMPLES", 3),
        ("TINY_S", 1e-6), ("FUTURE_S", 0.1), ("PLAUSIBLE_KPA", 2.0),
        ("JUMP_KPA", 30.0), ("JUMP_S", 0.1), ("JUMPS", 2), ("JUMPS_WITHIN_S", 1.0),
        ("NEVER_THINNER_S", 0.01), ("HOLD_ANSWER_S", 1.0), ("LOOP_LATE_S", 0.5),
        ("LINK_BACK_S", 5.0), ("LEAK_RATIO", 2.0),
        ("FILL_KPA", 60.0), ("PULL_RATIO", 1.5), ("SLOW_PULLS", 3),
        ("IDLE_S", 30.0), ("IDLE_KPA", 10.0),
        ("VENTING_S", 10.0), ("ZERO_S", 10.0), ("ZERO_SAMPLES", 10),
        ("ZERO_KPA", 2.0), ("ZERO_OFF_KPA", 5.0), ("ZERO_STILL_KPA_PER_S", 0.05),
        ("NOISE_KPA", 3.0), ("NOISE_SAMPLES", 20), ("SCATTER_S", 5.0),
        ("CALIBRATION_SOON_D", 30), ("CALIBRATION_OVER_D", 30), ("INSPECTION_D", 335),
        ("DISK_LOW_SHARE", 0.15), ("UNSYNCED_S", 86400.0), ("SHIFT_S", 43200.0),
    ],
)  # fmt: skip
def test_delays_and_limits_that_no_shop_may_set(name: str, value: float) -> None:
    assert getattr(delays, name) == value


def test_no_delay_is_left_out() -> None:
    named = {name for name in vars(delays) if name.isupper()}
    (mark,) = test_delays_and_limits_that_no_shop_may_set.pytestmark  # type: ignore[attr-defined]
    assert {name for name, _ in mark.args[1]} == named


def test_marks_and_delays_of_the_alarms() -> None:
    """Priority, seconds to come and to go; L latched, G of the group of a loss, C of the cut."""
    told = {
        row.code: (
            row.priority, row.on_s, row.off_s,
            "L" * row.latches + "G" * row.in_group + "C" * row.in_cut,
        )
        for row in alarm_rows.ROWS
    }  # fmt: skip
    assert told == {
        "A01": (1, 0, 0, "LGC"), "A02": (1, 0, 0, "LGC"), "A03": (1, 0, 2, "LGC"),
        "A04": (1, 0, 5, "LGC"), "A05": (2, 0, 0, "C"), "A06": (2, 0, 0, "GC"),
        "A07": (2, 0, 0, ""), "A08": (2, 0, 10, ""), "A09": (2, 0, 5, ""),
        "A10": (2, 0, 5, "G"), "A11": (2, 1, 10, "G"), "A12": (1, 0, 0, "LC"),
        "A13": (2, 0, 0, ""), "A14": (3, 0, 0, ""), "A15": (3, 0, 0, ""), "A16": (3, 0, 0, ""),
        "A17": (3, 60, 60, ""), "A18": (3, 0, 0, ""), "A19": (3, 0, 0, ""), "A20": (3, 0, 0, ""),
        "A21": (3, 60, 60, ""), "A22": (1, 0, 0, "L"), "A23": (2, 0, 0, ""), "A24": (1, 0, 0, "L"),
        "A25": (2, 0, 0, ""), "A26": (1, 1, 0, "L"), "A27": (2, 0, 5, "C"),
    }  # fmt: skip


def test_marks_of_the_conditions_of_the_permit() -> None:
    rows = permissives.ROWS
    assert {row.code for row in rows if row.bypassable} == {"gauge_in_date", "signed_on"}
    assert {row.code for row in rows if not row.in_pause} == {
        "gauge_in_date", "signed_on", "cautions_read", "hold_settled", "asked",
    }  # fmt: skip
    before = {row.code: row.before_s for row in rows if row.before_s}
    assert before == {"gauge_good": 3.0, "gauge_plausible": 3.0, "gauges_agree": 3.0}


def test_which_commands_name_their_plan() -> None:
    assert {row.name for row in judge.ROWS if row.names_plan} == {
        N.CANCEL_JOB, N.CONFIRM_ZONE, N.UNDO_ZONE, N.CONFIRM_PART, N.CONFIRM_MAP,
        N.REQUEST_PERMIT, N.NEXT_PART,
    }  # fmt: skip


def test_service_begins_in_every_state_but_the_cut_and_the_start() -> None:
    states = judge.BY_NAME[N.BEGIN_SERVICE].states
    assert states == set(State) - {S.STARTING, S.CUTTING, S.LOW_HOLD}
    assert judge.BY_NAME[N.END_SERVICE].states == set(State)


def test_how_long_an_alarm_may_be_shelved_by_its_priority() -> None:
    assert waivers.SHELF_S == {2: 1800.0, 3: 3600.0}


def test_sets_of_states() -> None:
    assert {S.CUTTING, S.LOW_HOLD} == turn.IN_CUT
    assert {S.READY, S.PERMIT, S.PAUSED, S.CUTTING, S.LOW_HOLD} == turn.HELD_AFTER_PROOF
    assert {S.PERMIT, S.PAUSED, S.CUTTING, S.LOW_HOLD} == step._WATCHED
    assert {S.HOLD_LOST, S.NO_PERMIT} == STOPPED_BY


def test_pull_downs_that_are_remembered_and_the_first_date_that_can_be() -> None:
    assert supply.PULLS_KEPT == 5
    assert date(2026, 1, 1) == days.MADE
    assert days.today("2026-01-01T00:00:00Z") == days.MADE
    assert days.today("2025-12-31T23:59:59Z") is None
