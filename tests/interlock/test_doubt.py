"""Why a gauge that answers may not be believed, at each limit exactly: docs/interlock.md.

Limits without a source named are our own choice (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pytest

from kiosk.interlock import delays
from kiosk.interlock.doubt import Doubt, look, scatter
from kiosk.interlock.facts import GaugeSetting
from kiosk.interlock.reading import Fault, Reading, Sample, Why
from kiosk.interlock.supply import Supply
from kiosk.interlock.timer import IDLE, Timer
from kiosk.interlock.trend import Mark, Slope, Trend
from kiosk.interlock.window import Window

TABLE, PUMP = (GaugeSetting(name, name, 1.0, 20.0) for name in ("table", "pump"))
RUNS = Supply(runs=True)
SHUT = Supply(shut_s=50.0)


def window(at_s: float, kpa: float | None, *, new: bool = True, slope: float = 0.0) -> Window:
    return Window(at_s, at_s, kpa, new=new, trend=Trend(slope=Slope(slope, slope, slope, inf, inf)))


def after(
    seconds: float,
    supply: Supply,
    kpa: float | None = 1.0,
    *,
    setting: GaugeSetting = TABLE,
    begin: Doubt | None = None,
    since_s: float = 100.0,
    slope: float = 0.0,
) -> Doubt:
    """So long a look at the same value every second, from ``since_s`` on."""
    doubt = begin or Doubt()
    for second in range(round(seconds) + 1):
        at_s = since_s + second
        sample = None if kpa is None else Reading(kpa, 400.0, at_s)
        doubt = look(
            doubt, setting, sample, window=window(at_s, kpa, slope=slope), supply=supply, now_s=at_s
        )
    return doubt


def once(doubt: Doubt, sample: Sample | None, supply: Supply, now_s: float, **shows: bool) -> Doubt:
    """One more look."""
    view = window(now_s, 60.0, **shows)
    return look(doubt, TABLE, sample, window=view, supply=supply, now_s=now_s)


def test_a_new_memory_doubts_nothing() -> None:
    new = Doubt()
    assert (new.still_s, new.frozen, new.noisy, new.stays, new.drifted) == (0.0, *[False] * 4)


# -- frozen ------------------------------------------------------------------------------------


def test_time_counts_from_the_first_number_that_came_while_the_pump_ran() -> None:
    first = once(Doubt(), Reading(60.0, 400.0, 10.0), RUNS, 10.0)
    assert (first.raw, first.still_s, first.counted_s) == (400.0, 0.0, 10.0)
    second = once(first, Reading(60.0, 400.0, 12.5), RUNS, 12.5)
    assert (second.still_s, second.counted_s) == (2.5, 12.5)
    third = once(second, Reading(60.0, 400.0, 13.5), RUNS, 13.5)
    assert (third.still_s, third.counted_s) == (3.5, 13.5)


def test_another_number_ends_it_and_a_fault_does_not() -> None:
    still = replace(Doubt(), raw=400.0, still_s=20.0, counted_s=10.0)
    assert once(still, Reading(60.0, 401.0, 11.0), RUNS, 11.0).still_s == 0.0
    assert once(still, Reading(60.0, 401.0, 11.0), RUNS, 11.0).raw == 401.0
    assert once(still, Fault(Why.SILENT, "", 11.0), RUNS, 11.0, new=False).still_s == 21.0
    old = once(still, Reading(60.0, 401.0, 11.0), RUNS, 11.0, new=False)
    assert (old.raw, old.still_s) == (400.0, 21.0)


def test_nothing_counts_while_no_number_has_come() -> None:
    none = once(Doubt(), None, RUNS, 10.0, new=False)
    assert (none.raw, none.counted_s) == (None, None)


def test_nothing_counts_while_the_pump_is_not_known_to_run() -> None:
    still = replace(Doubt(), raw=400.0, still_s=20.0, counted_s=10.0)
    paused = once(still, Reading(60.0, 400.0, 15.0), Supply(), 15.0)
    assert (paused.still_s, paused.counted_s) == (20.0, None)
    again = once(paused, Reading(60.0, 400.0, 18.0), RUNS, 18.0)
    assert (again.still_s, again.counted_s) == (20.0, 18.0)


@pytest.mark.parametrize(
    ("supply", "kpa", "counts"),
    [
        (replace(RUNS, shut_s=50.0), 2.0, False),
        (replace(RUNS, shut_s=50.0), 2.001, True),
        (replace(RUNS, shut_s=50.0), None, True),
        (RUNS, 2.0, True),
    ],
)
def test_a_vented_table_with_its_valve_closed_is_at_rest(
    supply: Supply, kpa: float | None, counts: bool
) -> None:
    begin = Doubt(raw=400.0, still_s=0.0, counted_s=100.0)
    assert after(5.0, supply, kpa, begin=begin).still_s == (5.0 if counts else 0.0)


@pytest.mark.parametrize(("seconds", "frozen"), [(30.0, True), (29.0, False)])
def test_frozen_is_the_same_for_as_long_as_the_site_file_says(seconds: float, frozen: bool) -> None:
    doubt = after(seconds, RUNS, 60.0, setting=replace(TABLE, frozen_s=30.0))
    assert (doubt.frozen, doubt.implausible) == (frozen, frozen)


# -- vacuum with nothing that makes one --------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "kpa", "stays"),
    [(30.0, 10.001, True), (29.9, 10.001, False), (30.0, 10.0, False), (30.0, None, False)],
)
def test_vacuum_may_not_stay_30_s_after_the_pump(
    seconds: float, kpa: float | None, stays: bool
) -> None:
    supply = Supply(shut_s=70.0, idle_s=100.0 - seconds)
    doubt = after(0.0, supply, kpa)
    assert (doubt.stays, doubt.implausible) == (stays, stays)


def test_while_pump_or_valve_may_be_on_it_may_stay() -> None:
    assert not after(60.0, SHUT, 40.0).stays


# -- noise -------------------------------------------------------------------------------------


def rough(count: int, kpa: float) -> tuple[Mark, ...]:
    """Two up, two down: every second difference is ``2 kpa``, whatever the times."""
    return tuple((0.05 * n, 60.0 + kpa * (-1) ** (n // 2)) for n in range(count))


def test_scatter_is_worked_out_from_20_samples_on() -> None:
    """The third row of Pascal's triangle squared is 1 + 4 + 1 = 6; normal quartile 0.6745."""
    assert scatter(rough(20, 2.0)) == pytest.approx(4.0 / (0.6745 * 6.0**0.5))
    assert scatter(rough(19, 2.0)) is None


def test_scatter_is_of_the_second_differences() -> None:
    """numpy.diff of second order, of uneven numbers."""
    kpa = [60.0 + (7.0 * n * n) % 11.0 for n in range(50)]
    expected = np.median(np.abs(np.diff(kpa, n=2))) / (0.6745 * 6.0**0.5)
    assert scatter(tuple((0.05 * n, value) for n, value in enumerate(kpa))) == pytest.approx(
        expected
    )


@pytest.mark.parametrize(("kpa", "noisy"), [(2.47, False), (2.49, True)])
def test_noise_is_a_scatter_over_3_kpa_and_is_judged_by_new_values(kpa: float, noisy: bool) -> None:
    long = rough(40, kpa)
    for before in (Doubt(), Doubt(noisy=True)):
        for new in (True, False):
            view = replace(window(100.0, 60.0, new=new), long=long)
            doubt = look(before, TABLE, None, window=view, supply=Supply(), now_s=100.0)
            assert doubt.noisy is (noisy if new else before.noisy)
            assert doubt.implausible is doubt.noisy


def test_noise_of_exactly_the_limit_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    marks = rough(40, 2.4)
    monkeypatch.setattr(delays, "NOISE_KPA", scatter(marks))
    view = replace(window(100.0, 60.0), long=marks)
    assert not look(Doubt(), TABLE, None, window=view, supply=Supply(), now_s=100.0).noisy


# -- zero --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kpa", "drifted"),
    [
        (2.0, False), (2.001, True), (5.0, True), (5.001, False),
        (-2.0, False), (-2.001, True), (-5.0, True), (None, False),
    ],
)  # fmt: skip
def test_a_zero_is_off_beyond_2_and_up_to_5_kpa(kpa: float | None, drifted: bool) -> None:
    doubt = after(20.0, SHUT, kpa)
    assert doubt.drifted is drifted
    assert not doubt.implausible


@pytest.mark.parametrize(
    ("kpa", "drifted"), [(2.0, False), (2.001, True), (6.0, True), (-2.0, False), (None, True)]
)
def test_it_stays_off_until_it_is_seen_right(kpa: float | None, drifted: bool) -> None:
    assert after(20.0, SHUT, kpa, begin=Doubt(drifted=True)).drifted is drifted


@pytest.mark.parametrize(("slope", "drifted"), [(0.05, False), (0.049, True), (-0.05, False)])
def test_a_zero_is_looked_at_when_it_stands_still(slope: float, drifted: bool) -> None:
    assert after(20.0, SHUT, 3.0, slope=slope).drifted is drifted


def test_without_a_slope_it_counts_as_still() -> None:
    doubt = Doubt()
    for second in range(20):
        at_s = 100.0 + second
        view = Window(at_s, at_s, 3.0, new=True)
        doubt = look(doubt, TABLE, None, window=view, supply=SHUT, now_s=at_s)
    assert doubt.drifted


@pytest.mark.parametrize(("shut_s", "looks"), [(90.0, True), (90.1, False)])
def test_it_is_looked_at_from_10_s_after_the_valve_closed(shut_s: float, looks: bool) -> None:
    for kpa, timer in ((1.0, "low"), (3.0, "off")):
        doubt = after(0.0, Supply(shut_s=shut_s), kpa)
        assert (getattr(doubt, timer) != IDLE) is looks


def test_never_while_the_valve_is_open_or_not_known_nor_at_the_pump() -> None:
    for doubt in (after(30.0, Supply(), 3.0), after(30.0, SHUT, 3.0, setting=PUMP)):
        assert (doubt.drifted, doubt.low, doubt.off) == (False, IDLE, IDLE)


@pytest.mark.parametrize(("seconds", "said"), [(10.0, True), (9.0, False)])
def test_it_is_found_off_or_right_after_10_s(seconds: float, said: bool) -> None:
    assert after(seconds, SHUT, 3.0).drifted is said
    assert after(seconds, SHUT, 1.0, begin=Doubt(drifted=True)).drifted is not said


@pytest.mark.parametrize(("samples", "said"), [(9, True), (8, False)])
def test_it_takes_10_samples(samples: int, said: bool) -> None:
    """With the one that comes now."""
    long_since = Timer(80.0, (samples,))
    wrong = replace(Doubt(), off=long_since)
    assert after(0.0, SHUT, 3.0, begin=wrong).drifted is said
    right = replace(Doubt(drifted=True), low=long_since)
    assert after(0.0, SHUT, 1.0, begin=right).drifted is not said


def test_time_counts_up_to_where_samples_cover_it() -> None:
    """The newest sample is of 100 s, when 8 s of the 10 had passed."""
    for kpa, timer in ((3.0, "off"), (1.0, "low")):
        old = Window(100.0, 100.0, kpa)
        begin = replace(Doubt(drifted=kpa == 1.0), **{timer: Timer(92.0, (20,))})
        now = look(begin, TABLE, None, window=old, supply=SHUT, now_s=140.0)
        assert now.drifted is (kpa == 1.0)
        assert getattr(now, timer) == Timer(92.0, (20,))


def test_a_value_without_its_time_is_taken_for_now() -> None:
    view = Window(None, None, 3.0, new=True)
    now = look(Doubt(), TABLE, None, window=view, supply=SHUT, now_s=140.0)
    assert now.off == Timer(140.0, (1,))
