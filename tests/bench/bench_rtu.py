"""A poll over Modbus RTU against the time that the wire itself takes.

Run:  python tests/bench/bench_rtu.py [polls]

The far end of a pseudo-terminal, a process of its own, lets time pass as a wire would: the request
takes its characters, then 3.5 characters of silence, then each byte of the answer comes when its
last bit would.  The device itself takes no time.  A poll is 8 + 3.5 + 9 characters and the 3.5 of
silence before the next one (Modbus over Serial Line V1.02, 2.5.1.1; Application Protocol V1.1b3,
6.4: two registers).  Characters have 11 bits, as with parity, and 10.

Beside each is the pair itself: the same bytes by bare reads and writes, in turns with the polls,
which shows what this computer's timers and other work cost.  Exit 1 when the 99th percentile of a
poll, at 9600 or 19200 baud, is more than 1.10 times the wire.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import os
import select
import statistics
import sys
import time
import tty
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hardware.catalog import open_gauge
from kiosk.interlock.reading import Reading
from kiosk.site import GaugeSite, Layout

GOAL = 1.10
GAP = 3.5  # characters
REQUEST = bytes.fromhex("01 04 00 02 00 02 D0 0B")
ANSWER = bytes.fromhex("01 04 04 42 A0 00 00 EF DE")
LAYOUT = Layout("x", 4, 2, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0))
TURN = 10  # polls


def sleep_until(due_s: float) -> None:
    """Until a moment of the monotonic clock."""
    while (left_s := due_s - time.monotonic()) > 0.0:
        time.sleep(left_s)


def far_end(master: int, character_s: float) -> None:
    """Answer every request, as slowly as the wire."""
    came = b""
    while data := os.read(master, 4096):
        came += data
        if len(came) < len(REQUEST):
            continue
        came = came[len(REQUEST) :]
        begins_s = time.monotonic() + (len(REQUEST) + GAP) * character_s
        for place, byte in enumerate(ANSWER, 1):
            sleep_until(begins_s + place * character_s)
            os.write(master, bytes((byte,)))


def bare_poll(slave: int, character_s: float) -> None:
    """The silence, the request and the answer, by nothing but the system's calls."""
    time.sleep(GAP * character_s)
    os.write(slave, REQUEST)
    came = b""
    while len(came) < len(ANSWER):
        select.select([slave], [], [], 1.0)
        came += os.read(slave, 4096)


def timed(kinds: Sequence[Callable[[], None]], polls: int) -> list[list[float]]:
    """How long each poll of each kind took, s, rising.

    They go in turns of ``TURN``, so that all meet the same load; the first of a turn, which follows
    another's silence, does not count.
    """
    took: list[list[float]] = [[] for _ in kinds]
    while len(took[-1]) < polls:
        for poll, times in zip(kinds, took, strict=True):
            poll()
            for _ in range(TURN):
                began_s = time.perf_counter()
                poll()
                times.append(time.perf_counter() - began_s)
    return [sorted(times) for times in took]


def gauge_poll(path: str, baud: int, bits: int) -> tuple[Callable[[], None], Callable[[], None]]:
    """One poll of a gauge of the program, and its end."""
    address = f"modbus-rtu://{path}?baud={baud}&parity=none&stop={bits - 9}&unit=1"
    row = GaugeSite("table", "table", address, "register", "x", 1.0)
    gauge = open_gauge(row, LAYOUT, time.monotonic)

    def poll() -> None:
        sample = gauge.poll()
        if not isinstance(sample, Reading):
            raise SystemExit(f"the gauge gave {sample}")

    return poll, gauge.close


def measured(baud: int, bits: int, polls: int) -> tuple[float, list[float], list[float]]:
    """The wire's time, and how long bare polls and a gauge's polls took, s."""
    character_s = bits / baud
    master, slave = os.openpty()
    tty.setraw(slave)
    far = multiprocessing.get_context("fork").Process(
        target=far_end, args=(master, character_s), daemon=True
    )
    far.start()
    poll, close = gauge_poll(os.ttyname(slave), baud, bits)
    bare, own = timed((lambda: bare_poll(slave, character_s), poll), polls)
    close()
    far.terminate()
    far.join()
    os.close(master)
    os.close(slave)
    return (len(REQUEST) + len(ANSWER) + 2 * GAP) * character_s, bare, own


def at(took: list[float], share: float) -> float:
    """A percentile in ms."""
    return 1000.0 * took[min(len(took) - 1, int(share * len(took)))]


def main() -> int:
    """Print a row for each kind of line; 1 when the goal was missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("polls", nargs="?", type=int, default=400)
    polls = parser.parse_args().polls
    gc.freeze()
    print(f"{polls} polls each, ms            bare pair            poll           p99 / wire")
    print("baud  bits  wire      p50    p99       p50    p99       bare   poll")
    missed = busy = False
    for baud, bits in ((9600, 11), (9600, 10), (19200, 11), (19200, 10), (115200, 11)):
        wire_s, bare, own = measured(baud, bits, polls)
        ratio = at(own, 0.99) / (1000.0 * wire_s)
        busy |= baud <= 19200 and at(bare, 0.99) > GOAL * 1000.0 * wire_s
        missed |= baud <= 19200 and ratio > GOAL
        halves = [f"{1000.0 * statistics.median(t):>7.2f}{at(t, 0.99):>7.2f}" for t in (bare, own)]
        bare_ratio = at(bare, 0.99) / (1000.0 * wire_s)
        print(f"{baud:>6}{bits:>4}{1000.0 * wire_s:>7.2f}  {halves[0]}   {halves[1]}"
              f"     {bare_ratio:>5.3f}  {ratio:>5.3f}")  # fmt: skip
    if busy:
        print("the bare pair misses it too: this computer is too busy to tell")
    print(f"goal: poll p99 at most {GOAL:.2f} of the wire at 9600 and 19200 baud")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
