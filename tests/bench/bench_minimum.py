"""How fast the job minimum is: load cases a second against a general convex solver.

Run by hand: ``python tests/bench/bench_minimum.py``.  30 cups, 100,000 load cases along an
invented contour.  The same cases are solved one by one by Clarabel without a modelling layer,
each cup's ring as 24 points, as many of them as fit into the time; the matrix is built once and
not counted.  Prints what it found.
"""
# ruff: noqa: E402 - one thread must be asked for before numpy is imported

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"  # one core for both

import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1] / "hold")]

from ring_socp import programme, solve

from kiosk.hold.minimum import Cases, Cups, Weight, job_minimum

CASES, COLUMNS, ROWS = 100_000, 6, 5
SOLVER_S = 20.0
FRICTION, RADIUS_M, FACTOR = 0.35, 0.034, 2.0
WEIGHT = Weight(25.0, 0.3, 0.25)


def cups():
    x, y = np.meshgrid(0.11 * np.arange(COLUMNS), 0.11 * np.arange(ROWS))
    return Cups(x.ravel(), y.ravel(), np.full(COLUMNS * ROWS, RADIUS_M), FRICTION)


def contour(rng):
    """A wavy closed contour round the cups, cut with changing force and lift, (L, 8)."""
    turn = np.linspace(0.0, 2.0 * np.pi, CASES, endpoint=False)
    wave = 1.0 + 0.08 * np.cos(9 * turn)
    x, y = 0.275 + 0.33 * wave * np.cos(turn), 0.22 + 0.27 * wave * np.sin(turn)
    size = 130.0 + 60.0 * rng.random(CASES)
    angle = turn + 2.0 * np.pi * rng.random(CASES)
    push = size * np.cos(angle), size * np.sin(angle)
    up, torque = 60.0 * rng.random(CASES), 2.0 * rng.random(CASES) - 1.0
    return x, y, np.full(CASES, 0.011), *push, up, torque


def timed(work):
    """The answer, with seconds by the clock and of the processor."""
    start, used = time.perf_counter(), time.process_time()
    answer = work()
    return answer, time.perf_counter() - start, time.process_time() - used


def solver_rate(group, table, ours):
    """Cases a second of the general solver, and its worst case among those solved."""
    order = np.random.default_rng(3).permutation(CASES)
    order = np.concatenate([[ours.case], order[order != ours.case]])
    built = programme(group, points=24, rim_points=24)
    worst, done, start = 0.0, 0, time.perf_counter()
    for case in order:
        x, y, z, fx, fy, fz, torque = (column[case] for column in table)
        load = (x, y, z, FACTOR * fx, FACTOR * fy, FACTOR * fz, FACTOR * torque)
        pressure = solve(built, load, (WEIGHT.force_n, WEIGHT.x_m, WEIGHT.y_m))
        worst, done = max(worst, pressure), done + 1
        if time.perf_counter() - start > SOLVER_S:
            break
    return done / (time.perf_counter() - start), worst, done


def main():
    group, table = cups(), contour(np.random.default_rng(7))
    x, y, z, fx, fy, fz, torque = table
    factor, none = np.full(CASES, FACTOR), np.zeros(CASES)
    fixed = Cases(x, y, z, fx, fy, fz, none, torque, factor)
    open_ = Cases(x, y, z, none, none, fz, np.hypot(fx, fy), torque, factor)
    for label, cases in (("open direction", open_), ("given direction", fixed)):
        _, _, alone = timed(lambda cases=cases: job_minimum(group, cases, WEIGHT, 0))
        found, seconds, used = timed(lambda cases=cases: job_minimum(group, cases, WEIGHT))
        print(
            f"{label}: {found.pressure_pa / 1e3:.3f} kPa by {found.mode} at case {found.case}, "
            f"proved {found.exact}, {seconds:.3f} s, {CASES / seconds:,.0f} cases a second; "
            f"of the processor {used:.2f} s, without runners-up {alone:.2f} s"
        )
    rate, worst, done = solver_rate(
        (group.x_m, group.y_m, group.seal_radius_m, FRICTION), table, found
    )
    print(f"general solver: {worst / 1e3:.3f} kPa at worst, {done} cases, {rate:,.1f} a second")
    differ = found.pressure_pa / worst - 1.0
    print(f"ratio: {CASES / seconds / rate:,.0f}; answers differ by {differ:.1e}")


if __name__ == "__main__":
    main()
