"""A changed function in the place of the running one, so that nothing has to be imported anew.

What was made of the function before, such as a table at import, stays as it was: a mutant that
nobody notices so is tried again from its import on.
"""

from __future__ import annotations

import ast
import gc
import sys
from collections.abc import Callable, Iterator, Sequence
from types import CodeType, FunctionType

import pytest
from forked import each, limit
from mutations import PACKAGE, Mutant
from noticers import Noticers

Place = tuple[int, ...]


class Module:
    """The living functions of one module of the decision, by their code."""

    def __init__(self, name: str) -> None:
        text = (PACKAGE / f"{name}.py").read_text(encoding="utf-8")
        self._plain = codes(ast.unparse(ast.parse(text)))
        written = codes(text)
        space = sys.modules[f"kiosk.interlock.{name}"].__dict__
        living = [f for f in gc.get_objects()
                  if isinstance(f, FunctionType) and f.__globals__ is space]  # fmt: skip
        self._living = {
            path: [function for function in living if function.__code__ == code]
            for path, code in written.items()
            if list(written.values()).count(code) == 1
        }

    def swaps(self, mutant: Mutant) -> list[tuple[FunctionType, CodeType]]:
        """Which functions get which code; none where it cannot be done by that alone."""
        changed = codes(mutant.source)
        if changed.keys() != self._plain.keys():
            return []
        found: list[tuple[FunctionType, CodeType]] = []
        for path, code in changed.items():
            if _says(code) == _says(self._plain[path]):
                continue
            around = [path[:depth] for depth in range(1, len(path) + 1)]
            here = [(f, changed[up]) for up in around for f in self._living.get(up, ())]
            if not here:
                return []
            found += here
        return found


def codes(text: str) -> dict[Place, CodeType]:
    """Every piece of code of a source, by its place in the code around it."""

    def inside(code: CodeType, path: Place) -> Iterator[tuple[Place, CodeType]]:
        yield path, code
        parts = [const for const in code.co_consts if isinstance(const, CodeType)]
        for number, part in enumerate(parts):
            yield from inside(part, (*path, number))

    return dict(inside(compile(text, "<decision>", "exec"), ()))


def _says(code: CodeType) -> tuple[object, ...]:
    """What a piece of code does, without the pieces in it and where it stands."""
    consts = [repr(const) for const in code.co_consts if not isinstance(const, CodeType)]
    return code.co_code, consts, code.co_names, code.co_varnames, code.co_freevars


class Swapping:
    """A pytest plugin: for each mutant it runs the ``tests`` of it in a child until one fails.

    What noticed a mutant, or kept the processor for ``limit_s``, is told to ``noticers``.
    """

    def __init__(
        self,
        mutants: Sequence[Mutant],
        tests: Callable[[Mutant], list[str]],
        limit_s: Callable[[Mutant], int],
        noticers: Noticers,
    ) -> None:
        self.jobs, self.until_s = 1, float("inf")
        self._mutants, self._tests, self._limit_s = mutants, tests, limit_s
        self._noticers = noticers
        self._running = ""
        self._failed = False

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In the place of one run of all tests."""
        items = {item.nodeid: item for item in session.items}
        modules = {name: Module(name) for name in {mutant.module for mutant in self._mutants}}
        gc.freeze()  # so that children share what is here

        def try_one(mutant: Mutant) -> int:
            limit(self._limit_s(mutant), lambda: self._noticers.tell(mutant, self._running))
            for function, code in (swaps := modules[mutant.module].swaps(mutant)):
                function.__code__ = code
            return int(bool(swaps) and self._fails(items, mutant))

        for _ in each(self._mutants, try_one, self.jobs, self.until_s):
            self._noticers.learn()
        return True

    def _fails(self, items: dict[str, pytest.Item], mutant: Mutant) -> bool:
        for test in self._tests(mutant):
            if (item := items.get(test)) is None:
                continue
            self._running = test
            item.ihook.pytest_runtest_protocol(item=item, nextitem=None)
            if self._failed:
                self._noticers.tell(mutant, test)
                return True
        return False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember a failure."""
        self._failed = self._failed or report.failed
