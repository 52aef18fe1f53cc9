"""Which test noticed which mutant: what noticed one most likely notices its neighbours too."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from mutations import Mutant

NEAR_LINES = 8
MOST = 40  # of a module's noticers that are tried before all other tests


class Noticers:
    """Children tell it through a file; whoever started them learns from there."""

    def __init__(self, path: Path) -> None:
        path.touch()
        self._path, self._read = path, 0
        self._of: dict[str, list[tuple[int, str]]] = {}  # by module: line, test

    def tell(self, mutant: Mutant, test: str) -> None:
        """In a child: this test noticed the mutant."""
        row = f"{mutant.module}\t{mutant.line}\t{test}\n".encode()
        file = os.open(self._path, os.O_WRONLY | os.O_APPEND)
        os.write(file, row)
        os.close(file)

    def learn(self) -> None:
        """What was told since."""
        data = self._path.read_bytes()[self._read :]
        whole = data[: data.rfind(b"\n") + 1]
        self._read += len(whole)
        for row in whole.decode().splitlines():
            module, line, test = row.split("\t")
            self._of.setdefault(module, []).append((int(line), test))

    def first(self, mutant: Mutant, tests: Sequence[str]) -> list[str]:
        """Noticers of the lines around come first, then those of the module, then ``tests``."""
        known = self._of.get(mutant.module, [])
        around = [test for line, test in known if abs(line - mutant.line) <= NEAR_LINES]
        often = [test for test, _ in Counter(test for _, test in known).most_common(MOST)]
        return list(dict.fromkeys([*reversed(around), *often, *tests]))
