"""The gauges against the plan: what is not known, or no number, is never enough.

Closed form of the hold: R = (vacuum - drop - gauge error) / minimum; docs/interlock.md.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest
from interlock_site import TWO_GAUGES, kpa_of, plan_of, site_of

from kiosk.interlock.facts import GaugeSetting, PlanFacts
from kiosk.interlock.measure import Seen, gauge_now, minimum_of, see
from kiosk.interlock.reading import Why
from kiosk.interlock.trend import NEVER, Slope, Trend, Turn
from kiosk.interlock.window import Window
from kiosk.limits import Limits

TABLE = GaugeSetting("table", "table", 1.0, 20.0)


def shows(kpa: float | None, at_s: float = 100.0) -> Window:
    return Window(taken_s=at_s, good_s=at_s, vacuum_kpa=kpa, new=True)


def test_a_site_without_a_gauge_shows_nothing_and_no_flag() -> None:
    seen = see(site_of(gauges=()), {}, plan_of(), 100.0)
    assert seen.minimum_kpa == 40.0
    assert (seen.ratio, seen.vacuum_kpa, seen.gauges, seen.left) == (None, None, (), NEVER)
    assert not any((seen.valid, seen.fresh, seen.good, seen.plausible, seen.settled))


@pytest.mark.parametrize(
    ("minimum_kpa", "known"),
    [(None, None), (nan, None), (inf, None), (0.0, None), (-5.0, None), (0.1, 20.0), (19.9, 20.0),
     (20.1, 20.1), (40.0, 40.0)],
)  # fmt: skip
def test_a_minimum_is_a_number_above_zero_and_never_below_the_floor(
    minimum_kpa: float | None, known: float | None
) -> None:
    assert minimum_of(plan_of(minimum_kpa=minimum_kpa), site_of()) == known
    assert minimum_of(None, site_of()) is None


@pytest.mark.parametrize("wrong", [nan, inf, -0.1, None])
def test_a_drop_or_an_error_that_is_no_number_makes_the_minimum_unknown(
    wrong: float | None,
) -> None:
    site = site_of(gauges=TWO_GAUGES)
    for name in ("table", "pump"):
        drops = plan_of(drops_kpa={"table": 2.0, "pump": 5.0, name: wrong})
        errors = plan_of(errors_kpa={"table": 1.0, "pump": 1.0, name: wrong})
        assert minimum_of(drops, site) is None
        assert minimum_of(errors, site) is None


def test_no_drop_and_no_error_at_all_are_numbers() -> None:
    plan = plan_of(drops_kpa={"table": 0.0}, errors_kpa={"table": 0.0})
    assert minimum_of(plan, site_of()) == 40.0


def test_a_gauge_needs_the_minimum_with_drop_and_error() -> None:
    now = gauge_now(TABLE, shows(63.0), plan_of(), 40.0, now_s=100.0, limits=Limits())
    assert (now.needs_kpa, now.ratio) == (43.0, pytest.approx(1.5))
    plans: tuple[PlanFacts | None, ...] = (None, plan_of())
    for plan, minimum_kpa in zip(plans, (40.0, None), strict=True):
        now = gauge_now(TABLE, shows(63.0), plan, minimum_kpa, now_s=100.0, limits=Limits())
        assert (now.needs_kpa, now.ratio, now.left) == (None, None, NEVER)


@pytest.mark.parametrize(("back_kpa", "counts"), [(kpa_of(1.08), False), (kpa_of(1.06), True)])
def test_a_level_it_came_back_from_counts_only_above_the_warning(
    back_kpa: float, counts: bool
) -> None:
    """The warning stands at R = 1.07, 45.8 kPa on this gauge; a pump that cycles comes back."""
    slope = Slope(-0.5, -0.5, -0.5, inf, inf)
    trend = Trend(slope=slope, turn=Turn(low_kpa=back_kpa, at_s=95.0))
    window = replace(shows(kpa_of(1.2)), trend=trend)
    now = gauge_now(TABLE, window, plan_of(), 40.0, now_s=100.0, limits=Limits())
    assert (now.left.latest_s is not None) is counts


def test_the_gauge_with_less_to_spare_decides_and_the_first_of_equals() -> None:
    """R of both is 1.5 at 63 and 66 kPa."""
    site = site_of(gauges=TWO_GAUGES)
    for table, pump, name in ((63.0, 66.0, "table"), (63.0, 65.9, "pump"), (62.9, 66.0, "table")):
        seen = see(site, {"table": shows(table), "pump": shows(pump)}, plan_of(), 100.0)
        assert seen.deciding is not None
        assert seen.deciding.setting.name == name
        assert seen.ratio == seen.deciding.ratio


def test_one_old_gauge_makes_all_of_them_old() -> None:
    site = site_of(gauges=TWO_GAUGES)
    for age_s, fresh, valid in ((0.49, True, True), (0.5, False, True), (1.0, False, False)):
        windows = {"table": shows(63.0), "pump": shows(66.0, 100.0 - age_s)}
        seen = see(site, windows, plan_of(), 100.0)
        assert (seen.fresh, seen.valid) == (fresh, valid)


def test_the_vacuum_at_the_part_is_that_of_the_table_and_known_of_every_gauge_there() -> None:
    site = site_of(gauges=TWO_GAUGES)
    seen = see(site, {"table": shows(60.0), "pump": shows(80.0)}, plan_of(), 100.0)
    assert (seen.vacuum_kpa, seen.apart_kpa) == (60.0, pytest.approx(17.0))
    seen = see(site, {"table": shows(None), "pump": shows(80.0)}, plan_of(), 100.0)
    assert (seen.vacuum_kpa, seen.apart_kpa) == (None, None)
    both = site_of(gauges=(TABLE, replace(TABLE, name="pump")))
    seen = see(both, {"table": shows(60.0), "pump": shows(80.0)}, plan_of(), 100.0)
    assert seen.vacuum_kpa == 80.0  # whatever is left there holds the part


def one(window: Window, **site: object) -> Seen:
    return see(site_of(**site), {"table": window}, plan_of(), 100.0)


@pytest.mark.parametrize(
    ("slope", "age_s", "settled"),
    [(0.49, 0.0, True), (-0.49, 0.0, True), (0.5, 0.0, False), (-0.5, 0.0, False),
     (None, 0.0, False), (0.1, 0.5, False)],
)  # fmt: skip
def test_settled_is_a_fresh_value_that_moves_slower_than_half_a_kpa_a_second(
    slope: float | None, age_s: float, settled: bool
) -> None:
    window = replace(shows(63.0, 100.0 - age_s), settling_kpa_per_s=slope)
    assert one(window).settled is settled


@pytest.mark.parametrize(
    ("fault", "good", "plausible"),
    [(None, True, True), (Why.SILENT, True, True), (Why.GARBLED, True, True),
     (Why.BROKEN, False, True), (Why.OUT_OF_RANGE, False, False)],
)  # fmt: skip
def test_a_line_is_judged_by_age_and_a_gauge_by_what_it_says_of_itself(
    fault: Why | None, good: bool, plausible: bool
) -> None:
    seen = one(replace(shows(63.0), fault=fault))
    assert (seen.good, seen.plausible) == (good, plausible)
    never = one(Window(fault=fault))
    assert (never.good, never.plausible) == (False, False)


def test_a_gauge_at_the_pump_alone_stands_for_the_part() -> None:
    site = site_of(gauges=(TWO_GAUGES[1],))
    assert see(site, {"pump": shows(66.0)}, plan_of(), 100.0).vacuum_kpa == 66.0


def test_gauges_are_apart_only_where_there_are_two_and_a_plan() -> None:
    site, windows = site_of(gauges=TWO_GAUGES), {"table": shows(60.0), "pump": shows(80.0)}
    assert see(site, windows, None, 100.0).apart_kpa is None
    assert see(site, windows, plan_of(minimum_kpa=None), 100.0).apart_kpa is None
    assert one(shows(60.0)).apart_kpa is None
