"""How fast the job minimum is: load cases a second against a general convex solver.

Run: ``python tests/bench/bench_minimum.py``.  30 cups, 100,000 load cases along an invented
contour.  The same cases are solved one by one by Clarabel without a modelling layer, each cup's
ring as 24 points, as many of them as fit into the time; the matrix is built once and not counted.
Then how the cost grows: with three and ten times as many cases, and with as many more cups, on the
same ground.  Processor time, the best of three.  Exit 1 when the ratio to the solver is below
``LEAST_TIMES``, or when the cost grows more than cases or cups do.
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
GROWING_CASES, GROWING_CUPS = (10_000, 30_000, 100_000), ((5, 2), (6, 5), (10, 10))
WIDE_M, HIGH_M = 0.55, 0.44  # the ground that the cups stand on
LEAST_TIMES = 300.0
SOLVER_S = 20.0
FRICTION, RADIUS_M, FACTOR = 0.35, 0.034, 2.0
WEIGHT = Weight(25.0, 0.3, 0.25)


def cups(columns=COLUMNS, rows=ROWS):
    x, y = np.meshgrid(np.linspace(0.0, WIDE_M, columns), np.linspace(0.0, HIGH_M, rows))
    radius = RADIUS_M * np.sqrt(COLUMNS * ROWS / x.size)  # the same area in all
    return Cups(x.ravel(), y.ravel(), np.full(x.size, radius), FRICTION)


def contour(rng, count=CASES):
    """A wavy closed contour round the cups, cut with changing force and lift, 7 columns."""
    turn = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    wave = 1.0 + 0.08 * np.cos(9 * turn)
    x, y = 0.275 + 0.33 * wave * np.cos(turn), 0.22 + 0.27 * wave * np.sin(turn)
    size = 130.0 + 60.0 * rng.random(count)
    angle = turn + 2.0 * np.pi * rng.random(count)
    push = size * np.cos(angle), size * np.sin(angle)
    up, torque = 60.0 * rng.random(count), 2.0 * rng.random(count) - 1.0
    return x, y, np.full(count, 0.011), *push, up, torque


def both_ways(table):
    """The cases with their lateral force in any direction, and in the given one."""
    x, y, z, fx, fy, fz, torque = table
    factor, none = np.full(x.size, FACTOR), np.zeros(x.size)
    return {
        "open direction": Cases(x, y, z, none, none, fz, np.hypot(fx, fy), torque, factor),
        "given direction": Cases(x, y, z, fx, fy, fz, none, torque, factor),
    }


def used_s(work):
    """The answer, and the least processor time of three."""
    taken = []
    for _ in range(3):
        begun_s = time.process_time()
        answer = work()
        taken.append(time.process_time() - begun_s)
    return answer, min(taken)


def solver_rate(group, table, ours):
    """Cases a second of the general solver, and its worst case among those solved."""
    order = np.random.default_rng(3).permutation(CASES)
    order = np.concatenate([[ours.case], order[order != ours.case]])
    built = programme(group, points=24, rim_points=24)
    worst, done, start = 0.0, 0, time.process_time()
    for case in order:
        x, y, z, fx, fy, fz, torque = (column[case] for column in table)
        load = (x, y, z, FACTOR * fx, FACTOR * fy, FACTOR * fz, FACTOR * torque)
        pressure = solve(built, load, (WEIGHT.force_n, WEIGHT.x_m, WEIGHT.y_m))
        worst, done = max(worst, pressure), done + 1
        if time.process_time() - start > SOLVER_S:
            break
    return done / (time.process_time() - start), worst, done


def told_growth():
    """Print how the cost grows; False when it grows more than what it grows with."""
    rows = [("cases", n, cups(), contour(np.random.default_rng(7), n)) for n in GROWING_CASES]
    table = contour(np.random.default_rng(7))
    rows += [("cups", c * r, cups(c, r), table) for c, r in GROWING_CUPS]
    taken = {}
    for what, count, group, some in rows:
        cases = both_ways(some)["open direction"]
        taken[what, count] = used_s(lambda g=group, c=cases: job_minimum(g, c, WEIGHT))[1]
    grown = {}
    for what in ("cases", "cups"):
        least, most = (pick(n for w, n in taken if w == what) for pick in (min, max))
        grown[what] = taken[what, most] / taken[what, least], most / least
        told = ", ".join(f"{n:,}: {s:.3f} s" for (w, n), s in taken.items() if w == what)
        print(f"{what}: {told}: {grown[what][0]:.1f} times for {grown[what][1]:.0f} times as many")
    return all(cost <= more for cost, more in grown.values())


def main():
    group, table = cups(), contour(np.random.default_rng(7))
    for label, cases in both_ways(table).items():
        _, alone_s = used_s(lambda cases=cases: job_minimum(group, cases, WEIGHT, 0))
        found, taken_s = used_s(lambda cases=cases: job_minimum(group, cases, WEIGHT))
        print(
            f"{label}: {found.pressure_pa / 1e3:.3f} kPa by {found.mode} at case {found.case}, "
            f"proved {found.exact}, {taken_s:.2f} s, {CASES / taken_s:,.0f} cases a second, "
            f"without runners-up {alone_s:.2f} s"
        )
    linear = told_growth()
    rate, worst, done = solver_rate(
        (group.x_m, group.y_m, group.seal_radius_m, FRICTION), table, found
    )
    print(f"general solver: {worst / 1e3:.3f} kPa at worst, {done} cases, {rate:,.1f} a second")
    times, differ = CASES / taken_s / rate, found.pressure_pa / worst - 1.0
    print(f"ratio: {times:,.0f}; answers differ by {differ:.1e}")
    return 0 if times >= LEAST_TIMES and linear else 1


if __name__ == "__main__":
    sys.exit(main())
