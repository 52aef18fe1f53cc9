"""The cautions of the shift: who has read them, for how long, and what the log keeps of it.

That no shift lasts longer than 12 hours is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from interlock_world import World, reach

from kiosk.interlock.codes import CAUTIONS
from kiosk.interlock.commands import Name
from kiosk.interlock.facts import PeopleFacts
from kiosk.interlock.states import State

S, N = State, Name
SHIFT_S = 12 * 3600.0


def unread(state: State = S.CHECKING, role: str | None = "operator") -> World:
    """A world with somebody at the screen who has not read them; None: nobody."""
    world = reach(state)
    world.people = PeopleFacts(True, role, None if role is None else f"the {role}")
    world.memory = replace(world.memory, cautions_s={})
    world.step()
    return world


def confirm(world: World, **arguments: object) -> str | None:
    return world.send(N.CONFIRM_CAUTIONS, **{"cautions": CAUTIONS, "texts": "0a1b", **arguments})


def test_confirming_them_makes_the_condition_true_and_is_asked_once() -> None:
    world = unread()
    assert "cautions_read" in world.unmet()
    assert "confirm_cautions" in world.shown.allowed
    assert confirm(world) is None
    assert "cautions_read" not in world.unmet()
    assert "confirm_cautions" not in world.shown.allowed
    assert confirm(world) == "not_now"


def test_the_log_keeps_who_confirmed_which_texts() -> None:
    world = unread()
    confirm(world, texts="0a1b2c")
    assert world.of_kind("confirm")[-1] == {
        "what": "cautions", "user": "the operator", "cautions": list(CAUTIONS), "texts": "0a1b2c",
    }  # fmt: skip


def test_nothing_is_permitted_before_and_all_is_after() -> None:
    world = unread(S.READY)
    assert world.send(N.REQUEST_PERMIT) == "hold_not_proved"
    assert confirm(world) is None
    world.run(0.1)
    assert world.state is S.READY
    assert world.send(N.REQUEST_PERMIT) is None
    assert world.outputs == (True, True)


@pytest.mark.parametrize(("after_s", "holds"), [(SHIFT_S - 0.1, True), (SHIFT_S, False)])
def test_they_are_read_for_twelve_hours(after_s: float, holds: bool) -> None:
    world = unread()
    confirm(world)
    read_s = world.memory.cautions_s["the operator"]
    world.step(read_s + after_s - world.now_s)
    assert ("cautions_read" not in world.unmet()) is holds


def test_the_end_of_the_shift_in_the_cut_changes_nothing() -> None:
    for state in (S.CUTTING, S.LOW_HOLD, S.PAUSED):
        world = reach(state)
        before = world.outputs
        world.people = PeopleFacts(True, "operator", "another")
        read_s = world.now_s - SHIFT_S + 0.5
        world.memory = replace(world.memory, cautions_s={"another": read_s})
        world.step()
        assert "cautions_read" not in world.unmet()
        world.run(1.0)
        assert (world.state, world.outputs) == (state, before)
        assert "cautions_read" in world.unmet()


def test_each_person_reads_them_and_keeps_what_was_read() -> None:
    world = unread()
    confirm(world)
    world.people = PeopleFacts(True, "setter", "the setter")
    world.step()
    assert "cautions_read" in world.unmet()
    assert confirm(world) is None
    world.people = PeopleFacts(True, "operator", "the operator")
    world.step()
    assert "cautions_read" not in world.unmet()


def test_nobody_confirms_them_unless_signing_on_is_bypassed() -> None:
    world = unread(role="supervisor")
    world.send(N.BYPASS, check="signed_on", reason="nobody_can_sign_on")
    world.people = PeopleFacts(True)
    world.step()
    assert world.unmet() >= {"cautions_read"}
    assert confirm(world) is None
    assert "cautions_read" not in world.unmet()
    world.send(N.END_BYPASS, check="signed_on")
    world.memory = replace(world.memory, cautions_s={})
    assert confirm(world) == "not_signed_on"


def test_what_nobody_read_ends_with_the_bypass_and_what_others_read_stays() -> None:
    world = unread(role="supervisor")
    confirm(world)
    world.send(N.BYPASS, check="signed_on", reason="other")
    world.people = PeopleFacts(True)
    assert confirm(world) is None
    world.send(N.END_BYPASS, check="signed_on")
    assert set(world.memory.cautions_s) == {"the supervisor"}


def test_the_end_of_another_bypass_takes_nothing_that_was_read() -> None:
    world = unread(role="supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    (made,) = world.memory.bypasses
    other = replace(made, check="gauge_in_date")
    world.memory = replace(world.memory, bypasses=(made, other), cautions_s={"": world.now_s})
    world.send(N.END_BYPASS, check="gauge_in_date")
    assert set(world.memory.cautions_s) == {""}
    assert world.memory.bypasses == (made,)


def test_another_bypass_lets_nobody_confirm_them() -> None:
    world = unread(role="supervisor")
    world.send(N.BYPASS, check="signed_on", reason="other")
    (bypass,) = world.memory.bypasses
    world.memory = replace(world.memory, bypasses=(replace(bypass, check="gauge_in_date"),))
    world.people = PeopleFacts(True)
    assert confirm(world) == "not_signed_on"


def test_without_people_there_is_no_such_condition() -> None:
    world = reach(S.CHECKING)
    assert "cautions_read" not in [row.code for row in world.shown.permissives]
    assert confirm(world) == "no_people"


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ({"cautions": CAUTIONS[:-1]}, "cautions_not_listed"),
        ({"cautions": []}, "cautions_not_listed"),
        ({"cautions": [[], None, *CAUTIONS[1:]]}, "cautions_not_listed"),
        ({"cautions": None}, "bad_arguments"),
        ({"cautions": "C01"}, "bad_arguments"),
        ({"texts": 7}, "bad_arguments"),
        ({"texts": "x" * 201}, "bad_arguments"),
        ({"texts": "x" * 200}, None),
        ({"texts": None}, None),
        ({"cautions": [*CAUTIONS, "C99"]}, None),
    ],
)
def test_all_of_them_must_have_been_shown(arguments: dict[str, object], code: str | None) -> None:
    world = unread()
    assert confirm(world, **arguments) == code
    assert ("cautions_read" in world.unmet()) is (code is not None)


def test_a_guard_that_begins_anew_asks_again() -> None:
    world = World(people=PeopleFacts(True, "operator", "the operator"))
    world.memory = replace(world.memory, cautions_s={})
    world.step()
    assert "confirm_cautions" in world.shown.allowed
