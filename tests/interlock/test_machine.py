"""Whatever happens in whatever order: a witness beside the interlock checks both promises.

The witness works from the raw facts of the world and knows nothing of timers, windows or states
but the two contacts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from math import isfinite, nan

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)
from interlock_site import DROP_KPA, ERROR_KPA, MINIMUM_KPA, OFFER, TWO_GAUGES, site_of
from interlock_world import World

from kiosk.interlock.codes import CAUTIONS
from kiosk.interlock.commands import GUARDS_OWN, RESET_CAUSES, Name
from kiosk.interlock.decision import Decision
from kiosk.interlock.reading import Reading, Why
from kiosk.interlock.states import State

TINY_S = 1e-5
DROPS = {"table": DROP_KPA, "pump": 5.0}


@dataclass
class Witnessed(World):
    """A world in which each step is checked against the promises."""

    low_since_s: float | None = None
    low_samples: int = 0
    last_taken: dict[str, float] = field(default_factory=dict)
    good_s: dict[str, float] = field(default_factory=dict)
    values: dict[str, float] = field(default_factory=dict)
    permit_off_s: float = float("-inf")
    was_on: tuple[bool, bool] = (False, False)
    was: State = State.STARTING

    def step(self, advance_s: float | None = None) -> Decision:
        decision = super().step(advance_s)
        fresh = self._take_samples()
        self._check_permit()
        self._check_health(fresh)
        self._check_whole()
        on = self.outputs
        if self.was_on[0] and not on[0]:
            self.permit_off_s = self.now_s
        self.was_on, self.was = on, self.state
        return decision

    def ratio(self) -> float | None:
        """Lowest R of all gauges by its formula, from the newest good samples."""
        found = [(kpa - ERROR_KPA - DROPS[name]) / MINIMUM_KPA for name, kpa in self.values.items()]
        return min(found) if len(found) == len(self.site.gauges) else None

    def _take_samples(self) -> int:
        """New good samples of this step."""
        fresh = 0
        for name, sample in self._samples.items():
            if sample is None or sample.taken_s == self.last_taken.get(name):
                continue
            self.last_taken[name] = sample.taken_s
            if isinstance(sample, Reading) and -2.0 <= sample.vacuum_kpa <= 102.0:
                fresh += 1
                self.good_s[name] = sample.taken_s
                self.values[name] = sample.vacuum_kpa
        return fresh

    def oldest_s(self) -> float:
        ages = [self.now_s - at_s for at_s in self.good_s.values()]
        return max(ages) if len(ages) == len(self.site.gauges) else float("inf")

    def _check_permit(self) -> None:
        permit, _ = self.outputs
        if not permit:
            return
        ratio = self.ratio()
        assert not self.site.advice_only
        assert self.memory.plan is not None
        assert self.memory.part_confirmed
        assert {zone.name for zone in self.memory.plan.zones} <= self.memory.zones
        assert self.oldest_s() < 1.0
        if self.state in (State.PERMIT, State.PAUSED):
            assert self.oldest_s() < 0.5
            assert ratio is not None
            assert ratio >= 1.10 - 1e-9
            assert self.io
            assert self.inputs.get("key_bypass") is False
            assert self.inputs.get("cycle_running") is False
            assert self.self_test
            assert self.log.writable
            assert self.screen is not None
            assert self._seen_s is not None
            assert self.now_s - self._seen_s < 2.0
            assert self._commit_s is not None
            assert self.now_s - self._commit_s <= 5.0 + TINY_S
        if not self.was_on[0]:
            self._check_given(ratio)

    def _check_given(self, ratio: float | None) -> None:
        """The permit comes by a request with everything true, back in a cut, or just crossed."""
        if self.state is State.PERMIT:
            assert not self.memory.service
            bypassed = [bypass.check for bypass in self.memory.bypasses]
            named = self.people.role is not None or "signed_on" in bypassed
            assert named or not self.people.set_up
            read_s = self.memory.cautions_s.get(self.people.name or "", float("-inf"))
            assert self.now_s - read_s < 12 * 3600.0 or not self.people.set_up
            assert set(bypassed) <= {"signed_on", "gauge_in_date"}
            assert all(row.holds for row in self.shown.permissives), self.unmet()
            return
        assert ratio is not None
        if self.state is State.PAUSED:  # signals came back and show the cycle stopped
            assert self.was is State.LOW_HOLD
            return
        assert self.state is State.CUTTING
        if self.was is not State.LOW_HOLD:
            assert ratio >= 1.0
            assert self.now_s - self.permit_off_s <= 1.0 + TINY_S

    def _check_health(self, fresh: int) -> None:
        """R under 1.00 for 150 ms and 3 samples: HOLD HEALTHY is off.  No value for 1 s: too."""
        ratio = self.ratio()
        if self.memory.plan is None or ratio is None or ratio >= 1.0:
            self.low_since_s, self.low_samples = None, 0
        else:
            self.low_samples += fresh
            if self.low_since_s is None:
                self.low_since_s = self.now_s
        healthy = self.outputs[1]
        if not healthy:
            return
        if self.low_since_s is not None:
            short = self.now_s - self.low_since_s < 0.15 + TINY_S
            assert short or self.low_samples < 3 * len(self.site.gauges)
        assert self.oldest_s() < 1.0

    def _check_whole(self) -> None:
        """What holds after every step."""
        shown = self.shown
        assert self.outputs in ((False, False), (False, True), (True, True))
        if self.state is not self.was:
            assert shown.to_json()  # raises on a number that JSON has not
        latched = self.state in (State.HOLD_LOST, State.NO_PERMIT)
        assert not latched or self.outputs == (False, False)
        if self.was in (State.HOLD_LOST, State.NO_PERMIT) and not latched:
            resets = [r for r in self.decision.notes if r.kind == "command"]
            assert any(r.data["name"] == "reset" and r.data["refused"] is None for r in resets)
            assert self.io
            assert self.inputs["cycle_running"] is False
            assert self.inputs["standstill"] is True
        if self.decision.notes:
            opened = [n.data["change"] for n in self.decision.notes if n.kind == "cycle"]
            assert (shown.cycle is not None) or not opened or opened[-1] == "closed"
        unseen = any(not a.acknowledged and a.priority <= 2 for a in shown.alarms)
        assert self.decision.outputs.beacon is unseen


class Shop(RuleBasedStateMachine):
    """Everything that people, machine and wires may do, in any order."""

    @initialize(
        two=st.booleans(),
        staggered=st.booleans(),
        rate=st.sampled_from([0.02, 0.05, 0.1, 0.2]),
        way=st.sampled_from([World.step, World.prove, World.permit, World.cut, World.pause]),
    )
    def open_shop(
        self, two: bool, staggered: bool, rate: float, way: Callable[[World], object]
    ) -> None:
        site = site_of(gauges=TWO_GAUGES) if two else site_of()
        self.world = Witnessed(site=site, staggered=staggered)
        way(self.world)
        self.world.gauge_every_s = rate

    @rule(steps=st.integers(1, 10))
    def wait(self, steps: int) -> None:
        for _ in range(steps):
            self.world.step()

    @rule(seconds=st.sampled_from([3.5, 6.0]))
    def wait_long(self, seconds: float) -> None:
        self.world.run(seconds)

    @rule(seconds=st.sampled_from([0.3, 0.6, 1.2, 3.1, 65.0]))
    def hang(self, seconds: float) -> None:
        """One step that comes late."""
        self.world.loop_late_s = seconds - self.world.step_s
        self.world.step(seconds)
        self.world.loop_late_s = 0.0

    @rule(
        ratio=st.sampled_from([-0.05, 0.3, 0.69, 0.99, 1.0, 1.05, 1.09, 1.1, 1.14, 1.15, 1.3, 1.5])
    )
    def step_vacuum(self, ratio: float) -> None:
        self.world.set_ratio(ratio)
        self.world.step()

    @rule(ratio=st.sampled_from([0.9, 1.05, 1.2, 1.5]), rate=st.sampled_from([2.0, 9.0, 12.0]))
    @precondition(lambda self: isinstance(self.world.vacuum["table"], float))
    def ramp_vacuum(self, ratio: float, rate: float) -> None:
        here = self.world.vacuum["table"]
        if isinstance(here, float) and isfinite(here):
            self.world.ramp(ratio, rate)

    @rule(fault=st.sampled_from([None, nan, 250.0, *Why]), name=st.sampled_from(["table", "pump"]))
    def break_gauge(self, fault: Why | float | None, name: str) -> None:
        if name in self.world.vacuum:
            self.world.vacuum[name] = fault
            self.world.step()

    @rule()
    def vent(self) -> None:
        self.world.set_vacuum(0.4)
        self.world.run(3.5)

    @rule(running=st.booleans(), standstill=st.booleans())
    def machine(self, running: bool, standstill: bool) -> None:
        self.world.cycle(running, standstill and not running)

    @rule(name=st.sampled_from(["key_bypass", "valve_open"]), on=st.booleans())
    def turn_input(self, name: str, on: bool) -> None:
        self.world.inputs[name] = on
        self.world.step()

    @rule(role=st.sampled_from([None, "operator", "supervisor"]))
    def people(self, role: str | None) -> None:
        """People are set up from here on, and one is signed on or nobody."""
        self.world.sign_on(role)

    @rule(io=st.booleans())
    def wires(self, io: bool) -> None:
        self.world.io = io
        self.world.step()

    @rule(stuck=st.dictionaries(st.sampled_from(["start_permit", "hold_healthy"]), st.booleans()))
    def contacts(self, stuck: dict[str, bool]) -> None:
        self.world.stuck = stuck
        self.world.run(0.6)

    @rule(alive=st.booleans(), there=st.booleans())
    def screens(self, alive: bool, there: bool) -> None:
        self.world.screen_alive, self.world.screen = alive, "s1" if there else None
        self.world.step()

    @rule(alive=st.booleans(), self_test=st.booleans())
    def house(self, alive: bool, self_test: bool) -> None:
        self.world.log_alive, self.world.self_test = alive, self_test
        self.world.step()

    @rule(
        name=st.sampled_from(sorted(set(Name) - GUARDS_OWN)),
        zone=st.sampled_from(["A", "B", "Z"]),
        cause=st.sampled_from([*RESET_CAUSES, None]),
        warnings=st.sampled_from([[], ["loose_offcut"]]),
        right=st.booleans(),
    )
    def command(
        self, name: Name, zone: str, cause: str | None, warnings: list[str], right: bool
    ) -> None:
        self.world.send(
            name, ... if right else "d0", zone=zone, cause=cause, warnings=warnings,
            job=OFFER.file, check="signed_on", reason="other", cautions=CAUTIONS,
        )  # fmt: skip
        self.world.step()

    @rule()
    def mend_everything(self) -> None:
        """So that runs come far: what was broken works again and the machine stands."""
        world = self.world
        world.io, world.screen_alive, world.screen = True, True, "s1"
        world.log_alive, world.self_test, world.stuck = True, True, {}
        world.inputs.update(key_bypass=False, cycle_running=False, standstill=True)
        world.set_ratio(1.5)
        if world.people.set_up:
            world.sign_on("supervisor")
        world.send(Name.END_SERVICE)
        world.step()

    @rule(to=st.sampled_from([0.97, 1.05, 1.2]), back=st.booleans())
    def leak(self, to: float, back: bool) -> None:
        """A leak in the cut, and perhaps its end."""
        self._come_to(State.CUTTING)
        self.world.ramp(to)
        self.world.run(2.5)
        if back:
            self.world.ramp(1.4)
            self.world.run(6.0)

    @rule(seconds=st.sampled_from([0.0, 0.5, 0.95, 1.1]), screen=st.booleans())
    def cross(self, seconds: float, screen: bool) -> None:
        """A start that crosses with the end of its permit."""
        self._come_to(State.PERMIT)
        if screen:
            self.world.screen_alive = False
            self.world.run(2.0)
        else:
            self.world.send(Name.WITHDRAW)
        self.world.run(seconds)
        self.world.cycle(True)

    def _come_to(self, state: State) -> None:
        self.mend_everything()
        for _ in range(8):
            if self.world.state is not state:
                self._go_on()

    @rule(times=st.integers(1, 6))
    def go_on(self, times: int) -> None:
        """The next right things in the way of a part, whatever the state is."""
        self.mend_everything()
        for _ in range(times):
            self._go_on()

    def _go_on(self) -> None:
        world = self.world
        match world.state:
            case State.SELECT_JOB:
                world.send(Name.SELECT_JOB, job=OFFER.file)
            case State.SET_UP:
                for zone in ("A", "B"):
                    world.send(Name.CONFIRM_ZONE, zone=zone)
                world.send(Name.CONFIRM_PART, warnings=["loose_offcut"])
            case State.CHECKING:
                world.send(Name.RESET, cause="other")
                world.run(3.2)
            case State.READY:
                world.send(Name.REQUEST_PERMIT)
            case State.PERMIT:
                world.cycle(True)
            case State.HOLD_LOST | State.NO_PERMIT:
                world.cycle(False)
                world.send(Name.RESET, cause="other")
            case State.PART_HELD:
                world.send(Name.FINISH)
            case State.RELEASE:
                self.vent()
                world.send(Name.NEXT_PART if world.memory.plan else Name.JOB_DONE)
        world.step()


Shop.TestCase.settings = settings(
    max_examples=10,
    database=None,
    phases=[Phase.generate, Phase.shrink],  # a run that fails is told as its shortest story
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
TestShop = Shop.TestCase


@pytest.mark.long
def test_many_more_stories_hold() -> None:
    run_state_machine_as_test(Shop, settings=settings(Shop.TestCase.settings, max_examples=1000))


@pytest.mark.long
def test_a_break_is_found_and_told_as_a_short_story(monkeypatch: pytest.MonkeyPatch) -> None:
    """The machine is no use if it finds nothing: without what takes a permit back it must fail."""
    monkeypatch.setattr("kiosk.interlock.step.permissives.is_unproved", lambda turn: False)
    harder = settings(Shop.TestCase.settings, max_examples=200, report_multiple_bugs=False)
    with pytest.raises(AssertionError) as found:
        run_state_machine_as_test(Shop, settings=harder)
    told = [line for line in found.value.__notes__ if line.startswith("state.")]
    assert 0 < len(told) <= 8, told


def test_the_witness_sees_the_permit_given_on_the_right_way() -> None:
    """The witness is no use if no run comes to a permit: this one comes to everything."""
    world = Witnessed()
    world.cut()
    world.ramp(1.05)
    world.run(2.5)
    world.ramp(1.4)
    world.run(6.0)
    assert world.state is State.CUTTING
    world.cycle(False)
    world.run(1.0)
    world.cycle(True)
    world.ramp(0.9)
    world.run(1.0)
    assert world.state is State.HOLD_LOST
    seen = {row["to"] for row in world.of_kind("state")}
    assert {"READY", "PERMIT", "CUTTING", "LOW HOLD", "PAUSED", "HOLD LOST"} <= seen
