"""The way every part goes, and the way a loss goes."""

from __future__ import annotations

from interlock_world import World

from kiosk.interlock.commands import Name
from kiosk.interlock.states import State


def test_a_part_goes_from_the_job_to_the_next_part() -> None:
    world = World()
    world.step()
    assert world.state is State.SELECT_JOB
    world.cut()
    assert world.outputs == (True, True)
    world.run(5.0)
    world.cycle(False)
    assert (world.state, world.outputs) == (State.PAUSED, (True, True))
    assert world.send(Name.FINISH) is None
    assert (world.state, world.outputs) == (State.RELEASE, (False, False))
    assert world.shown.release == "may_release"
    world.set_vacuum(0.5)
    world.run(3.5)
    assert world.shown.release == "vented"
    assert world.send(Name.NEXT_PART) is None
    assert world.state is State.SET_UP
    assert not world.memory.part_confirmed
    assert all(zone.confirmed for zone in world.shown.zones)
    closed = [row for row in world.of_kind("cycle") if row["change"] == "closed"]
    assert [row["result"] for row in closed] == ["done"]
    assert 4.9 <= closed[0]["cutting_s"] <= 5.2


def test_a_loss_goes_to_the_release_by_a_reset_with_a_cause() -> None:
    world = World()
    world.cut()
    world.ramp(1.05)
    world.run(2.5)
    assert (world.state, world.outputs) == (State.LOW_HOLD, (False, True))
    assert world.alarms() == {"A05"}
    world.ramp(0.95)
    world.run(0.3)
    assert (world.state, world.outputs) == (State.HOLD_LOST, (False, False))
    assert "A01" in world.alarms()
    assert world.decision.outputs.beacon
    assert world.send(Name.RESET, cause="leak_at_edge") == "cycle_running"
    world.cycle(False)
    assert world.send(Name.RESET) == "cause_missing"
    assert world.send(Name.RESET, cause="leak_at_edge") is None
    assert world.state is State.RELEASE
    world.set_vacuum(0.5)
    world.run(3.5)
    assert world.send(Name.JOB_DONE) is None
    assert world.state is State.SELECT_JOB
    closed = [row for row in world.of_kind("cycle") if row["change"] == "closed"]
    assert [row["result"] for row in closed] == ["hold_lost"]
