"""How long one step of the decision takes, and keeping its facts, against writing one snapshot as
JSON in the same run.

    python tests/bench/bench_step.py

Prints steps a second and the ratios of the times, which hardly depend on the computer.  The
world is a cut with one gauge at 20 Hz, everything wired, and a plan of two zones.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "interlock")]

from interlock_site import UTC  # noqa: E402
from interlock_world import World  # noqa: E402

from kiosk.interlock.decision import Note  # noqa: E402
from kiosk.interlock.facts import Facts  # noqa: E402
from kiosk.interlock.memory import Memory  # noqa: E402
from kiosk.interlock.step import step  # noqa: E402
from kiosk.records.facts import Keeper  # noqa: E402

STEPS, LINES, ROUNDS = 1000, 500, 5


def main() -> None:
    """Measure and print; the best of a few rounds, since other work only ever adds time."""
    world = World()
    world.cut()
    world.run(6.0)
    memory, facts = world.memory, []
    for _ in range(STEPS):
        world.now_s = round(world.now_s + world.step_s, 6)
        facts.append(world.facts())
    step_s = min(_steps(memory, facts) for _ in range(ROUNDS))
    json_s = min(_lines(world) for _ in range(ROUNDS))
    print(f"one step       {step_s * 1e3:.3f} ms, {1.0 / step_s:,.0f} steps a second")
    print(f"one snapshot   {json_s * 1e3:.3f} ms as JSON")
    kept_s = min(_kept(memory, facts) for _ in range(ROUNDS))
    print(f"facts of one   {(kept_s - step_s) * 1e3:.3f} ms to keep for the replay")
    print(f"step / JSON    {step_s / json_s:.2f}")
    print(f"facts / JSON   {(kept_s - step_s) / json_s:.2f}")
    longest_s = min(_longest(memory, facts) for _ in range(ROUNDS))
    print(f"longest facts / step  {longest_s / step_s:.2f}  of computing time, pieces ended too")


def _steps(memory: Memory, facts: list) -> float:
    began_s = time.perf_counter()
    for fact in facts:
        memory, _ = step(memory, fact, UTC)
    return (time.perf_counter() - began_s) / len(facts)


def _kept(memory: Memory, facts: list) -> float:
    """A step and its facts, in a cycle that opened before."""
    keeper = _opened(memory, facts[0])
    began_s = time.perf_counter()
    for fact in facts:
        before = memory
        memory, decision = step(memory, fact, UTC)
        list(keeper.keep(before, fact, UTC, decision))
    return (time.perf_counter() - began_s) / len(facts)


def _longest(memory: Memory, facts: list) -> float:
    """Of the steps after the opening, the one whose facts took most computing time to keep."""
    keeper, longest_s = _opened(memory, facts[0]), 0.0
    for fact in facts:
        before = memory
        memory, decision = step(memory, fact, UTC)
        began_s = time.thread_time()
        list(keeper.keep(before, fact, UTC, decision))
        longest_s = max(longest_s, time.thread_time() - began_s)
    return longest_s


def _opened(memory: Memory, fact: Facts) -> Keeper:
    """A keeper with an open cycle."""
    keeper = Keeper()
    _, decision = step(memory, fact, UTC)
    opened = replace(decision, notes=(Note("cycle", "c-1", {"change": "opened"}),))
    list(keeper.keep(memory, fact, UTC, opened))
    return keeper


def _lines(world: World) -> float:
    began_s = time.perf_counter()
    for _ in range(LINES):
        world.shown.to_json()
    return (time.perf_counter() - began_s) / LINES


if __name__ == "__main__":
    main()
