"""Which quick test runs which line of the decision, and how long it takes.

A test is followed for its first second, and of each function the first calls.  What is missed so
costs time, never truth: a mutant that the tests chosen by this map do not notice is tried with all.
Tests that draw at random are left out: they notice a mutant one day and not the next.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from types import CodeType, FrameType
from typing import Any

import pytest
from mutations import Mutant

PART = 0.03  # of the time of all tests, for those that are tried before all others
CALLS_FOLLOWED = 30
FOLLOWED_S = 1.0
Line = tuple[str, int]  # module, line


@dataclass
class Covered:
    """A pytest plugin.  ``lines`` by test, ``seconds`` by test."""

    folder: str
    lines: dict[str, set[Line]] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    _met: set[Line] = field(default_factory=set)
    _began_s: float = 0.0
    _calls: dict[CodeType, int] = field(default_factory=dict)

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_call(self, item: pytest.Item) -> Generator[None, None, None]:
        """Follow one test."""
        self._met, self._calls = set(), {}
        began_s = self._began_s = time.perf_counter()
        sys.settrace(self._call)
        yield
        sys.settrace(None)
        if not getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            self.lines[item.nodeid] = self._met
            self.seconds[item.nodeid] = time.perf_counter() - began_s

    def _call(self, frame: FrameType, event: str, argument: Any) -> Any:
        code = frame.f_code
        if not code.co_filename.startswith(self.folder):
            return None
        calls = self._calls[code] = self._calls.get(code, 0) + 1
        if calls > CALLS_FOLLOWED:
            if time.perf_counter() - self._began_s > FOLLOWED_S:
                sys.settrace(None)
            return None
        module = code.co_filename.rsplit("/", 1)[1].removesuffix(".py")
        met = self._met

        def line(frame: FrameType, event: str, argument: Any) -> Any:
            met.add((module, frame.f_lineno))
            return line

        return line(frame, event, argument)


class Map:
    """Which tests run a line, the quickest first, and how long a mutant may take."""

    def __init__(self, seconds: dict[str, float], lines: dict[str, set[tuple[str, int]]]) -> None:
        self._seconds = seconds
        self._whole_s = sum(seconds.values())
        self.limit_s = 20 + int(3.0 * self._whole_s)
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
