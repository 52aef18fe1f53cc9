"""The bench of the early warning judges as the program does."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "bench"), str(ROOT / "tests" / "interlock")]

import bench_warning as bench  # noqa: E402
from interlock_world import World, plan_of  # noqa: E402
from warning_judge import Case, leak_case, onsets_of  # noqa: E402
from warning_plants import Trace, leaking  # noqa: E402

from kiosk.interlock.commands import Name  # noqa: E402
from kiosk.interlock.states import State  # noqa: E402

SEED_OF_1_5 = 9730  # draws R = 1.50 for the beginning of the cut


def told_by_the_decision(case: Case) -> list[int]:
    """Samples at which the whole decision begins to warn on the same readings."""
    plan = plan_of(minimum_kpa=case.minimum_kpa, required_kpa=case.minimum_kpa + 3.0)
    world = World(plan=plan, step_s=0.1, gauge_every_s=0.1)
    world.confirm()
    began = int(np.flatnonzero(case.trace.cutting)[0])
    found, before = [], False
    for number, said_kpa in enumerate(case.trace.said_kpa.tolist()):
        world.set_vacuum(said_kpa)
        if number == began - 2:
            assert world.send(Name.REQUEST_PERMIT) is None
        elif number == began:
            world.cycle(True)
            assert world.state is State.CUTTING
        else:
            world.step()
        if world.state is State.HOLD_LOST:
            break
        now = world.state is State.LOW_HOLD
        if now and not before:
            found.append(number)
        before = now
    return found


@pytest.mark.parametrize(
    "seed", [5, pytest.param(3, marks=pytest.mark.long), pytest.param(10, marks=pytest.mark.long)]
)
def test_the_bench_warns_when_the_program_does(seed: int) -> None:
    """A leak through ``step`` and through the bench: the first warning comes together."""
    case = leak_case(leaking(seed), seed)
    assert case is not None
    program, judged = told_by_the_decision(case), onsets_of(case, *bench.SHIPPED)
    assert program
    assert abs(program[0] - judged[0]) <= 1


def test_a_slow_leak_is_warned_of_and_a_good_cut_is_not() -> None:
    goods, leaks = bench.run(hours=1, leaks=6, jobs=1, first_seed=3)
    assert sum(result.hours for result in goods) == pytest.approx(1.0, abs=0.01)
    slow = [result for result in leaks if result.slow]
    assert slow
    at = bench.RULES.index(bench.SHIPPED)
    assert bench.caught(slow, at) == 1.0
    assert bench.false_per_100_h(goods, at) == 0.0
    text = "\n".join(bench.rows(goods, leaks))
    assert text.count("(shipped)") == 1
    assert bench.meets(goods, leaks)


def test_what_comes_too_late_or_for_nothing_misses_the_target() -> None:
    """The judgement itself: half a second short of the lead, one false warning in 50 h."""
    rules = len(bench.RULES)
    leak = bench.Result(fall_s=30.0, slow=True, told=(10.0,) * rules)
    good = bench.Result(hours=50.0, told=(0.0,) * rules)
    assert bench.meets([good], [leak])
    assert not bench.meets([good], [replace(leak, told=(9.5,) * rules)])
    assert not bench.meets([replace(good, told=(1.0,) * rules)], [leak])


def test_a_leak_is_slow_only_by_its_whole_fall() -> None:
    """20 s from R = 1.15 to 1.00, and no second of more than 0.02 of R."""
    for seconds, last, slow in ((25.0, 0.0, True), (15.0, 0.0, False), (40.0, 0.06, False)):
        end = 1.0 + last
        ratio = np.concatenate(
            (np.full(600, 1.5), np.linspace(1.5, 1.15, 300),
             np.linspace(1.15, end, round(seconds * 10)), np.full(30, 0.999))
        )  # fmt: skip
        table = 40.0 * ratio + 3.0
        trace = Trace(table, table, np.ones(len(table), bool), "hole", 600)
        case = leak_case(trace, seed=SEED_OF_1_5)
        assert case is not None
        assert case.slow is slow, (seconds, last)
