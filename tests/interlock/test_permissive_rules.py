"""Conditions of the permit that differ from state to state, by themselves."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_world import reach

from kiosk.interlock import permissives
from kiosk.interlock.alarms import Alarm
from kiosk.interlock.facts import LogFacts
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Turn

S = State
ROW = {row.code: row for row in permissives.ROWS}
PERMITTED = {S.PERMIT, S.CUTTING, S.LOW_HOLD, S.PAUSED}


LOG = LogFacts(False, True, None, True, 0.5, None, None)


def turn_in(state: State = S.READY, **facts: Any) -> Turn:
    """A turn in a state, with some of the facts as they are given."""
    world = reach(S.READY)
    now = replace(world.facts(), **facts)
    return look_at(replace(world.memory, state=state), now, world.utc)


def holds(code: str, **facts: Any) -> bool:
    return ROW[code].holds(turn_in(**facts)) is True


@pytest.mark.parametrize("state", list(State))
def test_a_permit_stands_asked_for_from_the_permit_to_the_end_of_the_cut(state: State) -> None:
    assert ROW["asked"].holds(turn_in(state)) is (state in PERMITTED)


@pytest.mark.parametrize("state", list(State))
def test_the_hold_is_judged_by_the_start_level_until_it_is_proved(state: State) -> None:
    _, limit, unit = ROW["hold_enough"].measured(turn_in(state))
    assert (limit, unit) == (1.10 if state in PERMITTED | {S.READY} else 1.15, "ratio")


def test_rows_with_an_event_of_their_own_or_that_a_pause_does_not_need_are_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """When everything fails."""
    monkeypatch.setattr(permissives, "unmet", lambda _: frozenset(ROW))
    plain = {code for code, row in ROW.items() if row.own is None}
    paused = {code for code, row in ROW.items() if row.in_pause}
    assert plain - paused
    assert paused - plain
    assert set(permissives.unproved_by(turn_in(S.READY))) == plain
    assert set(permissives.unproved_by(turn_in(S.PAUSED))) == plain & paused
    assert set(permissives.pause_lacks(turn_in(S.CUTTING))) == paused


def test_nothing_is_lacking_where_nothing_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(permissives, "unmet", lambda _: frozenset())
    turn = turn_in(S.PAUSED)
    assert (permissives.unproved_by(turn), permissives.pause_lacks(turn)) == ((), ())
    assert permissives.may_pause(turn)
    turn.hold = replace(turn.hold, warns_low=True)
    assert not permissives.may_pause(turn)


@pytest.mark.parametrize(
    ("passed", "late_s", "sound"),
    [(True, 0.0, True), (True, 0.499, True), (True, 0.5, False), (False, 0.0, False)],
)
def test_the_guard_has_checked_itself_and_is_in_time(
    passed: bool, late_s: float, sound: bool
) -> None:
    assert holds("self_test", self_test=passed, loop_late_s=late_s) is sound


@pytest.mark.parametrize(
    ("writable", "share", "room"),
    [(True, 0.05, True), (True, 0.049, False), (True, None, False), (False, 0.5, False)],
)
def test_the_log_can_be_written_and_has_room(
    writable: bool, share: float | None, room: bool
) -> None:
    assert holds("log_has_room", log=replace(LOG, writable=writable, free_share=share)) is room


@pytest.mark.parametrize(
    ("now_s", "last_s", "commits"),
    [
        (10.0, 5.0, True), (10.0, 4.999, False), (10.0, None, False),
        (0.0, 0.1, True), (0.0, 0.101, False),
    ],
)  # fmt: skip
def test_the_log_was_written_within_5_s(now_s: float, last_s: float | None, commits: bool) -> None:
    """And is not dated ahead of now by more than a tenth of a second."""
    turn = turn_in()
    turn.facts = replace(turn.facts, now_s=now_s, log=replace(LOG, last_commit_s=last_s))
    assert ROW["log_committing"].holds(turn) is commits


def test_contacts_are_as_written_only_where_they_are_known() -> None:
    turn = turn_in()
    assert ROW["contacts_as_written"].holds(turn)
    turn.put(link=replace(turn.memory.link, wrong_since_s=turn.now_s - 1.0))
    assert not ROW["contacts_as_written"].holds(turn)
    unknown = turn_in()
    unknown.lines = replace(unknown.lines, known=False)
    assert not ROW["contacts_as_written"].holds(unknown)


@pytest.mark.parametrize(
    ("code", "flag", "seen"),
    [("gauge_good", "drifted", "good"), ("gauge_plausible", "stays", "plausible")],
)
def test_a_gauge_is_believed_by_what_it_shows_and_without_a_doubt(
    code: str, flag: str, seen: str
) -> None:
    turn = turn_in()
    assert ROW[code].holds(turn)
    doubt = replace(turn.memory.doubts["table"], **{flag: True})
    turn.put(doubts={"table": doubt})
    assert not ROW[code].holds(turn)
    shown = turn_in()
    shown.seen = replace(shown.seen, **{seen: False})
    assert not ROW[code].holds(shown)


@pytest.mark.parametrize(("due", "over_d"), [("2026-12-05", 0.0), ("2026-11-20", 5.0)])
def test_a_date_that_has_not_passed_is_over_by_no_day(due: str, over_d: float) -> None:
    """The label of the step is of 2026-11-25."""
    turn = turn_in()
    gauges = tuple(replace(gauge, calibration_due=due) for gauge in turn.site.gauges)
    turn.facts = replace(turn.facts, site=replace(turn.site, gauges=gauges))
    assert ROW["gauge_in_date"].measured(turn) == (over_d, 30.0, "d")


@pytest.mark.parametrize(
    ("priority", "active", "latched", "clear"),
    [
        (1, True, False, False), (1, False, False, True), (2, True, False, True),
        (1, False, True, False), (2, True, True, False),
    ],
)  # fmt: skip
def test_alarms_are_clear_without_a_latch_and_without_an_active_priority_1(
    priority: int, active: bool, latched: bool, clear: bool
) -> None:
    turn = turn_in()
    alarm = Alarm(
        "A01", priority, active=active, acknowledged=False, latched=latched, first=False,
        since_s=1.0, utc="", value=None, limit=None, unit="",
    )  # fmt: skip
    turn.put(alarms=(alarm,))
    assert ROW["alarms_clear"].holds(turn) is clear


def test_only_what_must_have_held_for_a_time_is_timed() -> None:
    since = permissives.sound_since_s(turn_in())
    assert since.keys() == {"gauge_good", "gauge_plausible", "gauges_agree"}
