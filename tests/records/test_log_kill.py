"""Nothing acknowledged is lost when the process is killed at any instant."""

from __future__ import annotations

import os
import random
import select
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kiosk.records import review
from kiosk.records.open import inspect
from kiosk.records.verify import verify

ROOT = Path(__file__).resolve().parents[2]
VICTIM = Path(__file__).with_name("log_victim.py")


def last_told(life: str, path: Path, life_s: float) -> tuple[int, int]:
    """Start the process, kill it (SIGKILL) after ``life_s`` of talk; what it told last."""
    command = [sys.executable, str(VICTIM), str(path), life]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment) as process:
        assert process.stdout is not None
        first = process.stdout.readline()  # it is up
        heard, end_s = [first], time.monotonic() + life_s
        while (left_s := end_s - time.monotonic()) > 0:
            if select.select([process.stdout], [], [], left_s)[0]:
                heard.append(process.stdout.readline())
        process.kill()
        heard += process.stdout.read().splitlines(keepends=True)
        assert process.wait(20.0) == -9
    whole = [line for line in heard if line.endswith(b"\n")]
    notes, samples = map(int, whole[-1].split())
    return notes, samples


def check_life(path: Path, life: str, notes: int, samples: int) -> None:
    kept = [event.note for event in review.events(path, life)]
    assert kept == list(range(1, len(kept) + 1))
    assert len(kept) >= notes
    traced = [value for _, value in review.samples(path, life, 0, 2**60)]
    assert traced == [round(k * 0.01, 4) for k in range(len(traced))]
    assert len(traced) >= samples


def lane(path: Path, seed: int, lives: int) -> tuple[int, int]:
    """Several lives on one file; the sum of what was acknowledged."""
    chance, all_notes, all_samples = random.Random(seed), 0, 0
    for number in range(lives):
        life = f"{seed}-{number}"
        notes, samples = last_told(life, path, chance.uniform(0.0, 2.4))
        if not path.exists():  # killed before the log was begun
            assert (notes, samples, list(path.parent.glob(f"{path.stem}.unreadable*"))) == (
                0,
                0,
                [],
            )
            continue
        assert inspect(path).readable
        assert verify(path).broken is None
        check_life(path, life, notes, samples)
        all_notes, all_samples = all_notes + notes, all_samples + samples
    return all_notes, all_samples


def run_lanes(folder: Path, lanes: int, lives: int) -> None:
    with ThreadPoolExecutor(lanes) as pool:
        paths = [folder / f"{k}.db" for k in range(lanes)]
        told = list(pool.map(lane, paths, range(lanes), [lives] * lanes))
    assert sum(notes for notes, _ in told) > 20 * lanes
    assert sum(samples for _, samples in told) > 20 * lanes


def test_twenty_kills_lose_nothing_acknowledged(tmp_path: Path) -> None:
    run_lanes(tmp_path, lanes=4, lives=5)


@pytest.mark.long
def test_two_hundred_kills_lose_nothing_acknowledged(tmp_path: Path) -> None:
    run_lanes(tmp_path, lanes=4, lives=50)
