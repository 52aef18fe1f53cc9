"""Stories: each event of the table as it comes about in the world, and what is left after it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_world import (
    OFFER,
    OUTPUTS,
    TWO_GAUGES,
    World,
    plan_of,
    reach,
    site_of,
)

from kiosk.interlock.commands import Name
from kiosk.interlock.facts import LogFacts, PlannerAnswer
from kiosk.interlock.reading import Signals, Why
from kiosk.interlock.states import State

S, N = State, Name
ADVICE = site_of(advice_only=True, inputs=frozenset(), outputs=frozenset())


def moves(world: World) -> list[tuple[str, str, str]]:
    """Every logged move or event: from, event, to."""
    return [(row["from"], row["event"], row["to"]) for row in world.of_kind("state")]


def log_with(**changes: object) -> LogFacts:
    log = LogFacts(True, True, None, True, 0.5, None, None)
    return replace(log, **changes)  # type: ignore[arg-type]


# -- starting ----------------------------------------------------------------------------------


def test_starting_lasts_until_everything_that_is_wired_was_seen_once() -> None:
    world = World(io=False)
    world.vacuum["table"] = Why.CLOSED
    world.run(5.0)
    assert (world.state, world.outputs) == (S.STARTING, (False, False))
    assert world.shown.waiting_for == ("gauge", "inputs", "contacts")
    world.set_vacuum(0.0)
    world.step()
    assert world.shown.waiting_for == ("inputs", "contacts")
    world.set_vacuum(None)
    world.io = True
    world.step()
    assert (world.state, world.shown.waiting_for) == (S.SELECT_JOB, ())
    assert moves(world) == [("STARTING", "first_round", "SELECT JOB")]


def test_nothing_is_commanded_while_starting() -> None:
    world = reach(S.STARTING)
    assert world.send(N.SELECT_JOB, job=OFFER.file) == "not_now"
    assert world.send(N.WITHDRAW) == "not_now"
    assert world.send(N.UNDO_ZONE, zone="A") == "not_now"
    assert world.shown.allowed == ("get_plan",)


def test_vacuum_found_at_the_start_is_a_part_held() -> None:
    world = World()
    world.part_held()
    assert world.shown.release == "may_release"
    assert world.shown.details == {"vented_kpa": 2.0}


@pytest.mark.parametrize(("kpa", "state"), [(2.0, S.PART_HELD), (1.99, S.SELECT_JOB)])
def test_a_part_is_held_from_2_kpa(kpa: float, state: State) -> None:
    world = World()
    world.set_vacuum(kpa)
    world.step()
    assert world.state is state


def test_a_guard_that_comes_back_in_the_cut_withholds_everything() -> None:
    world = World()
    world.set_ratio(1.5)
    world.inputs.update(cycle_running=True, standstill=False)
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert [a.code for a in world.shown.alarms] == ["A24"]
    assert world.shown.cycle == "e1-1"
    world.cycle(False)
    assert world.send(N.RESET, cause="other") is None
    assert world.state is S.RELEASE


@pytest.mark.parametrize("gauge", [None, Why.SILENT])
def test_a_cycle_that_ran_before_everything_was_seen_is_told_of(gauge: Why | None) -> None:
    world = World()
    world.set_vacuum(gauge)
    world.run(1.0)
    world.cycle(True)
    world.run(5.0)
    world.cycle(False)
    world.run(1.0)
    assert (world.state, world.outputs) == (S.STARTING, (False, False))
    world.set_vacuum(0.0)
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert [(a.code, a.latched) for a in world.shown.alarms] == [("A24", True)]
    assert moves(world) == [("STARTING", "first_round", "HOLD LOST")]
    assert world.send(N.RESET, cause="other") is None
    assert world.state is S.RELEASE


def test_a_cycle_seen_while_the_contacts_are_not_read_back_is_told_of() -> None:
    world = World(stuck={"start_permit": None})  # type: ignore[dict-item]
    world.step()
    world.cycle(True)
    world.cycle(False)
    assert (world.state, world.shown.waiting_for) == (S.STARTING, ("contacts",))
    world.stuck.clear()
    world.step()
    assert world.state is S.HOLD_LOST


def test_a_cycle_under_the_key_before_everything_was_seen_is_not() -> None:
    world = World()
    world.set_vacuum(None)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    world.cycle(False)
    world.inputs["key_bypass"] = False
    world.set_vacuum(0.0)
    world.step()
    assert world.state is S.SELECT_JOB


def test_without_contacts_a_cycle_before_everything_was_seen_latches_nothing() -> None:
    world = World(site=site_of(advice_only=True, outputs=frozenset()))
    world.set_vacuum(None)
    world.cycle(True)
    world.cycle(False)
    world.set_vacuum(0.0)
    world.step()
    assert (world.state, world.shown.alarms) == (S.SELECT_JOB, ())


@pytest.mark.parametrize(
    ("log", "code"),
    [
        (log_with(latch="HOLD LOST"), "A01"),
        (log_with(latch="NO PERMIT"), "A22"),
        (log_with(readable=False), "A24"),
    ],
)
def test_a_latch_outlives_the_guard_that_set_it(log: LogFacts, code: str) -> None:
    world = World(log=log)
    world.step()
    assert world.state is S.HOLD_LOST
    assert [a.code for a in world.shown.alarms] == [code]
    assert world.shown.alarms[0].latched
    world.run(1.0)
    assert world.send(N.RESET, cause="other") is None
    assert (world.state, world.shown.alarms) == (S.RELEASE, ())


def test_a_first_log_is_not_an_unreadable_one() -> None:
    world = World(log=log_with(exists=False, readable=False))
    world.step()
    assert world.state is S.SELECT_JOB


def test_seats_confirmed_before_are_asked_for_once_as_a_whole_map() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"A", "B"})))
    world.select()
    assert world.shown.map_kept
    assert [(z.confirmed, z.kept) for z in world.shown.zones] == [(False, True), (False, True)]
    assert world.shown.seats_up == 0
    assert world.send(N.CONFIRM_MAP) is None
    assert [(z.confirmed, z.kept) for z in world.shown.zones] == [(True, False), (True, False)]
    assert not world.shown.map_kept


def test_only_the_zones_that_stood_confirmed_are_kept() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"B", "gone"})))
    world.select()
    assert [(z.name, z.kept) for z in world.shown.zones] == [("A", False), ("B", True)]
    assert world.send(N.CONFIRM_MAP) is None
    assert [z.confirmed for z in world.shown.zones] == [False, True]
    world.confirm()


def test_another_plan_keeps_no_seats() -> None:
    kept = plan_of(digest="other")
    world = World(log=log_with(logged_plan=kept, logged_zones=frozenset({"A", "B"})))
    world.select()
    assert not world.shown.map_kept
    assert world.send(N.CONFIRM_MAP) == "not_now"


def test_a_logged_plan_is_taken_again_over_a_held_part() -> None:
    world = World(log=log_with(logged_plan=plan_of(), logged_zones=frozenset({"A", "B"})))
    world.part_held()
    assert world.send(N.RETAKE_PLAN) is None
    assert (world.state, world.shown.map_kept, world.shown.cycle) == (S.SET_UP, True, "e1-1")
    assert world.of_kind("plan")[-1]["change"] == "adopted"


def test_a_logged_plan_that_is_not_sound_is_not_taken_again() -> None:
    for plan in (plan_of(drops_kpa={}), plan_of(refused="no_cups")):
        world = World(log=log_with(logged_plan=plan))
        world.part_held()
        assert "retake_plan" not in world.shown.allowed
        assert world.send(N.RETAKE_PLAN) == "not_now"


# -- the cycle ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "state", [S.PART_HELD, S.SELECT_JOB, S.SET_UP, S.CHECKING, S.READY, S.RELEASE]
)
def test_a_start_without_permit_latches(state: State) -> None:
    world = reach(state)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.NO_PERMIT, (False, False))
    assert "A22" in world.alarms()
    assert world.shown.feed_hold_asked_s == 0.0
    assert world.shown.cycle is not None
    world.cycle(False)
    assert world.state is S.NO_PERMIT


def test_a_pause_goes_on_under_the_same_permit() -> None:
    world = reach(S.PAUSED)
    assert world.shown.pause_left_s == pytest.approx(120.0)
    world.run(60.0)
    assert world.shown.pause_left_s == pytest.approx(60.0)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.CUTTING, (True, True))


def test_a_pause_that_ended_goes_on_only_with_a_new_permit() -> None:
    world = reach(S.PAUSED)
    world.run(122.0)
    assert world.state is S.READY
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def test_a_start_that_crossed_with_a_loss_of_proof_does_not_count() -> None:
    """Only a permit that a person or the time took back may be crossed."""
    world = reach(S.PERMIT)
    world.log = replace(world.log, writable=False)
    world.step()
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def withdrawn_at(ratio: float) -> World:
    """The permit just taken back at this R, which stands as proved."""
    world = reach(S.CHECKING)
    world.set_ratio(ratio)
    world.run(5.0)
    assert world.send(N.REQUEST_PERMIT) is None
    assert world.send(N.WITHDRAW) is None
    return world


def test_a_start_that_crossed_does_not_count_while_the_hold_falls_fast() -> None:
    """R is still over 1.00, but falls as in a loss."""
    world = withdrawn_at(1.31)
    for ratio in (1.27, 1.23, 1.19, 1.15, 1.11, 1.08):
        world.set_ratio(ratio)
        world.step()
    world.set_ratio(1.05)
    world.cycle(True)
    assert (world.state, world.outputs) == (S.NO_PERMIT, (False, False))


@pytest.mark.parametrize(("seconds", "state"), [(0.1, S.NO_PERMIT), (0.0, S.CUTTING)])
def test_a_start_that_crossed_does_not_count_while_gauges_begin_to_be_far_apart(
    seconds: float, state: State
) -> None:
    world = reach(S.PERMIT, site=site_of(gauges=TWO_GAUGES))
    assert world.send(N.WITHDRAW) is None
    if seconds:
        world.vacuum["pump"] = world.vacuum["table"] + 20.0  # type: ignore[operator]
        world.run(seconds)
    world.cycle(True)
    assert world.state is state


def test_a_crossing_is_forgotten_with_the_set_up() -> None:
    world = reach(S.PERMIT)
    world.send(N.WITHDRAW)
    world.send(N.UNDO_ZONE, zone="A")
    world.send(N.CONFIRM_ZONE, zone="A")
    world.send(N.CONFIRM_PART, warnings=["loose_offcut"])
    world.cycle(True)
    assert world.state is S.NO_PERMIT


def test_a_start_in_the_step_in_which_the_permit_ends_counts() -> None:
    world = reach(S.PERMIT)
    world.run(59.95)
    world.cycle(True)
    assert world.state is S.CUTTING
    assert [m[1] for m in moves(world)][-2:] == ["expired", "cycle_started"]


@pytest.mark.parametrize("ratio", [1.2, 1.05])
def test_a_stop_and_a_loss_in_one_step_are_a_loss(ratio: float) -> None:
    world = reach(S.CUTTING)
    world.set_ratio(0.6)
    world.step()
    world.inputs.update(cycle_running=False, standstill=False)
    world.step()
    assert world.state is S.HOLD_LOST


@pytest.mark.parametrize(("standstill", "state"), [(True, S.CHECKING), (False, S.HOLD_LOST)])
@pytest.mark.parametrize("how", ["hold", "data"])
def test_a_loss_in_a_pause(standstill: bool, state: State, how: str) -> None:
    world = reach(S.PAUSED)
    world.inputs["standstill"] = standstill
    if how == "hold":
        world.set_ratio(1.12)  # 15 kPa at once: a fast fall that stays above the pause's level
        world.run(0.3)
    else:
        world.set_vacuum(None)
        world.step(1.2)
    assert world.state is state
    codes = {a.code for a in world.shown.alarms if a.latched}
    assert codes == ({"A02" if how == "hold" else "A03"} if state is S.HOLD_LOST else set())


def test_a_loss_too_quick_for_its_delay_while_the_pause_ends_is_a_loss_all_the_same() -> None:
    """R under 1.10 ends the pause at once, before R under 0.70 has stood for its 50 ms."""
    world = reach(S.PAUSED)
    world.set_ratio(0.5)
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))
    world.step()
    assert (world.state, world.outputs) == (S.HOLD_LOST, (False, False))
    assert {a.code for a in world.shown.alarms if a.latched} == {"A02"}
    assert moves(world)[-2:] == [
        ("PAUSED", "unproved", "CHECKING"),
        ("CHECKING", "hold_lost", "HOLD LOST"),
    ]


@pytest.mark.parametrize("fault", [None, Why.SILENT, Why.BROKEN])
def test_a_gauge_that_goes_silent_in_a_pause_is_a_loss_while_the_spindle_turns(
    fault: Why | None,
) -> None:
    world = reach(S.PAUSED)
    world.set_vacuum(fault)
    world.run(0.95)
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))
    world.run(0.1)
    assert world.state is S.HOLD_LOST
    assert {a.code for a in world.shown.alarms if a.latched} == {"A03"}


@pytest.mark.parametrize("how", ["hold_low", "unproved", "io_lost", "key_on", "screen_lost"])
def test_however_a_pause_ended_a_loss_counts_while_the_spindle_turns(how: str) -> None:
    world = reach(S.PAUSED)
    if how == "hold_low":
        world.ramp(1.25, 0.6)
    elif how == "unproved":
        world.self_test = False
    elif how == "io_lost":
        world.io = False
    elif how == "key_on":
        world.inputs["key_bypass"] = True
    else:
        world.screen_alive = False
        world.run(1.95)
    world.step()
    assert ("PAUSED", how, "CHECKING") in moves(world)
    assert world.state is S.CHECKING
    world.ramp(0.9)
    world.run(0.3)
    assert world.state is S.HOLD_LOST
    assert "A01" in {a.code for a in world.shown.alarms if a.latched}


def test_after_a_pause_standstill_that_was_known_once_makes_a_loss_no_loss_in_the_cut() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    assert world.state is S.CHECKING
    world.inputs["standstill"] = True
    world.step()
    world.inputs["standstill"] = False  # set up by hand
    world.ramp(0.5)
    world.run(1.5)
    assert world.state is S.CHECKING
    assert world.shown.alarms == ()


def test_a_hold_that_is_proved_again_after_a_pause_starts_anew() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    world.ramp(1.5)
    world.run(4.0)
    assert world.state is S.READY
    world.ramp(0.9)
    world.run(1.0)
    assert world.state is S.CHECKING
    assert world.shown.alarms == ()


def test_a_hold_that_came_back_but_is_not_proved_again_may_still_be_lost() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    world.ramp(1.12)
    world.run(5.0)
    assert world.state is S.CHECKING
    world.ramp(0.9)
    world.run(0.3)
    assert world.state is S.HOLD_LOST


def test_a_part_finished_after_a_pause_may_be_released() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.05)
    assert world.send(N.FINISH) is None
    world.set_vacuum(0.5)
    world.run(4.0)
    assert (world.state, world.shown.alarms) == (S.RELEASE, ())


def test_a_fall_of_8_kpa_per_s_leaves_no_time_to_warn() -> None:
    """From R = 1.30 to 1.00 are 12 kPa: 1.5 s, less than the 2 s of the warning."""
    world = reach(S.CUTTING)
    world.ramp(0.9, 8.0)
    assert world.state is S.HOLD_LOST
    assert moves(world)[-1] == ("CUTTING", "hold_lost", "HOLD LOST")


def test_a_falling_hold_ends_a_pause() -> None:
    world = reach(S.PAUSED)
    world.ramp(1.25, 0.6)
    assert world.state is S.CHECKING
    assert ("PAUSED", "hold_low", "CHECKING") in moves(world)


# -- the maker's key ---------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.SELECT_JOB, S.SET_UP, S.CHECKING, S.RELEASE, S.PART_HELD])
def test_under_the_key_a_start_stays_and_is_logged_once(state: State) -> None:
    world = reach(state)
    world.inputs["key_bypass"] = True
    world.step()
    assert "KEY BYPASS" in world.shown.flags
    world.cycle(True)
    world.run(1.0)
    assert (world.state, world.outputs) == (state, (False, False))
    assert moves(world).count((state.value, "cycle_started", state.value)) == 1
    assert moves(world).count((state.value, "key_on", state.value)) == 1
    world.cycle(False)
    assert world.state is state
    world.inputs["key_bypass"] = False
    world.step()
    assert (state.value, "key_off", state.value) in moves(world)


@pytest.mark.parametrize("state", [S.READY, S.PERMIT, S.PAUSED])
def test_the_key_takes_the_permit_back(state: State) -> None:
    world = reach(state)
    world.inputs["key_bypass"] = True
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


def test_a_start_in_the_step_in_which_the_key_comes_on_is_under_the_key() -> None:
    world = reach(S.PERMIT)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


@pytest.mark.parametrize("state", [S.CUTTING, S.LOW_HOLD])
def test_the_key_changes_nothing_in_the_cut(state: State) -> None:
    world = reach(state)
    before = world.outputs
    world.inputs["key_bypass"] = True
    world.run(1.0)
    assert (world.state, world.outputs) == (state, before)


def test_a_program_that_goes_on_after_the_key_was_turned_back_has_no_permit() -> None:
    world = reach(S.CHECKING)
    world.inputs["key_bypass"] = True
    world.cycle(True)
    assert world.state is S.CHECKING
    world.inputs["key_bypass"] = False
    world.step()
    assert world.state is S.NO_PERMIT


# -- machine signals ---------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.READY, S.PERMIT, S.PAUSED])
def test_lost_signals_take_the_permit_back_at_once(state: State) -> None:
    world = reach(state)
    world.io = False
    world.step()
    assert (world.state, world.outputs) == (S.CHECKING, (False, False))


def test_signals_that_come_back_after_a_moment_in_the_cut_change_nothing() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(2.0)
    world.io = True
    world.run(5.0)
    assert world.state is S.CUTTING
    assert world.alarms() == set()


def test_signals_lost_in_the_cut_warn_and_come_back_to_it() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.1)
    assert (world.state, world.outputs) == (S.LOW_HOLD, (False, True))
    assert world.alarms() == {"A10"}
    assert world.shown.details["io_lost_s"] >= 3.0
    world.io = True
    world.step()
    assert world.state is S.CUTTING


def test_a_cycle_found_stopped_when_the_signals_come_back_has_stopped() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.1)
    world.io = True
    world.cycle(False)
    assert world.state is S.PAUSED
    assert ("LOW HOLD", "cycle_stopped", "PAUSED") in moves(world)


def test_a_cycle_found_running_when_the_signals_come_back_was_started_without_permit() -> None:
    world = reach(S.READY)
    world.io = False
    world.inputs.update(cycle_running=True, standstill=False)
    world.run(2.0)
    assert world.state is S.CHECKING  # what is not known starts nothing
    world.io = True
    world.step()
    assert world.state is S.NO_PERMIT


def test_a_loss_is_seen_while_the_signals_are_lost() -> None:
    world = reach(S.CUTTING)
    world.io = False
    world.run(3.5)
    world.ramp(0.9)
    world.run(0.5)
    assert world.state is S.HOLD_LOST
    assert {"A01", "A10"} <= world.alarms()


@pytest.mark.parametrize("missing", ["cycle_running", "standstill", "key_bypass"])
def test_an_answer_without_a_wired_signal_is_no_answer(missing: str) -> None:
    world = reach(S.PERMIT)
    del world.inputs[missing]
    world.step()
    assert world.state is S.CHECKING
    assert set(world.shown.inputs.values()) == {None}


def test_signals_older_than_half_a_second_are_not_known() -> None:
    world = reach(S.PERMIT)
    facts = world.facts()
    assert isinstance(facts.inputs, Signals)
    from kiosk.interlock.signals import lines_of

    for age_s, is_known in ((0.45, True), (0.5, False), (-0.1, True), (-0.11, False)):
        old = Signals(world.now_s - age_s, facts.inputs.values)
        assert lines_of(replace(facts, inputs=old)).known is is_known
        assert lines_of(replace(facts, contacts=replace(old, values=dict.fromkeys(OUTPUTS, False))))
    for taken_s in (float("nan"), float("inf")):
        assert not lines_of(replace(facts, inputs=Signals(taken_s, facts.inputs.values))).known
    odd = Signals(world.now_s, {**facts.inputs.values, "standstill": 1})  # type: ignore[dict-item]
    assert not lines_of(replace(facts, inputs=odd)).known
    assert not lines_of(replace(facts, contacts=None)).known


@pytest.mark.parametrize("contact", ["start_permit", "hold_healthy"])
def test_a_contact_that_opens_by_itself_in_the_cut_is_an_alarm(contact: str) -> None:
    world = reach(S.CUTTING)
    world.stuck[contact] = False
    world.run(0.6)
    assert (world.state, world.outputs) == (S.CUTTING, (True, True))
    assert world.alarms() == {"A12"}


def test_a_contact_that_stays_closed_after_a_loss_is_an_alarm() -> None:
    world = reach(S.CUTTING)
    world.stuck["hold_healthy"] = True
    world.set_ratio(0.3)
    world.run(0.8)
    assert world.state is S.HOLD_LOST
    assert "A12" in world.alarms()


def test_a_contact_seen_wrong_once_before_the_signals_are_lost_is_no_alarm() -> None:
    world = reach(S.CUTTING)
    world.stuck["hold_healthy"] = False
    world.step()
    world.stuck.clear()
    world.io = False
    world.run(2.0)
    assert world.alarms() == set()


def test_alive_and_beacon_are_not_compared() -> None:
    world = reach(S.PERMIT)
    world.stuck.update(alive=True, beacon=True)
    world.run(2.0)
    assert world.state is S.PERMIT


# -- vented ------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [S.CHECKING, S.READY, S.PERMIT, S.PAUSED])
def test_a_vented_part_is_not_confirmed_any_more_and_the_seats_are(state: State) -> None:
    world = reach(state)
    world.inputs["standstill"] = True
    if state is S.CHECKING:
        world.set_vacuum(5.0)
        world.run(1.0)
    world.set_vacuum(0.5)
    world.run(3.2)
    assert (world.state, world.outputs) == (S.SET_UP, (False, False))
    assert not world.shown.part_confirmed
    assert all(zone.confirmed for zone in world.shown.zones)
    assert world.of_kind("cycle")[-1]["result"] == "unconfirmed"


def test_a_part_that_was_never_held_is_not_vented() -> None:
    world = reach(S.CHECKING)
    world.run(10.0)
    assert world.state is S.CHECKING


def test_vacuum_before_the_part_was_confirmed_does_not_count() -> None:
    world = reach(S.SET_UP)
    world.set_vacuum(40.0)
    world.run(1.0)
    world.set_vacuum(0.5)
    world.run(1.0)
    world.confirm()
    world.run(5.0)
    assert world.state is S.CHECKING


def test_the_next_part_starts_unvented() -> None:
    world = reach(S.RELEASE)
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.send(N.NEXT_PART) is None
    assert world.send(N.CONFIRM_PART, warnings=["loose_offcut"]) is None
    world.run(5.0)
    assert world.state is S.CHECKING


def test_an_unknown_vacuum_is_not_vented() -> None:
    world = reach(S.RELEASE)
    world.set_vacuum(0.5)
    world.run(2.0)
    world.set_vacuum(None)
    world.run(4.0)
    assert world.shown.release == "not_yet"


# -- without contacts --------------------------------------------------------------------------


def test_without_contacts_ready_is_the_last_state() -> None:
    world = reach(S.READY, site=ADVICE)
    assert world.send(N.REQUEST_PERMIT) == "advice_only"
    assert "request_permit" not in world.shown.allowed
    assert "ADVICE ONLY" in world.shown.flags
    world.ramp(0.8)
    world.run(1.0)
    assert (world.state, world.outputs) == (S.READY, (False, False))
    assert "A01" in world.alarms()
    world.set_vacuum(None)
    world.screen_alive = False
    world.run(3.0)
    assert world.state is S.READY
    assert "A03" in world.alarms()


def test_without_contacts_release_needs_a_persons_word() -> None:
    world = reach(S.READY, site=ADVICE)
    assert world.send(N.FINISH) == "standstill_unknown"
    assert world.send(N.FINISH, standstill="yes") == "standstill_unknown"
    assert world.send(N.FINISH, standstill=True) is None
    assert (world.state, world.shown.release) == (S.RELEASE, "may_release")
    assert world.send(N.NEXT_PART) == "not_vented"
    world.set_vacuum(0.5)
    world.run(3.2)
    assert world.send(N.NEXT_PART) is None
    assert not world.memory.word_standstill


def test_without_contacts_a_part_held_is_released_on_a_persons_word() -> None:
    world = World(site=ADVICE)
    world.part_held()
    assert world.shown.forbids_release == ("standstill_unknown",)
    assert world.send(N.FINISH, standstill=True) is None
    assert world.shown.release == "may_release"


def test_without_contacts_a_running_cycle_starts_and_latches_nothing() -> None:
    site = site_of(advice_only=True, outputs=frozenset())
    world = reach(S.READY, site=site)
    world.cycle(True)
    assert world.state is S.READY
    assert world.send(N.FINISH, standstill=True) == "cycle_running"


def test_without_contacts_a_latch_of_the_log_is_reset_on_a_persons_word() -> None:
    world = World(site=ADVICE, log=log_with(latch="HOLD LOST"))
    world.step()
    assert world.state is S.HOLD_LOST
    assert world.send(N.RESET, cause="other") == "standstill_unknown"
    assert world.send(N.RESET, cause="other", standstill=True) is None
    assert (world.state, world.shown.release) == (S.RELEASE, "may_release")


@pytest.mark.parametrize("state", [S.READY, S.CHECKING, S.RELEASE])
def test_without_contacts_no_contact_is_ever_energised(state: State) -> None:
    world = World(site=ADVICE)
    world.step()
    world.memory = replace(world.memory, state=S.PERMIT, asked_s=world.now_s)
    world.step()
    assert world.outputs == (False, False)


# -- the log -----------------------------------------------------------------------------------


def test_a_cycle_is_summed_up_when_it_closes() -> None:
    world = reach(S.CUTTING)
    assert world.shown.cycle == "e1-1"
    opened = world.of_kind("cycle")[0]
    assert opened == {"change": "opened", "result": None, "digest": "d1", "job_id": "SR-1"}
    world.run(2.0)
    world.ramp(1.05)
    world.run(3.0)
    world.ramp(1.3)
    world.run(6.0)
    world.cycle(False)
    world.send(N.FINISH)
    world.set_vacuum(0.5)
    world.run(3.2)
    world.send(N.JOB_DONE)
    closed = world.of_kind("cycle")[-1]
    assert closed["result"] == "done"
    assert closed["minimum_kpa"] == 40.0
    assert closed["start_kpa"] == pytest.approx(49.0)
    assert closed["start_vacuum_kpa"] == pytest.approx(63.0)
    assert closed["lowest_ratio"] == pytest.approx(1.05)
    assert closed["lowest_vacuum_kpa"] == pytest.approx(45.0)
    assert set(closed["alarms"]) == {"A05"}
    assert closed["cutting_s"] == pytest.approx(2.0 + 2.25 + 3.0 + 1.25 + 6.0, abs=0.2)
    assert world.shown.cycle is None


@pytest.mark.parametrize(
    ("state", "command", "result"),
    [(S.READY, N.CANCEL_JOB, "cancelled"), (S.READY, N.UNDO_ZONE, "unconfirmed")],
)
def test_a_cycle_that_never_cut_says_how_it_ended(state: State, command: Name, result: str) -> None:
    world = reach(state)
    assert world.send(command, zone="A") is None
    closed = world.of_kind("cycle")[-1]
    assert (closed["change"], closed["result"]) == ("closed", result)
    assert (closed["start_vacuum_kpa"], closed["lowest_ratio"], closed["cutting_s"]) == (
        None,
        None,
        0.0,
    )


def test_a_start_without_permit_is_a_cycle_of_its_own() -> None:
    world = reach(S.SELECT_JOB)
    world.cycle(True)
    assert world.shown.cycle == "e1-1"
    world.cycle(False)
    world.send(N.RESET, cause="wrong_start")
    closed = world.of_kind("cycle")[-1]
    assert (closed["result"], closed["alarms"]) == ("no_permit", ("A22",))


def test_each_cycle_has_an_id_of_its_own() -> None:
    world = reach(S.READY)
    world.send(N.UNDO_ZONE, zone="A")
    world.confirm()
    assert world.shown.cycle == "e1-2"


def test_moves_outputs_and_commands_are_noted_with_their_cycle() -> None:
    world = reach(S.PERMIT)
    note = next(n for n in world.notes if n.kind == "output")
    assert (note.cycle, dict(note.data)) == ("e1-1", {"start_permit": True, "hold_healthy": True})
    assert len(world.of_kind("output")) == 1
    assert ("READY", "requested", "PERMIT") in moves(world)
    command = world.of_kind("command")[-1]
    assert command == {
        "name": "request_permit", "client": "s1", "arguments": {}, "refused": None, "user": None,
    }  # fmt: skip


def test_what_goes_and_comes_back_is_logged_once_each() -> None:
    world = reach(S.SELECT_JOB)
    for _ in range(2):
        world.io, world.screen_alive = False, False
        world.set_vacuum(None)
        world.run(3.0)
        world.io, world.screen_alive = True, True
        world.set_vacuum(0.0)
        world.run(1.0)
    events = [event for _, event, _ in moves(world)]
    for event in ("io_lost", "io_back", "data_lost", "data_back", "screen_lost", "screen_back"):
        assert events.count(event) == 2, event


def test_planner_answers_that_nobody_asked_for_are_discarded() -> None:
    world = reach(S.SET_UP)
    world.answer = PlannerAnswer("c9", plan_of(digest="late"), None)
    world.step()
    assert world.shown.plan == "d1"
    assert world.of_kind("plan")[-1]["change"] == "discarded"
