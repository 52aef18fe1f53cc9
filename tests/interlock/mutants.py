"""Break the decision in every way of a list, one at a time: the quick tests must notice each.

    python tests/interlock/mutants.py [--keep] [--module NAME ...] [--tests NAME ...]
                                      [--share K/N] [--jobs N] [--minutes M] [--map FILE]

Every comparison, "and"/"or", "not", condition, number, truth value, sum and bare call in
``kiosk/interlock`` is changed on its own in memory, and tests of this folder are run in a forked
process until one fails.  First each test that noticed the mutant in an earlier run
(``noticed.txt``, written with ``--keep``).  What is left is looked for: with only the running
function changed, by some tests that run the changed line; then imported anew with its change, by
all tests, what noticed a neighbour before the others.

Works on a copy, so that files may be edited meanwhile.  A mutant that no test notices is
printed with its line and counted; the exit status is 1 when there is one, or when time was too
short for all.  What ``EQUAL`` names is not tried.  One that keeps the processor for three times as
long as the tests took is noticed too.  With ``--minutes`` none is begun so long after the start.
With ``--map`` the first run, without any change, is kept in that file and not repeated while
program and tests are the same to the byte.  Code that only describes (annotations, decorators,
words) is left alone.
"""

from __future__ import annotations

import argparse
import gc
import os
import pickle
import sys
import time
from pathlib import Path

from covered import Covered, Map
from equal_mutants import EQUAL
from forked import fork
from mutations import PACKAGE, mutants_of
from noticers import Noticers, keep, read_kept
from trial import Trial, known, search
from workcopy import COPY, HERE, files_of, print_of_copy, pytest_run, take_copy, warm_up

# Types only: nothing is decided in them.
LEFT_OUT = {"__init__", "commands", "decision", "facts", "reading", "states", "snapshot", "codes"}
# Walks and drawn runs: slow, and what they notice shorter tests notice too.
SLOW = {"machine", "never_permits", "replay"}
TESTS = sorted({path.stem.removeprefix("test_") for path in HERE.glob("test_*.py")} - SLOW)
KEPT = HERE / "noticed.txt"


def follow(files: list[str], part: Path) -> int:
    """Run these tests unchanged and keep which lines each runs."""
    covered = Covered(str(COPY / "kiosk" / "interlock"))
    status = pytest_run(files, covered)
    part.write_bytes(pickle.dumps((covered.seconds, covered.lines)))
    return status


def kept_map(files: list[str], jobs: int, kept: Path | None) -> Map:
    """The map of an earlier run of the very same files, else of a run now, which is kept."""
    mark = print_of_copy(files)
    if kept is not None and kept.exists():
        before, seconds, lines = pickle.loads(kept.read_bytes())
        if before == mark:
            return Map(seconds, lines)
    seconds, lines = must_pass(files, jobs)
    if kept is not None:
        kept.write_bytes(pickle.dumps((mark, seconds, lines)))
    return Map(seconds, lines)


def must_pass(
    files: list[str], jobs: int
) -> tuple[dict[str, float], dict[str, set[tuple[str, int]]]]:
    """Leave when the tests fail without any change: then nothing can be said of a mutant."""
    jobs = min(jobs, len(files))
    parts = [COPY / f"covered{number}.pickle" for number in range(jobs)]
    running = [fork(follow, files[n::jobs], part) for n, part in enumerate(parts)]
    ends = [os.waitpid(pid, 0)[1] for pid in running]
    if any(ends):
        sys.exit("the tests fail without any change: nothing can be said")
    seconds: dict[str, float] = {}
    lines: dict[str, set[tuple[str, int]]] = {}
    for part in parts:
        for whole, found in zip((seconds, lines), pickle.loads(part.read_bytes()), strict=True):
            whole.update(found)
    return seconds, lines


def main() -> int:
    """Run the mutants that were asked for; 1 when one lives."""
    began_s = time.monotonic()
    take_copy()
    modules = sorted(p.stem for p in PACKAGE.glob("*.py") if p.stem not in LEFT_OUT)
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--module", nargs="*", default=modules, choices=modules)
    parser.add_argument("--tests", nargs="*", default=TESTS, choices=TESTS)
    parser.add_argument("--share", default="1/1", help="K/N: every Nth mutant from the Kth on")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 2)
    parser.add_argument("--minutes", type=float, default=float("inf"))
    parser.add_argument("--map", type=lambda words: Path(words).resolve())
    parser.add_argument("--keep", action="store_true")
    args = parser.parse_args()
    warm_up()
    start, step = (int(word) for word in args.share.split("/"))
    every = [m for module in args.module for m in mutants_of(module)]
    mutants = [m for m in every if (m.module, m.words) not in EQUAL][start - 1 :: step]
    print(f"{len(every) - len(mutants)} are known to be equal, or of another share", flush=True)
    gc.freeze()  # so that children share what is here
    noticers = Noticers(COPY / "noticers", read_kept(KEPT))
    trial = Trial(noticers, args.jobs, began_s + 60.0 * args.minutes)
    known(trial, mutants)
    rest = trial.left(mutants)
    print(f"{len(rest)} of {len(mutants)} not noticed as before", flush=True)
    lived = search(trial, rest, kept_map(files_of(args.tests), args.jobs, args.map)) if rest else []
    if args.keep:
        there = (mutant for module in modules for mutant in mutants_of(module))
        keep(KEPT, read_kept(KEPT) | noticers.of, there)
    not_tried = len(trial.left(mutants)) - len(lived)
    minutes = (time.monotonic() - began_s) / 60.0
    print(f"{len(mutants)} mutants, {len(lived)} live, {not_tried} not tried, {minutes:.1f} min")
    return 1 if lived or not_tried else 0


if __name__ == "__main__":
    sys.exit(main())
