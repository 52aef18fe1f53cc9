"""How fast the log commits and how small it is, each as a ratio taken in the same run.

python tests/bench/bench_log.py [FOLDER]: a folder on the disk to be measured, else a temporary
one.  Durable commits a second (one note and ten samples each) against one pwrite and fdatasync
of 4 KiB into a file made beforehand, in alternating rounds; bytes a value of a whole log of a
made-up gauge against zlib of its values as 16-bit integers, a minute at a time; and the time to
draw half an hour of it in 1,000 columns.
"""

from __future__ import annotations

import os
import random
import statistics
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np

from kiosk.records import review
from kiosk.records.book import Book
from kiosk.records.inbox import Batch
from kiosk.records.store import Moment, NoteItem, RunItem, SampleItem

UTC = "2026-11-25T09:00:00.000Z"
ROUNDS, COMMITS = 5, 300
HOURS, RATE_HZ = 48, 10


def seconds_of(work: Callable[[int], object], count: int) -> float:
    began_s = time.perf_counter()
    for k in range(count):
        work(k)
    return time.perf_counter() - began_s


def raw_writer(path: Path) -> Callable[[int], object]:
    """4 KiB to a place of its own, then fdatasync: the least a durable commit can be."""
    blocks = 256
    path.write_bytes(bytes(4096 * blocks))
    handle = os.open(path, os.O_RDWR)
    os.fsync(handle)

    def write(k: int) -> None:
        os.pwrite(handle, bytes([k % 256]) * 4096, 4096 * (k % blocks))
        os.fdatasync(handle)

    return write


def log_writer(book: Book) -> Callable[[int], object]:
    state = {"n": 0}

    def commit(_: int) -> None:
        n = state["n"] = state["n"] + 1
        at = Moment(1000 * n, UTC)
        note = NoteItem(n, at, "state", "c-1", {"event": "hold_low", "from": "CUTTING", "to": "B"})
        samples = tuple(SampleItem("table", 1000 * n + 100 * k, 60.0) for k in range(10))
        book.commit(Batch((note,), samples), [], at)

    return commit


def bench_commits(folder: Path) -> None:
    book = Book(folder / "commits.db", RunItem("epoch", "boot", ""))
    raw, log = raw_writer(folder / "raw.bin"), log_writer(book)
    log(0)
    ratios, rates = [], []
    for _ in range(ROUNDS):
        raw_s, log_s = seconds_of(raw, COMMITS), seconds_of(log, COMMITS)
        ratios.append(raw_s / log_s)
        rates.append(COMMITS / log_s)
    book.close()
    print(f"durable commits: {statistics.median(rates):.0f} a second, "
          f"{statistics.median(ratios):.2f} of raw pwrite + fdatasync "
          f"(rounds {min(ratios):.2f} to {max(ratios):.2f})")  # fmt: skip


def gauge_kpa(count: int, seed: int = 1) -> list[float]:
    """Vacuum of a made-up hold: slow drift, a pump that comes and goes, noise of 0.015 kPa."""
    chance, drift, values = random.Random(seed), 0.0, []
    for k in range(count):
        drift = 0.93 * drift + chance.gauss(0.0, 0.006)
        pump = 1.5 * abs((k / (RATE_HZ * 40)) % 2 - 1)
        values.append(round(60.0 + pump + drift + chance.gauss(0.0, 0.015), 2))
    return values


def bench_size(folder: Path) -> None:
    path = folder / "size.db"
    book, values = Book(path, RunItem("epoch", "boot", "")), gauge_kpa(HOURS * 3600 * RATE_HZ)
    book.commit(Batch((), ()), [], Moment(0, UTC))
    empty = path.stat().st_size
    chance, raw_bytes = random.Random(2), 0
    for start in range(0, len(values), 600):
        minute = values[start : start + 600]
        counts = np.array([round(100 * v) for v in minute], dtype="<i2")
        raw_bytes += len(zlib.compress(counts.tobytes(), 6))
        samples = tuple(SampleItem("table", 100 * (start + k) + chance.choice((0, 0, 0, 1)), v)
                        for k, v in enumerate(minute))  # fmt: skip
        book.commit(Batch((), samples), [], Moment(100 * (start + 600), UTC))
    book.close()
    grown = path.stat().st_size - empty
    print(f"bytes a value: {grown / len(values):.3f} of the file's growth (empty: {empty}), with "
          f"times to 1 ms, hashes and pyramid; {grown / raw_bytes:.2f} of zlib of the raw values, "
          f"which is {raw_bytes / len(values):.3f}")  # fmt: skip
    end_ms = review.end_ms(path)
    draw = [seconds_of(lambda _: review.trace(path, "table", end_ms - 1_800_000, end_ms, 1000), 1)
            for _ in range(9)]  # fmt: skip
    print(f"half an hour in 1000 columns: {1000 * statistics.median(draw):.1f} ms")


def main() -> None:
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as folder:
        bench_commits(Path(folder))
        bench_size(Path(folder))


if __name__ == "__main__":
    main()
