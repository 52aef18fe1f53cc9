"""What a gauge has shown, at each limit exactly: docs/interlock.md.

Times are such that what is meant to lie on a limit does, to the last binary digit.  Limits
without a source named are our own choice (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest

from kiosk.interlock import delays
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.interlock.trend import Mark
from kiosk.interlock.window import Window, falls_fast, is_noisy, look, slope
from kiosk.limits import Limits

AIR_KPA = 100.0


def after(window: Window, at_s: float, kpa: float = 60.0, limits: Limits | None = None) -> Window:
    return look(window, Reading(kpa, kpa, at_s), at_s, AIR_KPA, limits or Limits())


# -- what is news ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("taken_s", "counts"), [(0.0, True), (0.1, True), (0.101, False), (nan, False), (-inf, False)]
)
@pytest.mark.parametrize("fault", [False, True])
def test_a_sample_may_be_dated_a_little_ahead(taken_s: float, counts: bool, fault: bool) -> None:
    sample = Fault(Why.SILENT, "", taken_s) if fault else Reading(60.0, 60.0, taken_s)
    window = look(Window(), sample, 0.0, AIR_KPA, Limits())
    assert (window.taken_s is not None) is counts
    assert window.new is (counts and not fault)


@pytest.mark.parametrize(("taken_s", "counts"), [(5.0, False), (5.1, True), (4.9, False)])
def test_only_a_younger_sample_is_news(taken_s: float, counts: bool) -> None:
    window = look(Window(taken_s=5.0), Reading(60.0, 60.0, taken_s), 6.0, AIR_KPA, Limits())
    assert window.new is counts


def test_what_is_not_news_and_what_is_doubtful_is_not_new() -> None:
    known = Window(taken_s=5.0, good_s=5.0, vacuum_kpa=60.0, new=True)
    assert look(known, None, 6.0, AIR_KPA, Limits()) == replace(known, new=False)
    silent = look(known, Fault(Why.SILENT, "", 6.0), 6.0, AIR_KPA, Limits())
    assert silent == replace(known, taken_s=6.0, fault=Why.SILENT, new=False)
    wild = look(known, Reading(400.0, 400.0, 6.0), 6.0, AIR_KPA, Limits())
    assert wild == replace(known, taken_s=6.0, fault=Why.OUT_OF_RANGE, new=False)
    good = after(replace(wild, new=False), 7.0)
    assert (good.fault, good.new, good.good_s) == (None, True, 7.0)


@pytest.mark.parametrize(
    ("good_s", "age_s"), [(None, None), (0.1, 0.0), (0.101, None), (0.0, 0.0), (-2.0, 2.0)]
)
def test_the_age_of_a_value(good_s: float | None, age_s: float | None) -> None:
    assert Window(good_s=good_s).age_s(0.0) == age_s


# -- the fast fall -----------------------------------------------------------------------------


def test_samples_nearer_than_10_ms_add_nothing() -> None:
    first = replace(after(Window(), 0.0), short=((0.0, 61.0),))
    assert after(first, 0.009).short == ((0.0, 61.0),)
    assert after(first, 0.01).short == ((0.0, 61.0), (0.01, 60.0))
    later = replace(first, taken_s=1.0, short=((1.0, 61.0),))
    assert after(later, 1.005).short == ((1.0, 61.0),)


def test_the_short_marks_just_cover_250_ms() -> None:
    """The first of them is the newest that is 250 ms old or older."""
    old = tuple((n / 16.0, 60.0) for n in range(9))  # 0 to 0.5 s
    kept = after(Window(taken_s=0.5, short=old), 0.5625).short
    assert [at_s for at_s, _ in kept] == [5 / 16, 6 / 16, 7 / 16, 8 / 16, 9 / 16]
    thin = ((0.0, 60.0), (1.0, 60.0), (2.0, 60.0))
    assert len(after(Window(taken_s=2.0, short=thin), 3.0).short) == 3


def falling(
    times: list[float], kpa_per_s: float, taken: dict[float, float] | None = None
) -> Window:
    """All marks at once, on a line, with some values other than it says."""
    marks = [(at_s, 60.0 + kpa_per_s * at_s) for at_s in times]
    marks = [(at_s, (taken or {}).get(at_s, kpa)) for at_s, kpa in marks]
    *before, (last_s, last_kpa) = marks
    start = Window(taken_s=before[-1][0], short=tuple(before)) if before else Window()
    return after(start, last_s, last_kpa)


@pytest.mark.parametrize(
    ("times", "known"),
    [
        ([0.0, 0.125, 0.25], True),
        ([0.0, 0.125, 0.249], False),
        ([0.0, 0.25], False),
        ([0.0], False),
        ([0.0, 0.25, 0.5], True),
    ],
)
def test_it_takes_3_samples_over_250_ms(times: list[float], known: bool) -> None:
    assert (falling(times, -20.0).fast_kpa_per_s is not None) is known


@pytest.mark.parametrize(("kpa_per_s", "falls"), [(-10.0, False), (-10.5, True), (-9.5, False)])
@pytest.mark.parametrize("count", [3, 6, 9])
def test_a_fall_is_fast_over_10_kpa_per_s(kpa_per_s: float, falls: bool, count: int) -> None:
    times = [n * 0.25 / (count - 1) for n in range(count)]
    assert falls_fast(falling(times, kpa_per_s)) is falls


def test_the_net_fall_must_be_as_fast_too() -> None:
    """One last sample 2.6 kPa up: the net fall is 10 kPa/s times 0.24 s."""
    times = [n / 32.0 for n in range(9)]
    assert falls_fast(falling(times, -20.0))
    assert not falls_fast(falling(times, -20.0, {0.25: 57.5}))
    assert falls_fast(falling(times, -20.0, {0.25: 57.49}))


@pytest.mark.parametrize(("count", "falls"), [(5, False), (6, True)])
def test_from_6_samples_on_the_last_alone_moves_nothing_and_is_not_asked(
    count: int, falls: bool
) -> None:
    """Level but for the first, which is high: without it there is no fall."""
    marks = tuple((n * 0.25 / (count - 1), 60.0 if n else 63.0) for n in range(count))
    assert falls_fast(Window(short=marks, fast_kpa_per_s=-20.0)) is falls


def test_a_slope_of_just_10_kpa_per_s_is_not_fast_whatever_the_net_fall() -> None:
    marks = tuple((n / 32.0, 60.0 - n) for n in range(9))
    assert falls_fast(Window(short=marks, fast_kpa_per_s=-10.001))
    assert not falls_fast(Window(short=marks, fast_kpa_per_s=-10.0))


def test_without_a_fast_slope_nothing_falls() -> None:
    assert not falls_fast(Window())
    level = tuple((n / 32.0, 60.0) for n in range(9))
    assert not falls_fast(Window(short=level, fast_kpa_per_s=None))


# -- settling and scatter ----------------------------------------------------------------------


def test_long_marks_are_thinned_to_120_over_5_s() -> None:
    step_s = 5.0 / 120.0
    known = Window(taken_s=0.0, long=((0.0, 60.0),))
    assert len(after(known, step_s).long) == 2
    assert len(after(known, step_s - 1e-9).long) == 1
    later = Window(taken_s=1.0, long=((1.0, 60.0),))
    assert len(after(later, 1.02).long) == 1
    assert len(after(later, 1.05).long) == 2


@pytest.mark.parametrize(("settle_s", "first_s"), [(3.0, 3.0), (7.0, 1.0)])
def test_the_long_marks_cover_settling_and_scatter(settle_s: float, first_s: float) -> None:
    """5 s for the scatter, or the site's settling time where that is longer."""
    old = tuple((float(n), 60.0) for n in range(8))
    window = after(Window(taken_s=7.0, long=old), 8.0, limits=Limits(settle_s=settle_s))
    assert [at_s for at_s, _ in window.long] == [first_s + n for n in range(9 - int(first_s))]


def test_of_marks_that_are_all_old_the_newest_stays() -> None:
    old = tuple((float(n), 60.0) for n in range(3))
    assert after(Window(taken_s=2.0, long=old), 20.0).long == ((2.0, 60.0), (20.0, 60.0))


def settling(marks: tuple[Mark, ...], limits: Limits | None = None) -> float | None:
    *before, (at_s, kpa) = marks
    known = Window(taken_s=before[-1][0], long=tuple(before))
    return after(known, at_s, kpa, limits).settling_kpa_per_s


def every(step_s: float, count: int, from_s: float = 0.0) -> tuple[Mark, ...]:
    return tuple((from_s + n * step_s, 60.0 - 2.0 * n * step_s) for n in range(count))


@pytest.mark.parametrize(
    ("step_s", "count", "known"),
    [
        (0.25, 13, True), (0.25, 12, False), (0.3125, 11, True),
        (0.375, 9, False), (0.375, 14, False),
    ],
)  # fmt: skip
def test_settling_takes_3_s_and_10_samples(step_s: float, count: int, known: bool) -> None:
    """13 marks 0.25 s apart cover 3 s; nine 0.375 s apart do too, and are nine."""
    found = settling(every(step_s, count))
    assert found == (pytest.approx(-2.0) if known else None)


def test_exactly_10_samples_are_enough() -> None:
    third = 3.0 / 9.0
    marks = (*((n * third, 60.0) for n in range(9)), (3.0, 60.0))
    assert settling(marks) == 0.0


def test_older_marks_do_not_count_for_settling() -> None:
    """Steep before the newest 3 s, level in them."""
    steep = tuple((n * 0.25, 90.0 - 10.0 * n) for n in range(4))
    level = tuple((1.0 + n * 0.25, 60.0) for n in range(13))
    assert settling(steep + level) == 0.0


def gapped(gap_s: float) -> tuple[Mark, ...]:
    """3 s and more of marks every 0.125 s, with a gap that ends at 2 s."""
    early = tuple((2.0 - gap_s - n * 0.125, 60.0) for n in reversed(range(20)))
    return early + tuple((2.0 + n * 0.125, 60.0) for n in range(17))


@pytest.mark.parametrize(("gap_s", "known"), [(0.54, True), (0.55, False)])
def test_settling_is_not_known_over_a_gap(gap_s: float, known: bool) -> None:
    """stale_s is 0.5 s, and marks are thinned to one in 0.0417 s: 0.5417 s."""
    assert (settling(gapped(gap_s)) is not None) is known


def test_a_gap_of_just_that_length_is_one() -> None:
    gap_s = 0.5 + 5.0 / 120.0
    marks = tuple((-n * 0.125 - gap_s, 60.0) for n in reversed(range(30)))
    marks += ((0.0, 60.0), (0.125, 60.0), (0.25, 60.0))
    assert (0.0 - marks[29][0]) == gap_s
    assert settling(marks) is None


def test_a_gap_before_the_newest_mark_is_one() -> None:
    marks = tuple((n * 0.125, 60.0) for n in range(30))
    assert settling((*marks, (5.0, 60.0))) is None


def test_a_gap_before_the_3_s_does_not_matter() -> None:
    old = tuple((n * 0.125, 60.0) for n in range(5))
    new = tuple((2.0 + n * 0.125, 60.0) for n in range(25))
    assert settling(old + new) == 0.0
    assert settling(old + new[1:]) is None


def test_a_single_mark_does_not_settle() -> None:
    assert after(Window(), 1.0).settling_kpa_per_s is None


# -- electrical noise --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kpa", "passed_s", "jump"),
    [(60.0, 0.0625, False), (90.0, 0.0625, False), (90.1, 0.0625, True), (29.9, 0.1, True),
     (30.0, 0.1, False), (29.9, 0.101, False)],
)  # fmt: skip
def test_a_jump_is_over_30_kpa_within_100_ms(kpa: float, passed_s: float, jump: bool) -> None:
    known = Window(taken_s=0.0, good_s=0.0, vacuum_kpa=60.0)
    assert after(known, passed_s, kpa).jumps_s == ((passed_s,) if jump else ())


@pytest.mark.parametrize(("good_s", "kpa"), [(None, 5.0), (0.0, None), (None, None)])
def test_without_a_value_before_there_is_no_jump(good_s: float | None, kpa: float | None) -> None:
    known = Window(taken_s=0.0, good_s=good_s, vacuum_kpa=kpa, jumps_s=(0.0,))
    assert after(known, 0.0625, 90.0).jumps_s == (0.0,)


@pytest.mark.parametrize(("jump_s", "kept"), [(1.0, False), (1.001, True)])
def test_jumps_count_for_a_second(jump_s: float, kept: bool) -> None:
    known = Window(taken_s=1.5, good_s=1.5, vacuum_kpa=60.0, jumps_s=(jump_s,))
    assert after(known, 2.0).jumps_s == ((jump_s,) if kept else ())
    twice = Window(jumps_s=(jump_s, 1.5))
    assert is_noisy(twice, 2.0) is kept
    assert not is_noisy(Window(jumps_s=(1.5,)), 2.0)
    assert delays.JUMPS == 2


# -- slopes ------------------------------------------------------------------------------------


def test_a_slope_needs_two_times() -> None:
    assert slope(()) is None
    assert slope(((1.0, 60.0),)) is None
    assert slope(((1.0, 60.0), (1.0, 61.0))) is None
    assert slope(((1.0, 60.0), (1.25, 61.0))) == 4.0


def test_the_slope_of_a_machine_that_has_run_for_months_is_exact() -> None:
    """1e7 s are 116 days: squares of such times leave no digits for 50 ms."""
    marks = tuple((1e7 + n / 16.0, 60.0 - n / 8.0) for n in range(64))
    assert slope(marks) == pytest.approx(-2.0, rel=1e-9)
