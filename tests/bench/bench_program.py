"""How fast an NC program is read: lines a second, and as a multiple of finding its words alone.

Run: ``python tests/bench/bench_program.py [LINES]``.  The yardstick, measured in the same run on
the same text, is ``re.findall`` of letter and number, line by line: what any reader must do at
least.  Exit 1 when reading takes more than ``MOST_TIMES`` the yardstick or ``MOST_MB`` memory.
"""

from __future__ import annotations

import random
import re
import resource
import sys
import time

from kiosk.job.gcode import read_program

LINES = 200_000
MOST_TIMES = 30.0  # measured 20 to 23 on two shared cores
MOST_MB = 500.0
WORD = re.compile(r"([A-Z])([+-]?[0-9]*\.?[0-9]*)")


def long_program(lines: int, seed: int = 3) -> str:
    """A program of straight moves, arcs and holes, as a relief with a frame would have it."""
    chance = random.Random(seed)
    rows = ["G21 G17 G90", "T1 M6", "S18000 M3", "G0 X0 Y0 Z5", "F4000"]
    while len(rows) < lines - 2:
        x, y, z = chance.uniform(0, 900), chance.uniform(0, 500), chance.uniform(-20, 2)
        kind = chance.random()
        if kind < 0.85:
            rows.append(f"N{len(rows)} G1 X{x:.3f} Y{y:.3f} Z{z:.3f}")
        elif kind < 0.97:
            rows.append(f"G1 X{x:.3f} Y{y:.3f}")
            rows.append(f"G3 X{x + 10:.3f} Y{y + 10:.3f} I10. J0. (corner)")
        else:
            rows.append(f"G81 X{x:.3f} Y{y:.3f} Z-12. R5.")
            rows.append("G80")
    return "\n".join([*rows, "G0 Z20", "M30"])


def yardstick_s(text: str) -> float:
    """Processor time to find the words alone, the best of three."""
    taken = []
    for _ in range(3):
        begun_s = time.process_time()
        for row in text.split("\n"):
            WORD.findall(row)
        taken.append(time.process_time() - begun_s)
    return min(taken)


def main(lines: int) -> int:
    """Measure, print, judge."""
    text = long_program(lines)
    alone_s = yardstick_s(text)
    begun_s = time.process_time()
    program = read_program(text, "long.nc", {})
    read_s = time.process_time() - begun_s
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    times = read_s / alone_s
    print(f"{lines} lines, {len(program.moves)} moves, processor time, peak {peak_mb:.0f} MB")
    print(f"read in {read_s:.2f} s, {lines / read_s:.0f} lines/s")
    print(f"{times:.1f} times re.findall of the words alone ({alone_s:.2f} s)")
    return 1 if times > MOST_TIMES or peak_mb > MOST_MB else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else LINES))
