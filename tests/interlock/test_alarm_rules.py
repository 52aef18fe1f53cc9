"""Rows of the list of alarms whose condition has several parts, each part by itself."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from interlock_site import TWO_GAUGES, site_of
from interlock_world import World, reach

from kiosk.interlock import delays
from kiosk.interlock.alarm_rows import BY_CODE, ROWS
from kiosk.interlock.doubt import scatter
from kiosk.interlock.events import Event
from kiosk.interlock.facts import LogFacts
from kiosk.interlock.states import State
from kiosk.interlock.step import look_at
from kiosk.interlock.turn import Move, Turn

LOG = LogFacts(True, True, None, True, 0.5, None, None)
FIRST_INTO_LOSS = Move(State.STARTING, Event.FIRST_ROUND, State.HOLD_LOST)


def turn_of(
    log: LogFacts = LOG, *, running: bool = False, advice_only: bool = False, **memory: Any
) -> Turn:
    """A turn in CHECKING, or with what is given."""
    world = reach(State.CHECKING)
    world.inputs["cycle_running"] = running
    world.site = replace(world.site, advice_only=advice_only)
    facts = replace(world.facts(), log=log)
    return look_at(replace(world.memory, **memory), facts, world.utc)


def test_what_the_end_of_the_cut_clears() -> None:
    """A missing value (A03) stays until a value is back."""
    ends = {row.code for row in ROWS if row.ends_with_the_cut}
    assert ends == {"A01", "A02", "A04", "A05", "A06", "A12", "A27"}
    assert {row.code for row in ROWS if row.in_cut} == ends | {"A03"}


@pytest.mark.parametrize(("code", "latch"), [("A01", "HOLD LOST"), ("A22", "NO PERMIT")])
def test_a_latch_in_the_log_counts_at_the_first_round_alone(code: str, latch: str) -> None:
    for found, first, stands in (
        (latch, True, True), (latch, False, False), (None, True, False), ("other", True, False),
    ):  # fmt: skip
        turn = turn_of(replace(LOG, latch=found))
        turn.moves += [FIRST_INTO_LOSS] if first else []
        assert BY_CODE[code].stands(turn) is stands


@pytest.mark.parametrize(
    ("ran", "advice_only", "log", "first", "stands"),
    [
        ((True, False), False, LOG, True, True),
        ((False, True), False, LOG, True, True),
        ((False, False), False, LOG, True, False),
        ((True, True), False, LOG, False, False),
        ((True, True), True, LOG, True, False),
        ((False, False), False, replace(LOG, readable=False), True, True),
        ((False, False), True, replace(LOG, readable=False), True, True),
        ((False, False), False, replace(LOG, readable=False, exists=False), True, False),
    ],
)
def test_watching_that_began_again_in_a_cut(
    ran: tuple[bool, bool], advice_only: bool, log: LogFacts, first: bool, stands: bool
) -> None:
    """``ran``: it runs now, it ran before the first round."""
    running, unseen = ran
    turn = turn_of(log, running=running, advice_only=advice_only, ran_unseen=unseen)
    turn.moves += [FIRST_INTO_LOSS] if first else []
    assert BY_CODE["A24"].stands(turn) is stands


@pytest.mark.parametrize(
    ("state", "ago_s", "stands"),
    [(State.CHECKING, 30.0, True), (State.CHECKING, 29.9, False), (State.CHECKING, None, False),
     (State.SET_UP, 40.0, False)],
)  # fmt: skip
def test_vacuum_that_does_not_come_is_told_in_the_checks(
    state: State, ago_s: float | None, stands: bool
) -> None:
    turn = turn_of(state=state)
    turn.put(drawing_s=None if ago_s is None else turn.now_s - ago_s)
    assert BY_CODE["A07"].stands(turn) is stands


@pytest.mark.parametrize(
    ("share", "unsynced_h", "stands", "measured"),
    [
        (0.149, None, True, (0.149, 0.15, "share")),
        (0.15, None, False, (0.0, 24.0, "h")),
        (None, None, False, (0.0, 24.0, "h")),
        (None, 24.0, True, (24.0, 24.0, "h")),
        (0.5, 23.9, False, (pytest.approx(23.9), 24.0, "h")),
        (0.1, 30.0, True, (0.1, 0.15, "share")),
    ],
)
def test_disk_or_clock(
    share: float | None, unsynced_h: float | None, stands: bool, measured: tuple[Any, ...]
) -> None:
    turn = turn_of(replace(LOG, free_share=share))
    turn.put(unsynced_s=None if unsynced_h is None else turn.now_s - 3600.0 * unsynced_h)
    assert BY_CODE["A21"].stands(turn) is stands
    assert BY_CODE["A21"].measured(turn) == measured


@pytest.mark.parametrize(
    ("kpa", "jumps_s", "measured"),
    [
        (3.5, (), (3.5, 3.0, "kPa")),
        (2.9, (1.0, 2.0), (2.0, 2.0, "")),
        (None, (1.0,), (1.0, 2.0, "")),
    ],
)
def test_a_restless_gauge_says_its_scatter_or_its_jumps(
    kpa: float | None, jumps_s: tuple[float, ...], measured: tuple[Any, ...]
) -> None:
    """The scatter of two up, two down is 2 kpa / (0.6745 x 6 ** 0.5) of their height."""
    height = 0.0 if kpa is None else kpa * 0.6745 * 6.0**0.5 / 2.0
    count = 5 if kpa is None else 40
    long = tuple((0.05 * n, 60.0 + height * (-1) ** (n // 2)) for n in range(count))
    turn = turn_of()
    gauge = turn.seen.gauges[0]
    window = replace(gauge.window, long=long, jumps_s=jumps_s)
    turn.seen = replace(turn.seen, gauges=(replace(gauge, window=window),))
    value, limit, unit = BY_CODE["A27"].measured(turn)
    assert (value, limit, unit) == (pytest.approx(measured[0]), *measured[1:])


def test_a_scatter_of_just_the_limit_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    long = tuple((0.05 * n, 60.0 + 5.0 * (-1) ** (n // 2)) for n in range(40))
    turn = turn_of()
    gauge = turn.seen.gauges[0]
    turn.seen = replace(
        turn.seen, gauges=(replace(gauge, window=replace(gauge.window, long=long)),)
    )
    monkeypatch.setattr(delays, "NOISE_KPA", scatter(long))
    assert BY_CODE["A27"].measured(turn)[2] == ""


def test_what_an_alarm_is_judged_by_must_be_there() -> None:
    """Two gauges to disagree, and a baseline for the time of a pull-down."""
    turn = turn_of()
    for code, site in (
        ("A08", replace(turn.site, gauges=TWO_GAUGES)),
        ("A16", replace(turn.site, pull_down_s=10.0)),
    ):
        assert not BY_CODE[code].exists(turn)
        there = turn_of()
        there.facts = replace(there.facts, site=site)
        assert BY_CODE[code].exists(there)


def test_an_unanswered_feed_hold_says_how_long_the_program_has_run_on() -> None:
    turn = turn_of(state=State.HOLD_LOST)
    assert BY_CODE["A26"].measured(turn) == (0.0, 1.0, "s")
    turn.put(turning_s={"A26": turn.now_s - 1.0})
    assert BY_CODE["A26"].measured(turn) == (pytest.approx(1.0), 1.0, "s")


@pytest.mark.parametrize(("ratio", "stands"), [(None, False), (2.0, False), (2.001, True)])
def test_a_leak_is_told_over_twice_its_baseline(ratio: float | None, stands: bool) -> None:
    turn = turn_of()
    turn.facts = replace(turn.facts, leak_ratio=ratio)
    assert BY_CODE["A15"].stands(turn) is stands


def test_a_loss_that_the_log_holds_is_told_where_no_contacts_are_too() -> None:
    world = World(site=site_of(advice_only=True, inputs=frozenset(), outputs=frozenset()))
    world.log = replace(world.log, exists=True, latch="HOLD LOST")
    world.run(1.0)
    assert world.state is State.HOLD_LOST
    assert [alarm.code for alarm in world.shown.alarms] == ["A01"]
