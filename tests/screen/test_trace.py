"""The trace keeps every extreme, and a gap stays a gap."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.screen.trace import WINDOW_S, Trace


@given(st.lists(st.floats(0.0, 100.0), min_size=2, max_size=400), st.integers(5, 600))
def test_lowest_and_highest_of_the_minute_are_drawn(values: list[float], count: int) -> None:
    trace, now = Trace(), 1000.0
    for at, value in enumerate(values):
        trace.add(now - WINDOW_S + (at + 0.5) * WINDOW_S / len(values), value)
    columns = [column for column in trace.columns(count, now) if column is not None]
    assert min(low for low, _ in columns) == min(values)
    assert max(high for _, high in columns) == max(values)


def test_a_dip_of_one_sample_shows() -> None:
    trace = Trace()
    for at in range(1200):
        trace.add(940.0 + at * 0.05, 40.0 if at == 600 else 66.0)
    columns = trace.columns(300, 1000.0)
    assert sum(1 for column in columns if column is not None and column[0] == 40.0) >= 1
    assert columns[10] == (66.0, 66.0)


def test_where_nothing_was_known_nothing_is_drawn() -> None:
    trace = Trace()
    for at in range(60):
        trace.add(940.0 + at, None if 20 <= at < 40 else 66.0)
    columns = trace.columns(60, 1000.0)
    assert columns[30] is None
    assert columns[10] == (66.0, 66.0)
    assert columns[50] == (66.0, 66.0)


def test_the_right_edge_is_now() -> None:
    trace = Trace()
    trace.add(999.9, 50.0)
    columns = trace.columns(100, 1000.0)
    assert columns[-1] == (50.0, 50.0)
    assert columns[:-1] == (None,) * 99


def test_slow_samples_are_joined_over_one_second_at_most() -> None:
    trace = Trace()
    for at in range(120):
        trace.add(940.0 + at * 0.5, 66.0)
    assert trace.columns(600, 1000.0).count(None) == pytest.approx(0, abs=10)


def test_a_steady_fall_is_a_line_without_steps_or_spikes() -> None:
    """Ten samples a second, twenty columns a second: each column holds its own part of the fall."""
    trace, rate_kpa_per_s = Trace(), 1.0
    for at in range(601):
        trace.add(940.0 + at * 0.1, 90.0 - rate_kpa_per_s * at * 0.1)
    columns = trace.columns(1200, 1000.0)
    assert None not in columns
    for at, column in enumerate(columns):
        assert column is not None
        assert column[1] - column[0] == pytest.approx(rate_kpa_per_s / 20.0, abs=1e-6)
        assert column[1] == pytest.approx(90.0 - at * rate_kpa_per_s / 20.0, abs=1e-6)


def test_samples_more_than_a_second_apart_are_not_joined() -> None:
    trace = Trace()
    trace.add(970.0, 66.0)
    trace.add(971.2, 60.0)
    columns = trace.columns(600, 1000.0)
    assert [at for at, column in enumerate(columns) if column is not None] == [300, 312]
    assert columns[312] == (60.0, 60.0)
