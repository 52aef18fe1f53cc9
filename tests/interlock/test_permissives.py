"""Each permissive alone withholds the permit, and alone takes it back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, nan

import pytest
from interlock_world import INPUTS, TWO_GAUGES, World, kpa_of, reach, site_of

from kiosk.interlock import permissives
from kiosk.interlock.commands import Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.memory import Bypass
from kiosk.interlock.reading import Why
from kiosk.interlock.states import State

# Order in which they are shown: the list fixed for screen and log.
ORDER = (
    "self_test", "log_has_room", "log_committing", "screen_there", "inputs_known", "key_off",
    "stop_chain_closed", "contacts_as_written", "gauge_fresh", "gauge_good", "gauge_plausible",
    "gauges_agree", "gauge_in_date", "minimum_known", "seats_confirmed", "part_confirmed",
    "alarms_clear", "no_service", "signed_on", "cautions_read", "hold_enough", "hold_settled",
    "asked",
)  # fmt: skip
SITE_ROWS = {
    "gauge_in_date",
    "signed_on",
    "cautions_read",
}  # only where there is something to judge


@dataclass(frozen=True)
class Break:
    """One way to break one permissive.  ``after_s``: how long until it must show."""

    code: str
    how: str
    do: Callable[[World], None]
    after_s: float = 0.05


def _set(name: str, value: object) -> Callable[[World], None]:
    return lambda world: setattr(world, name, value)


def _log(**changes: object) -> Callable[[World], None]:
    def do(world: World) -> None:
        world.log = replace(world.log, **changes)  # type: ignore[arg-type]

    return do


def _input(name: str, value: bool) -> Callable[[World], None]:
    return lambda world: world.inputs.__setitem__(name, value)


def _gauge(value: float | Why | None) -> Callable[[World], None]:
    return lambda world: world.set_vacuum(value)


def _stick(name: str, value: bool) -> Callable[[World], None]:
    return lambda world: world.stuck.__setitem__(name, value)


def _feedback(world: World) -> None:
    world.stuck["contact_feedback"] = True
    world.inputs["contact_feedback"] = True


def _jumping(world: World) -> None:
    for value in (20.0, kpa_of(1.5), 20.0, kpa_of(1.5)):
        world.set_vacuum(value)
        world.step()


def _scatter(world: World) -> None:
    for number in range(100):
        world.set_vacuum(kpa_of(1.6) + 5.0 * (-1) ** (number // 2))
        world.step()


def _freeze(world: World) -> None:
    world.inputs["pump_running"] = True
    world.run(30.05)


def _idle(world: World) -> None:
    world.inputs.update(pump_running=False, valve_open=False)
    world.run(30.05)


def _drift(world: World) -> None:
    """Found at an earlier look at the zero."""
    doubts = {name: replace(doubt, drifted=True) for name, doubt in world.memory.doubts.items()}
    world.memory = replace(world.memory, doubts=doubts)
    world.step()


def _day(utc: str) -> Callable[[World], None]:
    return lambda world: setattr(world, "utc", f"{utc}T00:00:00.000Z")


def _serve(world: World) -> None:
    """By the command: what takes away acts in the step in which it came."""
    assert world.send(Name.BEGIN_SERVICE) is None
    assert world.outputs == (False, False)


def _sign_off(world: World) -> None:
    world.people = replace(world.people, role=None)


def _sign_another(world: World) -> None:
    world.people = replace(world.people, name="C. D.")


def _read_long_ago(world: World) -> None:
    read_s = world.now_s - 12 * 3600.0
    world.memory = replace(world.memory, cautions_s={world.people.name: read_s})


BREAKS = (
    Break("self_test", "the start-up checks failed", _set("self_test", False)),
    Break("self_test", "the step came half a second late", _set("loop_late_s", 0.5)),
    Break("self_test", "lateness is not a number", _set("loop_late_s", nan)),
    Break("log_has_room", "under 5 % of the disk is free", _log(free_share=0.0499)),
    Break("log_has_room", "free space is not known", _log(free_share=None)),
    Break("log_has_room", "free space is not a number", _log(free_share=nan)),
    Break("log_has_room", "the log cannot be written", _log(writable=False)),
    Break("log_committing", "no commit for 5 s", _set("log_alive", False), 5.1),
    Break("screen_there", "the screen is silent for 2 s", _set("screen_alive", False), 2.0),
    Break("screen_there", "no screen holds the right to command", _set("screen", None)),
    Break("inputs_known", "the module does not answer", _set("io", False)),
    Break("key_off", "the maker's key is on", _input("key_bypass", True)),
    Break("stop_chain_closed", "the stop chain is open", _input("stop_healthy", False)),
    Break("contacts_as_written", "a contact is closed unasked", _stick("hold_healthy", True), 0.55),
    Break("contacts_as_written", "the feedback says closed", _feedback, 0.55),
    Break("contacts_as_written", "the module does not answer", _set("io", False)),
    Break("gauge_fresh", "no sample for 0.5 s", _gauge(None), 0.5),
    Break("gauge_fresh", "only silence for 0.5 s", _gauge(Why.SILENT), 0.5),
    Break("gauge_good", "the loop is broken", _gauge(Why.BROKEN)),
    Break("gauge_good", "the value is not a number", _gauge(nan)),
    Break("gauge_good", "the value is infinite", _gauge(inf)),
    Break("gauge_good", "the device calls its value out of range", _gauge(Why.OUT_OF_RANGE)),
    Break("gauge_plausible", "more vacuum than air pressure and 2 kPa", _gauge(102.1)),
    Break("gauge_plausible", "pressure above air by more than 2 kPa", _gauge(-2.1)),
    Break("gauge_plausible", "steps of 30 kPa twice a second", _jumping),
    Break("gauge_plausible", "it scatters by more than 3 kPa", _scatter, 0.0),
    Break("gauge_plausible", "it stays exactly the same while the pump runs", _freeze, 0.0),
    Break("gauge_plausible", "a vacuum stays though the pump is off", _idle, 0.0),
    Break("gauge_good", "its zero was found off", _drift, 0.0),
    Break("gauge_in_date", "its calibration is 31 days over", _day("2027-01-31")),
    Break("gauge_in_date", "the date is not known", _day("1970-01-01")),
    Break("no_service", "the machine is in service", _serve, 0.0),
    Break("signed_on", "nobody is signed on", _sign_off),
    Break("cautions_read", "another is signed on, who did not read them", _sign_another),
    Break("cautions_read", "they were read 12 hours ago", _read_long_ago),
    Break("hold_enough", "R under 1.10", _gauge(kpa_of(1.099))),
    Break("hold_settled", "the vacuum wanders", lambda world: world.ramp(1.3, 1.0)),
)


DATED = replace(site_of().gauges[0], calibration_due="2026-12-31")
EVERYTHING = site_of(gauges=(DATED,), inputs=INPUTS | {"pump_running"})


def everything(state: State) -> World:
    """A world in which every row exists."""
    world = reach(state, site=EVERYTHING, people=PeopleFacts(True, "operator", "A. B."))
    assert tuple(row.code for row in world.shown.permissives) == ORDER
    return world


# Broken elsewhere in this file, by what a story must do before; and never by one gauge.
BROKEN_BELOW = {
    "minimum_known", "seats_confirmed", "part_confirmed", "alarms_clear", "asked", "gauges_agree",
}  # fmt: skip


def test_every_row_is_broken_by_something() -> None:
    assert {row.code for row in BREAKS} | BROKEN_BELOW == set(ORDER)
    assert not {row.code for row in BREAKS} & BROKEN_BELOW


def ids(rows: tuple[Break, ...]) -> list[str]:
    return [f"{row.code}: {row.how}" for row in rows]


def test_they_are_shown_in_the_fixed_order() -> None:
    assert permissives.CODES == ORDER
    world = reach(State.CHECKING)
    told = tuple(row.code for row in world.shown.permissives)
    assert told == tuple(code for code in ORDER if code not in SITE_ROWS)


def test_all_but_the_request_hold_when_ready_and_all_with_it() -> None:
    world = reach(State.READY)
    assert world.unmet() == {"asked"}
    assert world.send(Name.REQUEST_PERMIT) is None
    assert world.unmet() == set()
    assert world.outputs == (True, True)


@pytest.mark.parametrize("row", BREAKS, ids=ids(BREAKS))
def test_broken_before_it_keeps_the_permit_from_being_asked(row: Break) -> None:
    world = everything(State.READY)
    row.do(world)
    world.run(row.after_s)
    assert row.code in world.unmet()
    assert world.state is State.CHECKING
    world.queue(Name.REQUEST_PERMIT)
    reply = world.step().replies[0]
    assert reply.refused is not None
    assert world.outputs == (False, False)


@pytest.mark.parametrize("row", BREAKS, ids=ids(BREAKS))
def test_broken_in_the_same_step_it_refuses_the_request(row: Break) -> None:
    """What forbids is judged before what allows."""
    world = everything(State.READY)
    row.do(world)
    world.run(max(0.0, row.after_s - 0.05))
    world.queue(Name.REQUEST_PERMIT)
    assert world.step().replies[0].refused is not None
    assert world.outputs == (False, False)


@pytest.mark.parametrize("row", BREAKS, ids=ids(BREAKS))
def test_broken_after_it_takes_the_permit_back(row: Break) -> None:
    world = everything(State.PERMIT)
    if row.how == "a contact is closed unasked":
        world.stuck["hold_healthy"] = False
    elif row.how == "the feedback says closed":
        world.stuck["contact_feedback"] = True
        world.inputs["contact_feedback"] = False
    else:
        row.do(world)
    world.run(row.after_s)
    assert world.state is State.CHECKING
    assert world.outputs == (False, False)


NOT_IN_PAUSE = ("hold_settled", "gauge_in_date", "signed_on", "cautions_read")
IN_PAUSE = tuple(row for row in BREAKS if row.code not in NOT_IN_PAUSE)


@pytest.mark.parametrize("row", IN_PAUSE, ids=ids(IN_PAUSE))
def test_broken_in_a_pause_it_takes_the_permit_back(row: Break) -> None:
    world = everything(State.PAUSED)
    world.inputs["standstill"] = True
    if row.how == "a contact is closed unasked":
        world.stuck["hold_healthy"] = False
    elif row.how == "the feedback says closed":
        world.stuck["contact_feedback"] = True
        world.inputs["contact_feedback"] = False
    else:
        row.do(world)
    world.run(row.after_s)
    assert world.outputs == (False, False)
    assert world.state is State.CHECKING


def test_an_unsettled_vacuum_does_not_end_a_pause() -> None:
    """Settling belongs to the start level; a pause has its own conditions."""
    world = reach(State.PAUSED)
    world.ramp(1.4, 1.0)
    assert "hold_settled" in world.unmet()
    assert world.state is State.PAUSED


@pytest.mark.parametrize("row", BREAKS, ids=ids(BREAKS))
def test_it_is_the_only_one_that_objects(row: Break) -> None:
    """But for what follows: no settling without samples, no contacts without the module."""
    world = everything(State.READY)
    row.do(world)
    world.run(row.after_s)
    follows = FOLLOWS.get(row.how, set())
    assert world.unmet() - {"asked"} == {row.code} | follows


# What no single cause can leave alone.
FOLLOWS = {
    "the module does not answer": {
        "inputs_known",
        "key_off",
        "stop_chain_closed",
        "contacts_as_written",
    },
    "no sample for 0.5 s": {"hold_enough", "hold_settled"},
    "only silence for 0.5 s": {"hold_enough", "hold_settled"},
    "the device calls its value out of range": {"gauge_plausible"},
    "more vacuum than air pressure and 2 kPa": {"gauge_good"},
    "pressure above air by more than 2 kPa": {"gauge_good"},
    "steps of 30 kPa twice a second": {"hold_enough", "hold_settled"},
    "R under 1.10": {"hold_settled"},
}


def test_just_short_of_every_limit_nothing_objects() -> None:
    """The other side of each limit that a single step can show."""
    short: tuple[Callable[[World], None], ...] = (
        _set("loop_late_s", 0.4999), _log(free_share=0.05), _gauge(102.0), _gauge(-2.0),
        _day("2027-01-30"),
    )  # fmt: skip
    rows = (
        "self_test",
        "log_has_room",
        "gauge_plausible",
        "gauge_plausible",
        "gauge_in_date",
    )
    for do, code in zip(short, rows, strict=True):
        world = everything(State.READY)
        do(world)
        world.step()
        assert code not in world.unmet()


@pytest.mark.parametrize(
    ("how", "after_s"),
    [
        ("no commit for 5 s", 4.9), ("the screen is silent for 2 s", 1.9),
        ("a contact is closed unasked", 0.45), ("no sample for 0.5 s", 0.45),
        ("only silence for 0.5 s", 0.45),
    ],
)  # fmt: skip
def test_just_before_every_delay_nothing_objects(how: str, after_s: float) -> None:
    world = everything(State.READY)
    row = next(row for row in BREAKS if row.how == how)
    row.do(world)
    world.run(after_s)
    assert row.code not in world.unmet()


def test_minimum_known_needs_a_number_for_every_gauge() -> None:
    """A plan that lost its numbers after it was adopted still permits nothing."""
    for changes in (
        {"minimum_kpa": nan},
        {"minimum_kpa": inf},
        {"minimum_kpa": 0.0},
        {"minimum_kpa": -1.0},
        {"drops_kpa": {}},
        {"errors_kpa": {"table": nan}},
        {"drops_kpa": {"table": -3.0}},
    ):
        world = reach(State.READY)
        plan = world.memory.plan
        assert plan is not None
        world.memory = replace(world.memory, plan=replace(plan, **changes))  # type: ignore[arg-type]
        assert world.send(Name.REQUEST_PERMIT) is not None
        assert "minimum_known" in world.unmet()
        assert world.outputs == (False, False)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"zones": frozenset({"A"})}, "seats_confirmed"),
        ({"part_confirmed": False}, "part_confirmed"),
    ],
)
@pytest.mark.parametrize("state", [State.CHECKING, State.READY, State.PERMIT])
def test_a_set_up_that_is_not_confirmed_goes_back_to_set_up(
    state: State, changes: dict[str, object], code: str
) -> None:
    world = reach(state)
    world.memory = replace(world.memory, **changes)  # type: ignore[arg-type]
    world.step()
    assert (world.state, world.outputs) == (State.SET_UP, (False, False))
    assert code in world.unmet()


def test_a_plan_without_zones_is_never_confirmed() -> None:
    world = reach(State.READY)
    plan = world.memory.plan
    assert plan is not None
    world.memory = replace(world.memory, plan=replace(plan, zones=()))
    world.step()
    assert world.state is State.SET_UP
    assert "seats_confirmed" in world.unmet()


def test_a_latched_alarm_keeps_the_permit_back_until_it_is_reset() -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    assert world.state is State.CUTTING
    world.stuck.clear()
    world.cycle(False)
    assert world.state is State.CHECKING
    world.run(5.0)
    assert world.unmet() == {"alarms_clear", "asked"}
    assert world.see() is None
    assert "alarms_clear" in world.unmet()
    assert world.send(Name.RESET, cause="gauge_or_wire") is None
    world.step()
    assert world.state is State.READY


def test_a_silent_gauge_without_any_value_is_neither_good_nor_plausible() -> None:
    world = reach(State.STARTING)
    world.run(3.0)
    assert {"gauge_fresh", "gauge_good", "gauge_plausible", "gauges_agree"} - world.unmet() == {
        "gauges_agree"
    }


def test_a_site_without_a_gauge_never_permits() -> None:
    """All of nothing is not a proof."""
    world = World(site=site_of(gauges=()))
    world.step()
    assert {
        "gauge_fresh", "gauge_good", "gauge_plausible", "gauges_agree", "hold_enough",
        "hold_settled",
    } <= world.unmet()  # fmt: skip


def test_a_key_that_is_not_wired_is_off_and_one_that_is_not_known_is_not() -> None:
    inputs = frozenset({"cycle_running", "standstill"})
    world = reach(State.READY, site=site_of(inputs=inputs))
    assert "key_off" not in world.unmet()
    world = reach(State.READY)
    world.io = False
    world.step()
    assert "key_off" in world.unmet()


def lacks(world: World) -> list[tuple[object, object]]:
    """Event and codes of every move into CHECKING since the cut or the permit."""
    rows = [row for row in world.of_kind("state") if row["to"] == State.CHECKING]
    return [(row["event"], row.get("lacks")) for row in rows if row["from"] != State.SET_UP]


def test_the_log_says_what_took_the_permit_away() -> None:
    world = reach(State.PERMIT)
    world.inputs["stop_healthy"] = False
    world.log = replace(world.log, free_share=0.01)
    world.step()
    assert lacks(world) == [("unproved", ["log_has_room", "stop_chain_closed"])]


def test_the_log_says_what_of_a_pause_was_missing_when_the_cut_stopped() -> None:
    """An emergency stop in the cut, by the copy of its chain; a pause needs no steady vacuum."""
    world = reach(State.CUTTING)
    world.inputs["stop_healthy"] = False
    world.cycle(False)
    assert lacks(world) == [("cycle_stopped", ["stop_chain_closed"])]
    world = reach(State.CUTTING)
    world.cycle(False)
    assert world.state is State.PAUSED
    assert "lacks" not in world.of_kind("state")[-1]


def test_an_event_that_speaks_for_itself_is_logged_without_the_permissives() -> None:
    world = reach(State.PERMIT)
    world.send(Name.WITHDRAW)
    assert lacks(world) == [("withdrawn", None)]


def test_a_stop_chain_that_is_not_wired_is_no_condition() -> None:
    """As in table 8.2's "if fitted": nothing is claimed of what no wire tells."""
    world = reach(State.READY, site=site_of(inputs=INPUTS - {"stop_healthy"}))
    assert "stop_chain_closed" not in {row.code for row in world.shown.permissives}


def test_inputs_that_all_went_low_in_the_cut_lead_to_no_ready() -> None:
    """A dead supply of the inputs reads as off everywhere: no program, no standstill, no stop
    chain.  Inputs that mean "true when energised" say so (docs/wiring.md).
    """
    world = reach(State.CUTTING)
    world.stuck["contact_feedback"] = False
    world.inputs = dict.fromkeys(world.inputs, False)
    world.step()
    assert world.outputs == (False, False)
    world.run(5.0)
    assert (world.state, world.outputs) == (State.CHECKING, (False, False))
    assert "stop_chain_closed" in world.unmet()


def test_a_gap_in_the_samples_starts_the_proof_again() -> None:
    world = reach(State.CHECKING)
    world.set_ratio(1.5)
    world.run(2.5)
    world.set_vacuum(None)
    world.run(0.6)
    world.set_ratio(1.5)
    world.run(2.5)
    assert {"hold_enough", "hold_settled"} <= world.unmet()
    world.run(1.0)
    assert world.state is State.READY


@pytest.mark.parametrize(("why", "code"), [(Why.BROKEN, "gauge_good"), (102.1, "gauge_plausible")])
def test_a_gauge_that_was_doubted_must_be_sound_for_three_seconds(
    why: float | Why, code: str
) -> None:
    """Rows 2 and 4 of table 8.2: for 3 s.  Its last good value still shows the start level."""
    world = reach(State.READY)
    world.set_vacuum(why)
    world.step()
    world.set_ratio(1.5)
    world.step()
    assert code in world.unmet()
    world.run(2.95)
    assert world.state is State.CHECKING
    world.step()
    assert world.state is State.READY


def test_gauges_that_disagreed_must_agree_for_three_seconds() -> None:
    """Row 5 of table 8.2."""
    world = reach(State.READY, site=site_of(gauges=TWO_GAUGES))
    agreed = dict(world.vacuum)
    world.vacuum["pump"] += 5.0  # type: ignore[operator]
    world.run(3.05)
    assert world.state is State.CHECKING
    world.vacuum.update(agreed)
    world.run(3.0)
    assert world.unmet() == {"asked", "gauges_agree"}
    world.step()
    assert world.state is State.READY


def test_what_was_doubted_before_the_proof_does_not_count_after_it() -> None:
    """Once the hold is proved a row must hold, and need not have held for a time."""
    world = reach(State.PERMIT)
    world.memory = replace(world.memory, sound_s={})
    world.step()
    assert world.state is State.PERMIT


def test_a_garbled_answer_now_and_then_does_not_end_a_proof() -> None:
    world = reach(State.PERMIT)
    for _ in range(10):
        world.set_vacuum(Why.GARBLED)
        world.step()
        world.set_ratio(1.5)
        world.step()
    assert world.state is State.PERMIT


def test_two_gauges_agree_only_when_both_are_known() -> None:
    world = reach(State.READY, site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = None
    world.run(1.1)
    assert "gauges_agree" in world.unmet()
    assert world.state is State.CHECKING


# -- numbers that are said ---------------------------------------------------------------------


def said(world: World) -> dict[str, tuple[object, object, str]]:
    return {row.code: (row.value, row.limit, row.unit) for row in world.shown.permissives}


def test_each_says_the_number_that_it_was_judged_by_and_the_limit() -> None:
    world = everything(State.READY)
    plain = {"self_test", "inputs_known", "key_off", "stop_chain_closed", "gauge_good",
             "seats_confirmed", "part_confirmed", "alarms_clear", "no_service", "signed_on",
             "cautions_read", "asked"}  # fmt: skip
    approx = pytest.approx
    assert said(world) == {
        **dict.fromkeys(plain, (None, None, "")),
        "log_has_room": (0.5, 0.05, "share"),
        "log_committing": (0.0, 5.0, "s"),
        "screen_there": (0.0, 2.0, "s"),
        "contacts_as_written": (0.0, 0.5, "s"),
        "gauge_fresh": (0.0, 0.5, "s"),
        "gauge_plausible": (approx(kpa_of(1.5)), 100.0, "kPa"),
        "gauges_agree": (None, 3.0, "kPa"),
        "gauge_in_date": (0.0, 30.0, "d"),
        "minimum_known": (40.0, None, "kPa"),
        "hold_enough": (approx(1.5), 1.10, "ratio"),
        "hold_settled": (approx(0.0, abs=1e-9), 0.5, "kPa/s"),
    }


def test_the_level_that_is_said_is_the_start_level_until_the_hold_is_proved() -> None:
    assert said(reach(State.CHECKING))["hold_enough"][1] == 1.15
    for state in (State.READY, State.PERMIT, State.CUTTING, State.LOW_HOLD, State.PAUSED):
        assert said(reach(state))["hold_enough"][1] == 1.10


def test_the_numbers_that_are_said_grow_with_what_is_late() -> None:
    world = everything(State.READY)
    world.log_alive = world.screen_alive = False
    world.stuck["hold_healthy"] = True
    world.set_vacuum(None)
    world.utc = "2027-01-05T00:00:00.000Z"
    world.run(0.4)
    found = said(world)
    assert found["log_committing"][0] == pytest.approx(0.4)
    assert found["screen_there"][0] == pytest.approx(0.4)
    assert found["gauge_fresh"][0] == pytest.approx(0.4)
    assert found["contacts_as_written"][0] == pytest.approx(0.35)
    assert found["gauge_in_date"][0] == 5.0


def test_an_age_is_not_said_while_one_gauge_was_never_read() -> None:
    world = World(site=site_of(gauges=TWO_GAUGES))
    world.vacuum["pump"] = None
    world.step()
    assert said(world)["gauge_fresh"][0] is None


def test_a_log_that_never_committed_is_not_committing() -> None:
    world = World(log_alive=False)
    world.step()
    assert "log_committing" in world.unmet()
    assert said(world)["log_committing"] == (None, 5.0, "s")


@pytest.mark.parametrize(("ahead_s", "holds"), [(0.1, True), (0.11, False)])
def test_a_commit_dated_ahead_of_now_is_doubted(ahead_s: float, holds: bool) -> None:
    world = World(now_s=-0.05, log_alive=False, _commit_s=ahead_s)
    world.step()
    assert world.now_s == 0.0
    assert ("log_committing" not in world.unmet()) is holds


@pytest.mark.parametrize(("ahead_s", "there"), [(0.1, True), (0.11, False)])
def test_a_screen_heard_ahead_of_now_is_not_there(ahead_s: float, there: bool) -> None:
    world = World(now_s=-0.05, screen_alive=False, _seen_s=ahead_s)
    world.step()
    assert ("screen_there" not in world.unmet()) is there


@pytest.mark.parametrize(
    ("active", "latched", "state"),
    [
        (True, False, State.CHECKING),
        (False, True, State.CHECKING),
        (False, False, State.READY),
    ],
)
def test_an_alarm_of_priority_1_objects_while_it_stands_or_is_latched(
    active: bool, latched: bool, state: State
) -> None:
    world = reach(State.CUTTING)
    world.stuck["start_permit"] = False
    world.run(0.6)
    alarm = next(alarm for alarm in world.memory.alarms if alarm.code == "A12")
    world = reach(State.READY)
    put = replace(alarm, active=active, latched=latched)
    world.memory = replace(world.memory, alarms=(put,))
    world.step()
    assert world.state is state


@pytest.mark.parametrize("state", [state for state in State if state is not State.STARTING])
def test_the_request_holds_from_the_permit_to_the_end_of_the_cut(state: State) -> None:
    asked = {State.PERMIT, State.CUTTING, State.LOW_HOLD, State.PAUSED}
    assert ("asked" not in reach(state).unmet()) is (state in asked)


def test_a_check_that_cannot_be_bypassed_counts_though_the_memory_names_a_bypass_of_it() -> None:
    world = reach(State.READY)
    bypass = Bypass("no_service", "other", None, world.now_s)
    world.memory = replace(world.memory, service=True, bypasses=(bypass,))
    world.step()
    assert "no_service" in world.unmet()
    assert world.state is State.CHECKING


def test_a_hold_that_was_proved_is_enough_at_1_10_and_while_it_is_fresh() -> None:
    world = reach(State.CUTTING)
    world.ramp(1.11)
    world.set_vacuum(47.0)  # (47 - 2 - 1) / 40
    world.step()
    assert world.shown.hold.ratio == 1.10
    assert "hold_enough" not in world.unmet()
    world.set_vacuum(None)
    world.run(0.5)
    assert "hold_enough" in world.unmet()
