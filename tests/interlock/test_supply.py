"""Pump and valve by the wires, and how long a pull-down takes, each limit exactly.

Limits: docs/interlock.md; our own choice (common practice, no source).
"""

from __future__ import annotations

import pytest

from kiosk.interlock.signals import Lines
from kiosk.interlock.supply import Supply, follow, is_slow, pull


def lines(*, known: bool = True, **inputs: bool) -> Lines:
    return Lines(known, inputs, {})


@pytest.mark.parametrize(
    ("valve", "pump", "shut", "idle", "runs"),
    [
        (False, False, True, True, False),
        (False, True, True, False, True),
        (True, False, False, False, False),
        (True, True, False, False, True),
        (False, None, True, False, False),
        (None, False, False, False, False),
    ],
)
def test_only_what_the_wires_say_counts(
    valve: bool | None, pump: bool | None, shut: bool, idle: bool, runs: bool
) -> None:
    said = {"valve_open": valve, "pump_running": pump}
    wired = {name: value for name, value in said.items() if value is not None}
    for before, since_s in ((Supply(), 100.0), (Supply(shut_s=40.0, idle_s=40.0), 40.0)):
        after = follow(before, lines(**wired), 100.0)
        assert after.shut_s == (since_s if shut else None)
        assert after.idle_s == (since_s if idle else None)
        assert after.runs is runs


def test_wires_that_are_not_known_say_nothing() -> None:
    silent = lines(known=False, valve_open=False, pump_running=True)
    after = follow(Supply(shut_s=1.0, idle_s=1.0, runs=True), silent, 100.0)
    assert (after.shut_s, after.idle_s, after.runs) == (None, None, False)


def pulled(kpa: float | None, since_s: float | None, full_s: float | None = 10.0) -> Supply:
    """One look at 100 s; vented is under 2 kPa; the baseline is 10 s."""
    return pull(Supply(empty_s=since_s), kpa, 2.0, full_s, 100.0)


@pytest.mark.parametrize(
    ("kpa", "since_s"), [(1.999, 100.0), (2.0, 50.0), (59.999, 50.0), (None, 50.0)]
)
def test_a_pull_down_begins_when_the_table_was_last_vented(
    kpa: float | None, since_s: float
) -> None:
    assert pulled(kpa, 50.0) == Supply(empty_s=since_s)


@pytest.mark.parametrize(("since_s", "slow"), [(85.0, False), (84.999, True), (99.0, False)])
def test_it_ends_at_60_kpa_and_is_slow_over_one_and_a_half_baselines(
    since_s: float, slow: bool
) -> None:
    assert pulled(60.0, since_s) == Supply(slow=(slow,))


def test_one_without_a_beginning_or_a_baseline_is_not_counted() -> None:
    assert pulled(70.0, None) == Supply()
    assert pulled(70.0, 5.0, full_s=None) == Supply(empty_s=5.0)
    assert pulled(0.0, 5.0, full_s=None) == Supply(empty_s=5.0)


def test_the_newest_five_count_and_three_slow_ones_are_too_many() -> None:
    supply = Supply(slow=(True, False, True, False, False))
    assert not is_slow(supply)
    supply = pull(Supply(empty_s=0.0, slow=supply.slow), 60.0, 2.0, 10.0, 100.0)
    assert supply.slow == (False, True, False, False, True)
    assert not is_slow(supply)
    assert is_slow(Supply(slow=(True, True, False, True)))
