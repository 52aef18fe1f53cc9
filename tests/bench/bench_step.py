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

from interlock_world import UTC, World  # noqa: E402

from kiosk.interlock.decision import Note  # noqa: E402
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


def _steps(memory: object, facts: list) -> float:
    began_s = time.perf_counter()
    for fact in facts:
        memory, _ = step(memory, fact, UTC)
    return (time.perf_counter() - began_s) / len(facts)


def _kept(memory: object, facts: list) -> float:
    """A step and its facts, in a cycle that opened before."""
    keeper = Keeper()
    _, decision = step(memory, facts[0], UTC)
    opened = replace(decision, notes=(Note("cycle", "c-1", {"change": "opened"}),))
    list(keeper.keep(memory, facts[0], UTC, opened))
    began_s = time.perf_counter()
    for fact in facts:
        before = memory
        memory, decision = step(memory, fact, UTC)
        list(keeper.keep(before, fact, UTC, decision))
    return (time.perf_counter() - began_s) / len(facts)


def _lines(world: World) -> float:
    began_s = time.perf_counter()
    for _ in range(LINES):
        world.shown.to_json()
    return (time.perf_counter() - began_s) / LINES


if __name__ == "__main__":
    main()
