"""Each permissive alone withholds the permit, and alone takes it back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, nan

import pytest
from interlock_site import INPUTS, kpa_of, site_of
from interlock_world import World, reach

from kiosk.interlock import permissives
from kiosk.interlock.commands import Name
from kiosk.interlock.facts import PeopleFacts
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


# Broken in test_permissive_cases.py, by what a story must do before; and never by one gauge.
BROKEN_BY_STORY = {
    "minimum_known", "seats_confirmed", "part_confirmed", "alarms_clear", "asked", "gauges_agree",
}  # fmt: skip


def test_every_row_is_broken_by_something() -> None:
    assert {row.code for row in BREAKS} | BROKEN_BY_STORY == set(ORDER)
    assert not {row.code for row in BREAKS} & BROKEN_BY_STORY


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


def broken(world: World, row: Break) -> None:
    """Where the contacts are closed, the wrong one of a contact is the open one."""
    if row.how == "a contact is closed unasked":
        world.stuck["hold_healthy"] = False
    elif row.how == "the feedback says closed":
        world.stuck["contact_feedback"] = True
        world.inputs["contact_feedback"] = False
    else:
        row.do(world)


@pytest.mark.parametrize("row", BREAKS, ids=ids(BREAKS))
def test_broken_after_it_takes_the_permit_back(row: Break) -> None:
    world = everything(State.PERMIT)
    broken(world, row)
    world.run(row.after_s)
    assert world.state is State.CHECKING
    assert world.outputs == (False, False)


NOT_IN_PAUSE = ("hold_settled", "gauge_in_date", "signed_on", "cautions_read")
IN_PAUSE = tuple(row for row in BREAKS if row.code not in NOT_IN_PAUSE)


@pytest.mark.parametrize("row", IN_PAUSE, ids=ids(IN_PAUSE))
def test_broken_in_a_pause_it_takes_the_permit_back(row: Break) -> None:
    world = everything(State.PAUSED)
    world.inputs["standstill"] = True
    broken(world, row)
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
