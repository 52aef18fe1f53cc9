"""Cuts on the simulated table, for the bench of the early warning: good ones and leaking ones.

Every number that has no source named is a range that we chose (common practice, no source); a
seed draws from it.  The table's air is that of ``hardware/plant/model.py``, in steps of 50 ms:
no time constant of it is shorter than half a second.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hardware.plant.model import GaugeNumbers, Table, TableGauge, TableNumbers

STEP_S = 0.05
RATE_HZ = 10  # the slowest gauge that the limits allow
FULL_CURVE = ((0.0, 40.0), (60.0, 30.0), (88.0, 0.0))
LEAKS = ("hole", "growing", "pump", "board", "shut")

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trace:
    """One session at ``RATE_HZ``.  ``at_table_kpa``: without noise; ``said_kpa``: by the gauge."""

    at_table_kpa: Floats
    said_kpa: Floats
    cutting: NDArray[np.bool_]
    leak: str | None = None
    leaks_from: int = 0  # sample


@dataclass(slots=True)
class Shop:
    """One machine with its habits.  Only ``chance`` decides."""

    chance: random.Random
    cycling: str | None  # None: the pump runs on; "motor" or "valve": it is shut off when full
    numbers: TableNumbers
    band_kpa: tuple[float, float] = (0.0, 0.0)  # where a cycling pump comes on and goes off
    steps_per_min: float = 0.0
    step_mm2: float = 0.0
    chatter_per_h: float = 0.0


def shop(chance: random.Random) -> Shop:
    """A machine in good order: one in three has a pump that cycles, one in three a porous board."""
    cycling = chance.choice((None, None, None, None, "motor", "valve"))
    if cycling is None:
        size = chance.uniform(0.5, 3.0)
        numbers = TableNumbers(
            volume_l=60.0 * size * log_uniform(chance, 0.5, 6.0),
            pump_curve=tuple((kpa, size * m3_h) for kpa, m3_h in FULL_CURVE),
            lip_bore_mm=chance.uniform(0.3, 1.0) * math.sqrt(size),
            permeability_m2=chance.choice((0.0, chance.uniform(0.38e-13, 6.26e-13))),
        )  # permeability of fibreboard: measured range, as in the story of the porous board
    else:
        on_kpa = chance.uniform(62.0, 74.0)
        numbers = TableNumbers(volume_l=chance.uniform(60.0, 300.0), lip_bore_mm=0.1)
        return Shop(
            chance,
            cycling,
            replace(numbers, lip_bore_mm=_lip_for(chance, cycling, numbers.volume_l)),
            (on_kpa, on_kpa + chance.uniform(4.0, 10.0)),
            chance.uniform(0.0, 0.5),
            chance.uniform(0.003, 0.03),
            chance.choice((0.0, chance.uniform(1.0, 30.0))),
        )
    step_mm2 = size * log_uniform(chance, 0.2, 12.0)
    return Shop(
        chance, None, numbers,
        steps_per_min=size * chance.uniform(2.0, 25.0) / step_mm2 / 10.0,
        step_mm2=step_mm2,
        chatter_per_h=chance.choice((0.0, chance.uniform(1.0, 30.0))),
    )  # fmt: skip


def log_uniform(chance: random.Random, low: float, high: float) -> float:
    """A number whose logarithm is as likely anywhere between."""
    return math.exp(chance.uniform(math.log(low), math.log(high)))


def _lip_for(chance: random.Random, cycling: str, volume_l: float) -> float:
    """Bore of each lip's leak for a fall with the pump shut off, kPa/s.

    A motor may start some 15 times an hour (common practice, no source), so its table falls
    slowly; a valve that shuts the pump off may close every half minute.
    """
    fall_kpa_s = chance.uniform(0.01, 0.06) if cycling == "motor" else chance.uniform(0.05, 0.4)
    free_m3_s = fall_kpa_s / 101.325 * volume_l / 1000.0
    area_m2 = free_m3_s / 159.0 / 12.0  # choked: 0.8 x 198.6 m/s of free air
    return 2000.0 * math.sqrt(area_m2 / math.pi)


@dataclass(slots=True)
class Session:
    """A table being run.  Collects what the gauge is asked for."""

    shop: Shop
    gauge: TableGauge
    wander_kpa: float
    spikes_per_h: float
    digit_kpa: float
    ripple_kpa: float
    ripple_hz: float
    table: Table = field(init=False)
    now_s: float = 0.0
    pump_on: bool = True
    cut_mm2: float = 0.0  # opened by the cutter
    fade: float = 1.0
    _drift_kpa: float = 0.0
    at_table: list[float] = field(default_factory=list)
    said: list[float] = field(default_factory=list)
    cutting: list[bool] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.table = Table(self.shop.numbers)

    def run(self, seconds: float, cutting: bool, leak: Leak | None = None) -> None:
        """Let time pass in the cut or beside it."""
        for number in range(round(seconds / STEP_S)):
            if cutting:
                self._cut()
            if leak is not None:
                leak.act(self, number * STEP_S)
            self._pump()
            self.table.step(STEP_S, STEP_S)
            self.now_s += STEP_S
            self.gauge.step(STEP_S, self.table.vacuum_kpa)
            if number % 2:
                self._read(cutting)

    def vent(self) -> None:
        """The part is taken off; the next one lies on whole cups."""
        self.table.vent_open, self.cut_mm2, self.pump_on = True, 0.0, False
        self._pump()
        self.run(8.0, False)
        self.table.vent_open, self.pump_on = False, True

    def _cut(self) -> None:
        """Cut-through steps stay until the part is done; chatter lasts for a moment."""
        chance, shop = self.shop.chance, self.shop
        if chance.random() < shop.steps_per_min / 60.0 * STEP_S:
            self.cut_mm2 += shop.step_mm2 * chance.uniform(0.5, 1.5)
        if self.table.vent_open:
            self.table.vent_open = chance.random() < 0.3
        else:
            self.table.vent_open = chance.random() < shop.chatter_per_h / 3600.0 * STEP_S

    def _pump(self) -> None:
        on_kpa, off_kpa = self.shop.band_kpa
        if self.shop.cycling and not self.table.vent_open:
            vacuum_kpa = self.table.vacuum_kpa
            self.pump_on = vacuum_kpa < on_kpa or (self.pump_on and vacuum_kpa < off_kpa)
        self.table.vacuum_on = self.pump_on and self.fade > 0.0
        self.table.set_leak(2.0 * math.sqrt(self.cut_mm2 / math.pi))

    def _read(self, cutting: bool) -> None:
        chance, true_kpa = self.shop.chance, self.table.vacuum_kpa
        self._drift_kpa += -self._drift_kpa * 0.1 / 20.0 + chance.gauss(0.0, self.wander_kpa) * 0.1
        said_kpa = self.gauge.vacuum_kpa + self._drift_kpa
        said_kpa += self.ripple_kpa * math.sin(2.0 * math.pi * self.ripple_hz * self.now_s)
        if chance.random() < self.spikes_per_h / 36000.0:
            said_kpa += chance.choice((-1.0, 1.0)) * chance.uniform(2.0, 20.0)
        self.at_table.append(true_kpa + self.gauge.numbers.offset_kpa)
        self.said.append(round(said_kpa / self.digit_kpa) * self.digit_kpa)
        self.cutting.append(cutting)

    def trace(self, leak: str | None = None, leaks_from: int = 0) -> Trace:
        """What was collected."""
        table, said = np.array(self.at_table), np.array(self.said)
        return Trace(table, said, np.array(self.cutting, bool), leak, leaks_from)


@dataclass(slots=True)
class Leak:
    """Something that goes wrong ``after_s`` into the cut, and for good."""

    kind: str
    after_s: float
    full: float  # mm2 of a hole, or the share of the pump that goes
    over_s: float

    def act(self, session: Session, at_s: float) -> None:
        """Do it, as far as it has come."""
        if at_s < self.after_s:
            return
        share = (
            1.0 if self.kind in ("hole", "shut") else min((at_s - self.after_s) / self.over_s, 1.0)
        )
        numbers = session.shop.numbers
        if self.kind in ("hole", "growing"):
            session.cut_mm2 = max(session.cut_mm2, self.full * share)
        elif self.kind == "shut":
            session.fade = 0.0
        elif self.kind == "pump":
            left = max(1.0 - self.full * share, 0.01)
            curve = tuple((kpa, left * m3_h) for kpa, m3_h in numbers.pump_curve)
            session.table.numbers = replace(numbers, pump_curve=curve)
        else:
            thinned = numbers.board_mm * max(1.0 - self.full * share, 0.03)
            session.table.numbers = replace(
                numbers, board_mm=thinned, permeability_m2=max(numbers.permeability_m2, 4e-13)
            )


def _session(seed: int) -> Session:
    chance = random.Random(seed)
    noise_kpa = log_uniform(chance, 0.02, 0.3)
    gauge = GaugeNumbers(chance.uniform(0.02, 0.2), noise_kpa, chance.uniform(-0.5, 0.5), seed)
    return Session(
        shop(chance), TableGauge(gauge),
        wander_kpa=chance.uniform(0.0, 0.2),
        spikes_per_h=chance.choice((0.0, chance.uniform(1.0, 20.0))),
        digit_kpa=chance.choice((0.01, 0.05, 0.1)),
        ripple_kpa=chance.choice((0.0, chance.uniform(0.05, 0.3))),
        ripple_hz=log_uniform(chance, 0.05, 5.0),
    )  # fmt: skip


def good(seed: int, hours: float) -> Trace:
    """Parts in good order, one after the other, until so much has been cut."""
    session, left_s = _session(seed), 3600.0 * hours
    while left_s > 0.0:
        cut_s = min(session.shop.chance.uniform(180.0, 1200.0), left_s)
        session.run(session.shop.chance.uniform(40.0, 150.0), False)  # drawn down and set up
        session.run(cut_s, True)
        session.vent()
        left_s -= cut_s
    return session.trace()


def leaking(seed: int) -> Trace:
    """One part whose hold goes in the cut, within 25 minutes."""
    session = _session(seed)
    chance, size = session.shop.chance, session.shop.numbers.pump_curve[0][1] / 40.0
    kinds = LEAKS if session.shop.cycling else LEAKS[:-1]
    kind = chance.choice(kinds)
    full = {
        "hole": size * log_uniform(chance, 5.0, 60.0),
        "growing": size * log_uniform(chance, 20.0, 300.0),
    }.get(kind, 1.0)
    leak = Leak(kind, chance.uniform(30.0, 200.0), full, chance.uniform(20.0, 1200.0))
    session.run(chance.uniform(40.0, 150.0), False)
    leaks_from = len(session.said) + int(leak.after_s * RATE_HZ)
    session.run(leak.after_s + 1300.0, True, leak)
    return session.trace(kind, leaks_from)
