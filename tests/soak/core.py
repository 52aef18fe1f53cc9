"""A day of plant time through the pure decision: the plant's own model, no process, no clock.

A cut, a pause, perhaps a leak, a release, the next part, without end, with made-up lengths from a
seed.  Judged in every step: no contact on below the minimum for longer than the decision takes,
none before a cycle was proved; at the end: every cycle came to its end, and the memory is flat.
"""

from __future__ import annotations

import resource
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from random import Random

sys.path.append(str(Path(__file__).parents[1] / "interlock"))

from interlock_world import World

from hardware.plant.model import TableNumbers
from hardware.plant.plant import Numbers, Plant
from kiosk.interlock.commands import Name
from kiosk.interlock.states import State

STEP_S = 0.1  # 10 Hz, the least rate of a gauge
LATEST_S = 1.0  # from below the minimum to HOLD HEALTHY off: 3 samples, and the gauge's lag
GROWN_KIB = 4096
VOLUME_L = 15.0


@dataclass
class Day:
    """What a run came to."""

    hours: float = 0.0
    steps: int = 0
    parts: int = 0
    lost: int = 0
    alarms: dict[str, int] = field(default_factory=dict)
    low_with_contact_s: float = 0.0  # longest
    memory_kib: list[int] = field(default_factory=list)
    stuck: str = ""


class Shop:
    """Plant and decision, wired to each other."""

    def __init__(self, seed: int) -> None:
        self.chance = Random(seed)
        self.plant = Plant(Numbers(table=TableNumbers(volume_l=VOLUME_L)))
        self.world = World(step_s=STEP_S, gauge_every_s=STEP_S)
        self.day = Day()
        self._low_s = 0.0
        self._standing: set[str] = set()

    def step(self) -> None:
        """A tenth of a second everywhere."""
        world, plant = self.world, self.plant
        plant.advance(plant.now_s + STEP_S)
        world.set_vacuum(plant.gauge_kpa())
        world.inputs.update(plant.inputs())
        world.step()
        outputs = world.decision.outputs
        plant.write_coils(asdict(outputs))
        world.notes.clear()
        self._count()

    def _count(self) -> None:
        day, world = self.day, self.world
        day.steps += 1
        ratio = world.shown.hold.ratio
        low = ratio is not None and ratio < 1.0 and world.outputs[1]
        self._low_s = self._low_s + STEP_S if low else 0.0
        day.low_with_contact_s = max(day.low_with_contact_s, self._low_s)
        active = world.alarms()
        for code in active - self._standing:
            day.alarms[code] = day.alarms.get(code, 0) + 1
        self._standing = active

    def until(self, true: Callable[[], bool], within_s: float, what: str) -> None:
        """Let time pass until it is so."""
        for _ in range(round(within_s / STEP_S)):
            if true():
                return
            self.step()
        raise TimeoutError(f"{what}: {self.world.state}, {self.world.unmet()}")

    def rest(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds / STEP_S)):
            self.step()

    def send(self, name: Name, **arguments: object) -> None:
        """A command with the next step."""
        self.world.queue(name, **arguments)
        self.step()

    def state(self, *states: State) -> bool:
        """The decision is in one of these."""
        return self.world.state in states

    def part(self) -> None:
        """One part from set-up to release."""
        plant, chance = self.plant, self.chance
        for zone in self.world.plan.zones if self.world.plan else ():
            if zone.name not in self.world.memory.zones:
                self.send(Name.CONFIRM_ZONE, zone=zone.name)
        self.send(Name.CONFIRM_PART, warnings=["loose_offcut"])
        plant.table.vacuum_on, plant.table.vent_open = True, False
        self.until(lambda: self.state(State.READY), 60.0, "proved")
        self.send(Name.REQUEST_PERMIT)
        self.rest(chance.uniform(1.0, 8.0))
        assert plant.machine.start(False) is None
        self.rest(chance.uniform(20.0, 240.0))
        if chance.random() < 0.1:
            self._lose()
        else:
            plant.machine.end()
            self.until(lambda: plant.machine.standstill, 20.0, "standstill")
            self.rest(1.0)
            self.send(Name.FINISH)
        self.until(lambda: self.state(State.RELEASE), 20.0, "release")
        plant.table.vacuum_on, plant.table.vent_open = False, True
        self.until(lambda: self.world.shown.release == "vented", 60.0, "vented")
        self.send(Name.NEXT_PART)
        self.day.parts += 1

    def _lose(self) -> None:
        self.plant.table.set_leak(self.chance.uniform(15.0, 40.0), self.chance.uniform(0.0, 30.0))
        self.until(lambda: self.state(State.HOLD_LOST), 60.0, "lost")
        self.until(lambda: not self.plant.machine.cycle_running, 10.0, "held by the contact")
        self.plant.machine.end()
        self.plant.table.set_leak(0.0, 0.0)
        self.send(Name.ACKNOWLEDGE, alarm=[alarm.code for alarm in self.world.shown.alarms])
        self.until(lambda: not self.world.shown.forbids_reset, 30.0, "reset allowed")
        self.send(Name.RESET, cause="leak_at_edge")
        self.day.lost += 1


def run(hours: float, seed: int = 3) -> Day:
    """Run it; a step that is not reached ends it, and is told."""
    shop = Shop(seed)
    day = shop.day
    try:
        shop.world.select()
        while shop.plant.now_s < 3600.0 * hours:
            shop.part()
            day.memory_kib.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    except (TimeoutError, AssertionError) as stuck:
        day.stuck = str(stuck) or "the machine did not start"
    day.hours = shop.plant.now_s / 3600.0
    return day


def rows(day: Day, hours: float) -> list[tuple[str, str, str, bool]]:
    """What was asked, the limit, what came, and whether it holds."""
    half = day.memory_kib[len(day.memory_kib) // 2 :]
    grown = half[-1] - half[0] if half else 0
    told = ", ".join(f"{code} {count}" for code, count in sorted(day.alarms.items()))
    return [
        ("plant time", f"{hours:g} h", f"{day.hours:.2f} h, {day.steps} steps",
         day.hours >= hours),
        ("parts to their end, of them lost", "all", f"{day.parts}, {day.lost} {day.stuck}",
         not day.stuck),
        ("longest time below the minimum with HOLD HEALTHY on", f"{LATEST_S:g} s",
         f"{day.low_with_contact_s:.1f} s", day.low_with_contact_s <= LATEST_S),
        ("alarms raised", "-", told, True),
        ("most memory, from half of the run to its end", f"+{GROWN_KIB // 1024} MiB",
         f"+{grown / 1024.0:.1f} MiB", grown < GROWN_KIB),
    ]  # fmt: skip
