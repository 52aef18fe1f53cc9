"""Mutants and the tests that are to notice them, each in a process of its own."""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import ModuleType

from covered import Map
from forked import each, fork, limit
from mutations import Mutant
from noticers import Noticers
from ordered import Ordered
from workcopy import pytest_run

KNOWN_LIMIT_S = 15  # of the processor, for one test that noticed a mutant before
NOTHING_TOLD = (0, 4, 5)  # exit status of pytest: passed, wrong use, no test found
Tests = Callable[[Mutant], list[str]]


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


def run_anew(mutant: Mutant, tests: list[str], limit_s: int, noticers: Noticers) -> int:
    """Run the tests in this process, in this order, with the changed module imported."""
    sys.meta_path.insert(0, Hand(mutant))
    plugin = Ordered(tests)
    limit(limit_s, lambda: noticers.tell(mutant, plugin.running or tests[0]))
    status = pytest_run(plugin.files(), plugin)
    if status not in NOTHING_TOLD:
        noticers.tell(mutant, plugin.failed or tests[0])
    return status


@dataclass
class Trial:
    """One run over the mutants: what they are tried with, and until when."""

    noticers: Noticers
    jobs: int
    until_s: float

    def left(self, mutants: list[Mutant]) -> list[Mutant]:
        """Those that nothing has noticed yet."""
        self.noticers.learn()
        return [mutant for mutant in mutants if mutant.mark not in self.noticers.of]

    def by_swap(
        self, mutants: list[Mutant], tests: Tests, limit_s: Callable[[Mutant], int]
    ) -> list[Mutant]:
        """Only the running function is changed: quick, and enough for most.  Returns the rest."""
        names = {test for mutant in mutants for test in tests(mutant)}

        def run() -> int:
            from swapped import Swapping

            plugin = Swapping(mutants, tests, limit_s, self.noticers)
            plugin.jobs, plugin.until_s = self.jobs, self.until_s
            return pytest_run(["-s", *sorted({test.partition("::")[0] for test in names})], plugin)

        if names:
            os.waitpid(fork(run), 0)
        return self.left(mutants)

    def anew(
        self, mutants: list[Mutant], tests: Tests, limit_s: Callable[[Mutant], int], lives: str
    ) -> list[Mutant]:
        """The module is imported with its change.  Returns those that were tried and live."""

        def run(mutant: Mutant) -> int:
            return run_anew(mutant, tests(mutant), limit_s(mutant), self.noticers)

        living = []
        for number, (mutant, _) in enumerate(each(mutants, run, self.jobs, self.until_s), 1):
            if self.left([mutant]):
                living.append(mutant)
                print(f"{lives}  {mutant.name}", flush=True)
            if number % 100 == 0:
                print(f"{number} of {len(mutants)}, {len(living)} live", flush=True)
        return living


def known(trial: Trial, mutants: list[Mutant]) -> None:
    """Try each with what noticed it in an earlier run."""
    before = trial.noticers.before
    told = [mutant for mutant in mutants if before(mutant)]
    names = sorted({test for mutant in told for test in before(mutant)})
    if not names or os.waitpid(fork(pass_unchanged, names), 0)[1]:
        print("nothing of earlier runs can be used", flush=True)
        return
    rest = trial.by_swap(told, before, lambda mutant: KNOWN_LIMIT_S)
    trial.anew(rest, before, lambda mutant: KNOWN_LIMIT_S, "not as before")


def pass_unchanged(tests: list[str]) -> int:
    """The exit status of these tests without any change."""
    plugin = Ordered(tests)
    return pytest_run(plugin.files(), plugin)


def search(trial: Trial, mutants: list[Mutant], covered: Map) -> list[Mutant]:
    """Look for tests that notice them.  Returns those that none of all notices."""
    first = trial.noticers.first
    rest = trial.by_swap(mutants, lambda m: first(m, covered.tests(m)), covered.near_limit_s)
    print(f"{len(rest)} left for all tests", flush=True)
    return trial.anew(
        rest, lambda m: first(m, covered.every(m)), lambda mutant: covered.limit_s, "LIVES"
    )
