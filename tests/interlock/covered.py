"""Which quick test runs which line of the decision, and how long it takes.

A test is followed for its first second, and of each function the first calls.  What is missed so
costs time, never truth: a mutant that the tests chosen by this map do not notice is tried with all.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Generator
from dataclasses import dataclass, field
from types import CodeType, FrameType
from typing import Any

import pytest

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
