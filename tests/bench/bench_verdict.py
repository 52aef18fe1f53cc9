"""How long ``holdpoint check`` takes from a long NC program to its verdict, on a terminal.

Run: ``python tests/bench/bench_verdict.py [LINES ...]``, 20,000 and 200,000 without.  Two
programs of ours: a relief milled in rows with a ball, then freed all round; and wavy discs cut
through in three passes, one piece each.  Told for each: processor time of the whole command, from
its start to its end; when the first word of progress came; peak memory; and the processor time as
a multiple of finding the program's words alone, the yardstick of ``bench_program.py``, in the same
run.  Exit 1 when a run takes more than the processor time or memory that is wanted.
"""

from __future__ import annotations

import math
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.bench_program import MOST_MB, yardstick_s  # noqa: E402 - the checkout comes first

SITE = ROOT / "hardware" / "site" / "demo.site.toml"
WANTED_S = ((20_000, 3.0), (200_000, 20.0))  # lines, processor time
WIDE, HIGH = 1000.0, 600.0
JOB = """\
format = 1
id = "LONG"
title = "A long program"
revision = "A"
cups_up = "auto"
[part]
outline = [[0.0, 0.0], [1000.0, 0.0], [1000.0, 600.0], [0.0, 600.0]]
thickness_mm = 18.0
material = "mdf"
underside = "machined"
surface = "clean"
[placement]
x_mm = 16.0
y_mm = 16.0
[program]
file = "long.nc"
z_zero = "top"
[[tool]]
number = 1
kind = "ball"
diameter_mm = 10.0
flutes = 2
helix_deg = 0.0
edge = "used"
[[tool]]
number = 2
kind = "upcut"
diameter_mm = 8.0
flutes = 2
helix_deg = 30.0
edge = "used"
"""


class Run(NamedTuple):
    """What one command took."""

    status: int
    processor_s: float
    whole_s: float
    told_s: float | None  # when the first word of progress came
    peak_mb: float


def relief(lines: int) -> Iterator[str]:
    """Rows along x, as far apart as points along them times five, over bumps 4 mm high."""
    yield from ("G21 G17 G90", "T1 M6", "S18000 M3", "G0 X20 Y20 Z5", "F6000")
    across = max(int(math.sqrt(lines / 5.0 * (WIDE - 40.0) / (HIGH - 40.0)) * 5.0 / 2.0), 2)
    rows = max((lines - 14) // across, 2)
    for row in range(rows):
        y = 20.0 + (HIGH - 40.0) * row / (rows - 1)
        for k in range(across):
            along = k if row % 2 == 0 else across - 1 - k
            x = 20.0 + (WIDE - 40.0) * along / (across - 1)
            z = -3.0 + 2.0 * math.sin(x / 31.0) * math.cos(y / 23.0)
            yield f"G1 X{x:.3f} Y{y:.3f} Z{z:.3f}"
    yield from ("G0 Z20", "T2 M6", "S18000 M3", "G0 X10 Y10", "G1 Z-18.2 F3000")
    yield from (f"G1 {to}" for to in ("X990", "Y590", "X10", "Y10"))


def discs(lines: int) -> Iterator[str]:
    """Twelve wavy discs, each in three passes and the last one through."""
    yield from ("G21 G17 G90", "T2 M6", "S18000 M3", "F5000")
    points = max((lines - 6) // 36 - 2, 8)
    for spot in range(12):
        x0, y0 = 125.0 + 250.0 * (spot % 4), 100.0 + 200.0 * (spot // 4)
        for z in (-6.0, -12.0, -18.2):
            for k in range(points + 1):
                turn = 2.0 * math.pi * k / points
                away = 85.0 + 5.0 * math.cos(7.0 * turn)
                place = f"X{x0 + away * math.cos(turn):.3f} Y{y0 + away * math.sin(turn):.3f}"
                if k == 0:
                    yield f"G0 {place} Z5"
                yield f"G1 {place} Z{z:.3f}"
        yield "G0 Z5"


PROGRAMS: dict[str, Callable[[int], Iterator[str]]] = {"relief": relief, "discs": discs}


def program(name: str, lines: int) -> str:
    """The text of a program, to its end."""
    return "\n".join([*PROGRAMS[name](lines), "G0 Z20", "M30", ""])


def checked(job: Path) -> Run:
    """One ``holdpoint check`` on a terminal of its own."""
    begun_s, told_s = time.monotonic(), None
    pid, terminal = os.forkpty()
    if pid == 0:
        os.chdir(ROOT)
        words = [sys.executable, "-m", "kiosk", "check", str(job), "--site", str(SITE)]
        os.execv(sys.executable, words)
    while words_of(terminal):
        told_s = told_s or time.monotonic() - begun_s
    _, status, used = os.wait4(pid, 0)
    os.close(terminal)
    return Run(
        os.waitstatus_to_exitcode(status),
        used.ru_utime + used.ru_stime,
        time.monotonic() - begun_s,
        told_s,
        used.ru_maxrss / 1024.0,
    )


def words_of(terminal: int) -> bytes:
    """What the command wrote; nothing at its end (Linux tells the end of a terminal by EIO)."""
    try:
        return os.read(terminal, 4096)
    except OSError:
        return b""


def judged(folder: Path, name: str, lines: int) -> bool:
    """Measure one program and print it."""
    text = program(name, lines)
    (folder / "long.nc").write_text(text, encoding="utf-8")
    job = folder / "long.job.toml"
    job.write_text(JOB, encoding="utf-8")
    alone_s = yardstick_s(text)
    run = checked(job)
    told = "never" if run.told_s is None else f"after {run.told_s:.1f} s"
    print(
        f"{name}, {text.count(chr(10))} lines: {run.processor_s:.1f} s of processor, "
        f"{run.whole_s:.1f} s by the clock, progress {told}, peak {run.peak_mb:.0f} MB, "
        f"{run.processor_s / alone_s:.0f} times finding the words"
    )
    wanted = [most_s for least, most_s in WANTED_S if lines <= least]
    if run.status not in (0, 1):
        print(f"  the command ended with {run.status}")
        return False
    return run.peak_mb <= MOST_MB and (not wanted or run.processor_s <= wanted[0])


def main(lengths: list[int]) -> int:
    """Measure every program at every length; 1 when one is too slow or too large."""
    with tempfile.TemporaryDirectory() as folder:
        found = [judged(Path(folder), name, n) for n in lengths for name in PROGRAMS]
    return 0 if all(found) else 1


if __name__ == "__main__":
    sys.exit(main([int(word) for word in sys.argv[1:]] or [lines for lines, _ in WANTED_S]))
