"""Which quick test runs which line of the decision, and how long it takes.

A test is followed for its first second, and of each function the first calls.  What is missed so
costs time, never truth: a mutant that the tests chosen by this map do not notice is tried with all.
Tests that draw at random are left out: they notice a mutant one day and not the next.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Generator
from dataclasses import dataclass, field
from types import CodeType, FrameType
from typing import Any

import pytest
from mutations import Mutant

PART, LEAST_S = 0.03, 3.0  # of the time of all tests, for those tried before all others
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
    """Which tests run a line, those first that run few others; and how long a mutant may take."""

    def __init__(self, seconds: dict[str, float], lines: dict[str, set[Line]]) -> None:
        self._seconds = seconds
        self._whole_s = sum(seconds.values())
        self.limit_s = 20 + int(3.0 * self._whole_s)
        self._of: dict[Line, list[str]] = {}
        self._all = sorted(seconds, key=lambda test: (len(lines[test]), seconds[test]))
        for test in self._all:
            for line in lines[test]:
                self._of.setdefault(line, []).append(test)

    def tests(self, mutant: Mutant) -> list[str]:
        """Of the lines of the changed place: as many as take some of all tests' time."""
        some_s = max(LEAST_S, PART * self._whole_s)
        chosen: dict[str, float] = {}
        for test in self._running(mutant):
            if sum(chosen.values()) > some_s:
                break
            chosen[test] = self._seconds[test]
        return list(chosen)

    def every(self, mutant: Mutant) -> list[str]:
        """All tests, those that run a changed line first.

        The others count too: a world that one test has brought somewhere is used again by others.
        """
        return list(dict.fromkeys([*self._running(mutant), *self._all]))

    def near_limit_s(self, mutant: Mutant) -> int:
        """Seconds of the processor for ``tests``: much more than they took."""
        return 10 + int(3.0 * sum(self._seconds[test] for test in self.tests(mutant)))

    def _running(self, mutant: Mutant) -> list[str]:
        lines = range(mutant.line, mutant.last + 1)
        return [test for line in lines for test in self._of.get((mutant.module, line), ())]
