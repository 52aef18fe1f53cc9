"""Break the decision in every way of a list, one at a time: the quick tests must notice each.

    python tests/interlock/mutants.py [--module NAME ...] [--tests NAME ...] [--share K/N]
                                      [--jobs 2] [--minutes M] [--map FILE]

Not part of the test run.  Every comparison, "and"/"or", "not", condition, number, truth value,
sum and bare call in ``kiosk/interlock`` is changed on its own in memory, and tests of this folder
are run in a forked process until one fails.  First only the running function is changed, for some
tests that run the changed line; what these do not notice is imported anew with its change, for all
tests.  What noticed a neighbour is tried first.

Works on a copy, so that files may be edited meanwhile.  A mutant that no test notices is
printed with its line and counted; the exit status is 1 when there is one.  What ``EQUAL`` names is
not tried.  One that keeps the processor for three times as long as the tests took is noticed too.
With ``--minutes`` they are tried in a fixed shuffled order until so long after the start, and how
many were tried is told.  With ``--map`` the first run, without any change, is kept in that file and
not repeated while program and tests are the same to the byte.  Code that only describes
(annotations, decorators, words) is left alone.
"""

from __future__ import annotations

import argparse
import compileall
import gc
import hashlib
import importlib.abc
import importlib.machinery
import os
import pickle
import random
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

from equal_mutants import EQUAL
from forked import each, fork
from mutations import PACKAGE, Mutant, mutants_of
from noticers import Noticers

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SCRATCH = tempfile.TemporaryDirectory(prefix="mutants-")
COPY = Path(SCRATCH.name).resolve()
# Types only: nothing is decided in them.
LEFT_OUT = {"__init__", "commands", "decision", "facts", "reading", "states", "snapshot", "codes"}
ORDER = (
    "born", "table", "main_path", "docs", "window", "two_gauges", "permissives", "forbids",
    "commands", "waivers", "stories", "alarms", "doubts", "publish", "order", "moves", "step",
    "trend", "limits", "alarm_rows", "signals", "turn", "watch", "cycle", "measure",
)  # fmt: skip
PART = 0.03  # of the time of all tests, for those that are tried before all others


class Hand(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Hands out one changed module in the place of the file's."""

    def __init__(self, mutant: Mutant) -> None:
        self.name = f"kiosk.interlock.{mutant.module}"
        self.code = compile(mutant.source, f"<mutant of {mutant.module}>", "exec")

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        return importlib.machinery.ModuleSpec(fullname, self) if fullname == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


class Map:
    """Which tests run a line, the quickest first, and how long a mutant may take."""

    def __init__(self, seconds: dict[str, float], lines: dict[str, set[tuple[str, int]]]) -> None:
        self._seconds = seconds
        self._whole_s = sum(seconds.values())
        self.limit_s = 60 + int(3.0 * self._whole_s)
        self._of: dict[tuple[str, int], list[str]] = {}
        self._all = _mixed(sorted(seconds, key=seconds.__getitem__))
        for test in self._all:
            for line in lines[test]:
                self._of.setdefault(line, []).append(test)

    def tests(self, mutant: Mutant) -> list[str]:
        """Of the first lines of the changed place: as many as take ``PART`` of all tests' time."""
        chosen: dict[str, float] = {}
        for line in range(mutant.line, mutant.last + 1):
            for test in self._of.get((mutant.module, line), ()):
                if sum(chosen.values()) > PART * self._whole_s:
                    break
                chosen[test] = self._seconds[test]
        return list(chosen)

    def every(self, mutant: Mutant) -> list[str]:
        """All tests, those that run a changed line first.

        The others count too: a world that one test has brought somewhere is used again by others.
        """
        lines = range(mutant.line, mutant.last + 1)
        some = {test for line in lines for test in self._of.get((mutant.module, line), ())}
        return sorted(self._all, key=lambda test: test not in some)

    def near_limit_s(self, mutant: Mutant) -> int:
        """Seconds of the processor for ``tests``: much more than they took."""
        return 10 + int(3.0 * sum(self._seconds[test] for test in self.tests(mutant)))


def _mixed(tests: Sequence[str]) -> list[str]:
    """One of each function, then the next of each: what differs only by its numbers comes later."""
    met: Counter[str] = Counter()
    rounds = []
    for place, test in enumerate(tests):
        function = test.partition("[")[0]
        rounds.append((met[function], place, test))
        met[function] += 1
    return [test for _, _, test in sorted(rounds)]


def pytest_run(targets: list[str], *plugins: object) -> int:
    """The exit status of pytest on these."""
    import pytest

    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--rootdir", str(COPY)]
    return int(pytest.main([*options, *targets], plugins=list(plugins)))


def files_of(names: Sequence[str]) -> list[str]:
    """The files of tests by name."""
    return [str(COPY / f"tests/interlock/test_{name}.py") for name in names]


def follow(files: list[str], part: Path) -> int:
    """Run these tests unchanged and keep which lines each runs."""
    from covered import Covered

    covered = Covered(str(COPY / "kiosk" / "interlock"))
    status = pytest_run(files, covered)
    part.write_bytes(pickle.dumps((covered.seconds, covered.lines)))
    return status


def run_tests(mutant: Mutant, covered: Map, noticers: Noticers) -> int:
    """The exit status of the tests in this process, the likely ones first."""
    resource.setrlimit(resource.RLIMIT_CPU, (covered.limit_s, covered.limit_s))
    sys.meta_path.insert(0, Hand(mutant))
    from ordered import Ordered

    plugin = Ordered(noticers.first(mutant, covered.every(mutant)))
    status = pytest_run(plugin.files(), plugin)
    if plugin.failed:
        noticers.tell(mutant, plugin.failed)
    return status


def take_copy() -> None:
    """What the tests need, in a folder of its own, compiled once."""
    for name in ("kiosk", "tests/interlock", "docs"):
        shutil.copytree(ROOT / name, COPY / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", COPY)
    os.chdir(COPY)
    compileall.compile_dir(str(COPY / "kiosk"), quiet=2)


def warm_up() -> None:
    """Import everything heavy once, so that each child starts at once; nothing of ours."""
    import hypothesis.stateful  # noqa: F401
    import numpy as np  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401

    sys.path[:] = [
        str(COPY),
        str(COPY / "tests" / "interlock"),
        *(p for p in sys.path if Path(p or ".").resolve() not in (ROOT, HERE)),
    ]
    assert not any(name.startswith("kiosk.interlock") for name in sys.modules)


def print_of_copy(files: list[str]) -> str:
    """A fingerprint of everything that was copied, and of which tests are asked for."""
    digest = hashlib.sha256("\n".join(Path(file).name for file in files).encode())
    for path in sorted(path for path in COPY.rglob("*") if path.suffix in (".py", ".md", ".toml")):
        digest.update(str(path.relative_to(COPY)).encode() + path.read_bytes())
    return digest.hexdigest()


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


def swapped_noticed(
    mutants: list[Mutant],
    covered: Map,
    noticers: Noticers,
    files: list[str],
    *,
    jobs: int,
    until_s: float,
) -> list[Mutant]:
    """Those that the tests notice when only the running function is changed: most, and quickly."""
    kept = COPY / "noticed.pickle"

    def run() -> int:
        from swapped import Swapping

        plugin = Swapping(mutants, covered.tests, covered.near_limit_s, noticers)
        plugin.jobs, plugin.until_s = jobs, until_s
        status = pytest_run(["-s", *files], plugin)
        kept.write_bytes(pickle.dumps([mutants.index(mutant) for mutant in plugin.noticed]))
        return status

    if os.waitpid(fork(run), 0)[1] != 0:
        return []
    return [mutants[number] for number in pickle.loads(kept.read_bytes())]


def survivors(
    mutants: list[Mutant], covered: Map, files: list[str], jobs: int, until_s: float
) -> tuple[int, int]:
    """Try them, a few at a time; how many were tried, and how many lived."""
    noticers = Noticers(COPY / "noticers")
    noticed = swapped_noticed(mutants, covered, noticers, files, jobs=jobs, until_s=until_s)
    noticers.learn()
    left = [mutant for mutant in mutants if mutant not in noticed]
    print(f"{len(noticed)} of {len(mutants)} noticed at once, {len(left)} left", flush=True)
    tried, lived = len(noticed), 0
    for mutant, status in each(left, lambda m: run_tests(m, covered, noticers), jobs, until_s):
        noticers.learn()
        tried += 1
        if status == 0:
            lived += 1
            print(f"LIVES  {mutant.module}.py:{mutant.line}  {mutant.words}", flush=True)
        if tried % 100 == 0:
            print(f"{tried} of {len(mutants)}, {lived} live", flush=True)
    return tried, lived


def main() -> int:
    """Run the mutants that were asked for; 1 when one lives."""
    modules = sorted(p.stem for p in PACKAGE.glob("*.py") if p.stem not in LEFT_OUT)
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--module", nargs="*", default=modules, choices=modules)
    parser.add_argument("--tests", nargs="*", default=ORDER, choices=ORDER)
    parser.add_argument("--share", default="1/1", help="K/N: every Nth mutant from the Kth on")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=float("inf"))
    parser.add_argument("--map", type=Path)
    args = parser.parse_args()
    began_s, kept = time.monotonic(), args.map and args.map.resolve()
    take_copy()
    warm_up()
    files = files_of(args.tests)
    covered = kept_map(files, args.jobs, kept)
    start, step = (int(word) for word in args.share.split("/"))
    every = [m for module in args.module for m in mutants_of(module)]
    mutants = [m for m in every if (m.module, m.words) not in EQUAL][start - 1 :: step]
    print(f"{sum((m.module, m.words) in EQUAL for m in every)} are known to be equal", flush=True)
    if args.minutes < float("inf"):
        random.Random(1).shuffle(mutants)
    gc.freeze()  # so that children share what is here
    until_s = began_s + 60.0 * args.minutes
    tried, lived = survivors(mutants, covered, files, args.jobs, until_s)
    minutes = (time.monotonic() - began_s) / 60.0
    print(f"{tried} of {len(mutants)} mutants tried, {lived} live, {minutes:.1f} min")
    return 1 if lived else 0


if __name__ == "__main__":
    sys.exit(main())
