"""Each alarm by itself: the number just short of its limit, the moment it is raised and cleared.

Limits and delays are typed here a second time.  Those in the cut are the program's own; those of
maintenance are our own choice (common practice, no source).  A row without a case fails.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from interlock_site import INPUTS, TWO_GAUGES, kpa_of, plan_of, site_of
from interlock_world import World, reach

from kiosk.interlock import alarm_rows
from kiosk.interlock.commands import Name
from kiosk.interlock.facts import GaugeSetting
from kiosk.interlock.states import State
from kiosk.limits import Limits

Do = Callable[[World], None]
S = State
CALIBRATED = (GaugeSetting("table", "table", 1.0, 20.0, calibration_due="2026-12-31"),)
MOMENT = {"A22", "A24"}  # come at one moment and are latched: active for one step
LATE = 0.16  # s: two or three samples at 20 Hz beside a delay


@dataclass(frozen=True)
class Case:
    """``do`` stands just past a limit: raised after ``on_s``.  ``undo`` clears after ``off_s``.

    ``short`` does the same just short of the limit, and raises nothing.
    """

    code: str
    make: Callable[[], World]
    do: Do
    on_s: float = 0.0
    undo: Do | None = None
    off_s: float = 0.0
    short: Do | None = None
    short_s: float = 1.0
    by_window: bool = False  # over some time within ``off_s``, as a window of slopes forgets


def wired(*names: str, state: State = S.SELECT_JOB, **site: object) -> Callable[[], World]:
    return lambda: reach(state, site=site_of(inputs=INPUTS | set(names), **site))


def at(state: State, **changes: object) -> Callable[[], World]:
    return lambda: reach(state, **changes)


def ratio(value: float) -> Do:
    return lambda world: world.set_ratio(value)


def near(value: float) -> Callable[[], World]:
    """A cut that came slowly to this R, with the time-left warning out of the way."""

    def make() -> World:
        world = reach(S.CUTTING, site=site_of(limits=Limits(time_left_s=10.0)))
        world.ramp(value)
        world.run(16.0)
        return world

    return make


def put(name: str, value: object) -> Do:
    return lambda world: setattr(world, name, value)


def silent(world: World) -> None:
    world.set_vacuum(None)


def signal(name: str, value: bool) -> Do:
    return lambda world: world.inputs.__setitem__(name, value)


def pump_on_open_table(world: World) -> None:
    world.inputs.update(pump_running=True, valve_open=True)


def apart(kpa: float) -> Do:
    def do(world: World) -> None:
        world.vacuum["pump"] = world.vacuum["table"] + 3.0 + kpa  # type: ignore[operator]

    return do


def fall(kpa_per_s: float) -> Do:
    """From R = 1.28 on, so far that a time left can be told."""

    def do(world: World) -> None:
        for _ in range(round(13.0 / world.step_s)):
            world.set_vacuum(world.vacuum["table"] - kpa_per_s * world.step_s)  # type: ignore[operator]
            world.step()

    return do


def jump(kpa: float) -> Do:
    """Up and down again within 0.1 s, far above every limit of the hold."""

    def do(world: World) -> None:
        for value in (kpa_of(1.5), kpa_of(1.5) + kpa, kpa_of(1.5)):
            world.set_vacuum(value)
            world.step()

    return do


def quiet_io(world: World) -> None:
    world.io = False


def lost() -> World:
    """No value any more just now, and the program runs on."""
    world = reach(S.CUTTING)
    silent(world)
    while world.state is not S.HOLD_LOST:
        world.step()
    return world


def unpermitted() -> World:
    """A start without permit just now."""
    world = reach(S.READY)
    world.cycle(True)
    return world


def undo_zone(world: World) -> None:
    world.send(Name.UNDO_ZONE, zone="A")


def undo_and_redo_before_permit(world: World) -> None:
    world.send(Name.WITHDRAW)
    world.send(Name.UNDO_ZONE, zone="A")


def confirm_again(world: World) -> None:
    world.send(Name.CONFIRM_ZONE, zone="A")
    world.send(Name.CONFIRM_PART, warnings=["loose_offcut"])


def bypassable() -> World:
    world = reach(S.CHECKING)
    world.sign_on("supervisor")
    return world


def bypass(world: World) -> None:
    world.send(Name.BYPASS, check="signed_on", reason="other")


def end_bypass(world: World) -> None:
    world.send(Name.END_BYPASS, check="signed_on")


def pulls(*seconds: float) -> Do:
    """Pull-downs of these lengths, by the rise of the gauge, each after a vent."""

    def do(world: World) -> None:
        for length_s in seconds:
            world.set_vacuum(0.5)
            world.step()
            world.set_vacuum(30.0)
            world.run(length_s - world.step_s)
            world.set_vacuum(60.0)
            world.step()

    return do


def shut_with(kpa: float) -> Do:
    """The valve is closed and the gauge stays at this."""

    def do(world: World) -> None:
        world.inputs["valve_open"] = False
        world.vacuum["table"] = kpa

    return do


def open_valve() -> World:
    world = reach(S.SELECT_JOB)
    world.inputs["valve_open"] = True
    world.step()
    return world


def day(utc: str) -> Do:
    return lambda world: setattr(world, "utc", f"{utc}T00:00:00.000Z")


def free(share: float) -> Do:
    return lambda world: setattr(world, "log", replace(world.log, free_share=share))


def unsynced(hours: float) -> Do:
    def do(world: World) -> None:
        world.clock_synced = False
        world.step()
        world.step(hours * 3600.0)

    return do


def refuse(world: World) -> None:
    world.plan = plan_of(refused="no_cups")
    world.send(Name.SELECT_JOB, job="SR-1")


def drop(world: World) -> None:
    world.send(Name.CANCEL_JOB)


def start_without(world: World) -> None:
    world.cycle(True)


def first_round_running(world: World) -> None:
    world.inputs["cycle_running"] = True
    world.set_vacuum(60.0)


def first_round_stopped(world: World) -> None:
    world.set_vacuum(60.0)


CASES = (
    Case("A01", near(1.02), ratio(0.9999), 0.15, ratio(1.5), 0.0, ratio(1.0), 3.0),
    Case("A02", near(0.72), ratio(0.6999), 0.05, ratio(0.9), 0.3, ratio(0.70), 3.0,
         by_window=True),
    Case("A03", at(S.CUTTING), silent, 1.0, ratio(1.5), 2.0,
         silent, 0.95),
    Case("A04", at(S.CUTTING, site=site_of(gauges=TWO_GAUGES)), apart(10.1), 1.0, apart(0.0), 5.0,
         apart(9.9), 3.0),
    Case("A05", near(1.09), ratio(1.0699), 2.0, ratio(1.10), 5.0, ratio(1.07), 5.0),
    Case("A06", near(1.28), fall(0.6), 0.0, ratio(1.5), 20.0, fall(0.02), 1.0, by_window=True),
    Case("A07", at(S.CHECKING), ratio(1.1), 30.0, ratio(1.2), 0.0, ratio(1.1), 29.9),
    Case("A08", at(S.READY, site=site_of(gauges=TWO_GAUGES)), apart(3.1), 3.0, apart(0.0), 10.0,
         apart(3.0), 8.0),
    Case("A09", wired("pump_running"), pump_on_open_table, 30.0,
         lambda world: world.set_vacuum(0.1), 5.0, pump_on_open_table, 29.9),
    Case("A10", at(S.SELECT_JOB), quiet_io, 3.0, put("io", True), 5.0, quiet_io, 2.9),
    Case("A11", wired("on_battery"), signal("on_battery", True), 1.0,
         signal("on_battery", False), 10.0, signal("on_battery", True), 0.95),
    Case("A12", at(S.CUTTING), put("stuck", {"hold_healthy": False}), 0.5, put("stuck", {}), 0.0,
         put("stuck", {"hold_healthy": False}), 0.4),
    Case("A13", at(S.PERMIT), undo_zone, 0.0, confirm_again, 0.0, undo_and_redo_before_permit),
    Case("A14", bypassable, bypass, 0.0, end_bypass),
    Case("A15", at(S.SELECT_JOB), put("leak_ratio", 2.01), 0.0, put("leak_ratio", 1.0), 0.0,
         put("leak_ratio", 2.0)),
    Case("A16", at(S.CHECKING, site=site_of(pull_down_s=1.0)), pulls(1.0, 1.6, 1.6, 1.6), 0.0,
         pulls(1.0, 1.0, 1.0), 0.0, pulls(1.6, 1.6, 1.4, 1.4, 1.4)),
    Case("A17", wired("filter_loaded"), signal("filter_loaded", True), 60.0,
         signal("filter_loaded", False), 60.0, signal("filter_loaded", True), 59.9),
    Case("A18", open_valve, shut_with(2.1), 20.0, shut_with(1.9), 10.0, shut_with(2.0), 40.0),
    Case("A19", at(S.SELECT_JOB, site=site_of(gauges=CALIBRATED), utc="2026-11-01T00:00:00Z"),
         day("2026-12-01"), 0.0, day("2026-11-30"), 0.0, day("2026-11-30")),
    Case("A20", at(S.SELECT_JOB, site=site_of(lockout_inspected="2026-01-01"),
                   utc="2026-11-01T00:00:00Z"),
         day("2026-12-02"), 0.0, day("2026-12-01"), 0.0, day("2026-12-01")),
    Case("A21", at(S.SELECT_JOB), free(0.149), 60.0, free(0.15), 60.0, free(0.15), 70.0),
    Case("A21", at(S.SELECT_JOB), unsynced(24.01), 60.0, put("clock_synced", True), 60.0,
         unsynced(23.9), 70.0),
    Case("A22", at(S.READY), start_without, 0.0, lambda world: world.step(), 0.0,
         lambda world: world.send(Name.REQUEST_PERMIT)),
    Case("A23", at(S.SELECT_JOB), refuse, 0.05, drop),
    Case("A24", at(S.STARTING), first_round_running, 0.0, lambda world: world.step(), 0.0,
         first_round_stopped),
    Case("A25", at(S.PAUSED), lambda world: None, 120.0, lambda world: world.cycle(True), 0.0,
         lambda world: None, 119.9),
    Case("A26", lost, lambda world: None, 1.0, lambda world: world.cycle(False), 0.0,
         lambda world: None, 0.9),
    Case("A26", unpermitted, lambda world: None, 1.0, lambda world: world.cycle(False), 0.0,
         lambda world: None, 0.9),
    Case("A27", at(S.CUTTING), jump(30.1), 0.0, lambda world: None, 5.7, jump(29.9)),
)  # fmt: skip


def stands(world: World, code: str) -> bool:
    """Whether it stands; one of a moment counts while it is latched."""
    return any(a.code == code and (a.active or code in MOMENT) for a in world.shown.alarms)


IDS = [f"{case.code}-{number}" for number, case in enumerate(CASES)]


def test_every_alarm_has_a_case() -> None:
    assert {case.code for case in CASES} == set(alarm_rows.CODES)


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_it_is_raised_past_its_limit_after_its_delay_and_cleared_after_the_other(
    case: Case,
) -> None:
    world = case.make()
    assert case.code not in world.alarms()
    case.do(world)
    world.run(max(0.0, case.on_s - 0.1))
    assert case.on_s < 0.2 or case.code not in world.alarms()
    world.run(0.1 + LATE)
    assert stands(world, case.code)
    assert case.undo is not None
    case.undo(world)
    if case.off_s:
        world.run(case.off_s - 0.1)
        assert case.by_window or case.code in world.alarms()
    world.run(0.1 + LATE)
    assert case.code not in world.alarms()


SHORT = [case for case in CASES if case.short is not None]


@pytest.mark.parametrize("case", SHORT, ids=[f"{c.code}-{n}" for n, c in enumerate(SHORT)])
def test_just_short_of_its_limit_nothing_is_raised(case: Case) -> None:
    world = case.make()
    assert case.short is not None
    case.short(world)
    world.run(case.short_s)
    assert case.code not in world.alarms()


TOGETHER = {"A01", "A02", "A04", "A05", "A06"}  # a loss is told by level, fall and warning
ALONE = [case for case in CASES if case.code not in TOGETHER]


@pytest.mark.parametrize("case", ALONE, ids=[f"{c.code}-{n}" for n, c in enumerate(ALONE)])
def test_it_is_raised_alone(case: Case) -> None:
    """What stands for one thing stands for nothing else."""
    world = case.make()
    before = world.alarms()
    case.do(world)
    world.run(case.on_s + LATE)
    assert {a.code for a in world.shown.alarms if stands(world, a.code)} - before == {case.code}


# -- numbers that are said ---------------------------------------------------------------------

SAID = {
    "A01": (1.00, "ratio"), "A02": (0.70, "ratio"), "A03": (1.0, "s"), "A04": (10.0, "kPa"),
    "A05": (1.07, "ratio"), "A06": (10.0, "s"), "A07": (1.15, "ratio"), "A08": (3.0, "kPa"),
    "A09": (30.0, "s"), "A10": (3.0, "s"), "A11": (None, ""), "A12": (0.5, "s"), "A13": (None, ""),
    "A14": (None, ""), "A15": (2.0, "ratio"), "A16": (3.0, ""), "A17": (None, ""),
    "A18": (2.0, "kPa"), "A19": (30, "d"), "A20": (335, "d"), "A22": (None, ""),
    "A23": (None, ""), "A24": (None, ""), "A25": (120.0, "s"),
    "A26": (1.0, "s"), "A27": (2.0, ""),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_it_says_the_number_that_it_was_judged_by_and_the_limit(case: Case) -> None:
    world = case.make()
    case.do(world)
    world.run(case.on_s + LATE)
    shown = next(a for a in world.shown.alarms if a.code == case.code)
    disk = world.log.free_share is not None and world.log.free_share < 0.15
    either = (0.15, "share") if disk else (24.0, "h")
    assert (shown.limit, shown.unit) == (either if case.code == "A21" else SAID[case.code])
    if shown.limit is None:
        assert shown.value is None
        return
    falls = case.code in ("A01", "A02", "A05", "A06", "A07", "A19") or disk
    assert shown.value is not None
    assert shown.value <= shown.limit if falls else shown.value >= shown.limit - 1e-6
