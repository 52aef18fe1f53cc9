"""Chosen tests, in a chosen order."""

from __future__ import annotations

import pytest


class Ordered:
    """A pytest plugin: just these tests, in this order.

    ``running`` and ``failed``: the one that does, that did; or empty.
    """

    def __init__(self, tests: list[str]) -> None:
        self.running = self.failed = ""
        self._places = {test: place for place, test in enumerate(tests)}

    def files(self) -> list[str]:
        """Where they are, from the root of the tree."""
        return sorted({test.partition("::")[0] for test in self._places})

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep and order them."""
        items[:] = sorted(
            (item for item in items if item.nodeid in self._places),
            key=lambda item: self._places[item.nodeid],
        )

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        """Remember which one runs."""
        self.running = nodeid

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember the first failure."""
        if report.failed and not self.failed:
            self.failed = report.nodeid
