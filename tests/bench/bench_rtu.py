"""A poll over Modbus RTU against the time that the wire itself takes.

Run:  python tests/bench/bench_rtu.py [polls]

The far end of a pseudo-terminal, a process of its own, lets time pass as a wire would: the request
takes its characters, then comes the silence of 3.5 characters, then each byte of the answer comes
when its last bit would.  The device itself takes no time.  A poll is 8 + 9 characters with a
silence before and between (Modbus over Serial Line V1.02, 2.5.1.1: 3.5 characters, 1.75 ms above
19200 baud; Application Protocol V1.1b3, 6.4: two registers).  Characters have 11 bits, as with
parity, and 10.

An end made of sleeps is itself late at times, by what this computer's timers and other work cost.
So the far end tells how long its wire took in each poll, and the poll is judged by the wire that it
met: the last column.  The column before is the same poll by the wire's calculated time, and beside
it the bare pair's: the same bytes by bare reads and writes, in turns with the polls.

Exit 1 when the 99th percentile of a poll, at 9600 or 19200 baud, is more than 1.10 times the wire.
"""

from __future__ import annotations

import argparse
import gc
import multiprocessing
import os
import select
import sys
import time
import tty
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from hardware.catalog import open_gauge
from kiosk.interlock.reading import Reading
from kiosk.site import GaugeSite, Layout

GOAL = 1.10
GAP = 3.5  # characters
LEAST_GAP_S = 0.00175  # above 19200 baud
REQUEST = bytes.fromhex("01 04 00 02 00 02 D0 0B")
ANSWER = bytes.fromhex("01 04 04 42 A0 00 00 EF DE")
LAYOUT = Layout("x", 4, 2, "float32", "ABCD", 1.0, 0.0, "kPa", "vacuum", (-5.0, 102.0))
TURN = 10  # polls


def sleep_until(due_s: float) -> None:
    """Until a moment of the monotonic clock."""
    while (left_s := due_s - time.monotonic()) > 0.0:
        time.sleep(left_s)


@dataclass(frozen=True)
class Line:
    """A serial line: its character and its silence, s."""

    baud: int
    bits: int  # of a character

    @property
    def character_s(self) -> float:
        return self.bits / self.baud

    @property
    def gap_s(self) -> float:
        return LEAST_GAP_S if self.baud > 19200 else GAP * self.character_s

    @property
    def poll_s(self) -> float:
        """What a poll takes on the wire."""
        return (len(REQUEST) + len(ANSWER)) * self.character_s + 2 * self.gap_s


@dataclass
class Took:
    """Polls of one kind, s each: how long they took, and the wire that each met."""

    polls_s: list[float] = field(default_factory=list)
    wires_s: list[float] = field(default_factory=list)

    def at_ms(self, share: float) -> float:
        return 1000.0 * at(self.polls_s, share)

    def over_met(self, share: float) -> float:
        """A percentile of poll / wire, each poll by the wire that it met."""
        return at([p / w for p, w in zip(self.polls_s, self.wires_s, strict=True)], share)


def far_end(master: int, line: Line, tell: Connection) -> None:
    """Answer every request, as slowly as the wire, and tell how long the wire took."""
    came = b""
    while data := os.read(master, 4096):
        read_s = time.monotonic()
        came += data
        if len(came) < len(REQUEST):
            continue
        came = came[len(REQUEST) :]
        begins_s = read_s + len(REQUEST) * line.character_s + line.gap_s
        for place, byte in enumerate(ANSWER, 1):
            sleep_until(begins_s + place * line.character_s)
            written_s = time.monotonic()
            os.write(master, bytes((byte,)))
        tell.send(line.gap_s + written_s - read_s)


def bare_poll(slave: int, line: Line) -> None:
    """The silence, the request and the answer, by nothing but the system's calls."""
    time.sleep(line.gap_s)
    os.write(slave, REQUEST)
    came = b""
    while len(came) < len(ANSWER):
        select.select([slave], [], [], 1.0)
        came += os.read(slave, 4096)


def timed(kinds: Sequence[Callable[[], None]], told: Connection, polls: int) -> list[Took]:
    """How long each poll of each kind took.

    They go in turns of ``TURN``, so that all meet the same load; the first of a turn, which follows
    another's silence, does not count.
    """
    tooks = [Took() for _ in kinds]
    while len(tooks[-1].polls_s) < polls:
        for poll, took in zip(kinds, tooks, strict=True):
            poll()
            told.recv()
            for _ in range(TURN):
                began_s = time.monotonic()
                poll()
                took.polls_s.append(time.monotonic() - began_s)
                took.wires_s.append(told.recv())
    return tooks


def gauge_poll(path: str, line: Line) -> tuple[Callable[[], None], Callable[[], None]]:
    """One poll of a gauge of the program, and its end."""
    address = f"modbus-rtu://{path}?baud={line.baud}&parity=none&stop={line.bits - 9}&unit=1"
    row = GaugeSite("table", "table", address, "register", "x", 1.0)
    gauge = open_gauge(row, LAYOUT, time.monotonic)

    def poll() -> None:
        sample = gauge.poll()
        if not isinstance(sample, Reading):
            raise SystemExit(f"the gauge gave {sample}")

    return poll, gauge.close


def spin() -> None:
    """Work that gives way to any other."""
    os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    while True:
        pass


def keep_awake() -> None:
    """Keep every processor from halting, until this process ends."""
    for _ in range(os.cpu_count() or 1):
        multiprocessing.get_context("fork").Process(target=spin, daemon=True).start()


def measured(line: Line, polls: int) -> list[Took]:
    """Bare polls and a gauge's polls on one line."""
    master, slave = os.openpty()
    tty.setraw(slave)
    told, tell = multiprocessing.Pipe(duplex=False)
    far = multiprocessing.get_context("fork").Process(
        target=far_end, args=(master, line, tell), daemon=True
    )
    far.start()
    poll, close = gauge_poll(os.ttyname(slave), line)
    tooks = timed((lambda: bare_poll(slave, line), poll), told, polls)
    close()
    far.terminate()
    far.join()
    os.close(master)
    os.close(slave)
    return tooks


def at(values: list[float], share: float) -> float:
    """A percentile."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def main() -> int:
    """Print a row for each kind of line; 1 when the goal was missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("polls", nargs="?", type=int, default=400)
    parser.add_argument("--awake", action="store_true", help="keep the processors from halting")
    options = parser.parse_args()
    polls = options.polls
    if options.awake:
        keep_awake()
    gc.freeze()
    print(f"{polls} polls each, ms            bare pair            poll      p99 / calculated")
    print("baud  bits  wire      p50    p99       p50    p99       bare   poll   p99 / met")
    missed = False
    for baud, bits in ((9600, 11), (9600, 10), (19200, 11), (19200, 10), (115200, 11)):
        line = Line(baud, bits)
        wire_ms = 1000.0 * line.poll_s
        bare, own = measured(line, polls)
        met = own.over_met(0.99)
        missed |= baud <= 19200 and met > GOAL
        halves = [f"{took.at_ms(0.5):>7.2f}{took.at_ms(0.99):>7.2f}" for took in (bare, own)]
        ratios = [f"{took.at_ms(0.99) / wire_ms:.3f}" for took in (bare, own)]
        print(f"{baud:>6}{bits:>4}{wire_ms:>7.2f}  {halves[0]}   {halves[1]}"
              f"      {ratios[0]}  {ratios[1]}       {met:.3f}", flush=True)  # fmt: skip
    print(f"goal: p99 of poll / wire met at most {GOAL:.2f} at 9600 and 19200 baud")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
