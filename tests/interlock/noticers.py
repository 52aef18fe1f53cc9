"""Which test noticed which mutant: what noticed one most likely notices its neighbours too."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from mutations import Mutant

NEAR_LINES = 8
MOST = 40  # of a module's noticers that are tried before all other tests


class Noticers:
    """Children tell it through a file; whoever started them learns from there."""

    def __init__(self, path: Path, before: dict[str, str]) -> None:
        """``before``: what noticed a mutant in an earlier run, by its mark."""
        path.touch()
        self.of: dict[str, str] = {}  # by mark, in this run
        self._path, self._read, self._before = path, 0, before
        self._near: dict[str, list[tuple[int, str]]] = {}  # by module: line, test

    def tell(self, mutant: Mutant, test: str) -> None:
        """In a child: this test noticed the mutant."""
        row = f"{mutant.mark}\t{mutant.module}\t{mutant.line}\t{test}\n".encode()
        file = os.open(self._path, os.O_WRONLY | os.O_APPEND)
        os.write(file, row)
        os.close(file)

    def learn(self) -> None:
        """What was told since."""
        data = self._path.read_bytes()[self._read :]
        whole = data[: data.rfind(b"\n") + 1]
        self._read += len(whole)
        for row in whole.decode().splitlines():
            mark, module, line, test = row.split("\t")
            self.of[mark] = test
            self._near.setdefault(module, []).append((int(line), test))

    def before(self, mutant: Mutant) -> list[str]:
        """The one that noticed it in an earlier run, if there was one."""
        test = self._before.get(mutant.mark)
        return [] if test is None else [test]

    def first(self, mutant: Mutant, tests: Sequence[str]) -> list[str]:
        """Noticers of the lines around come first, then those of the module, then ``tests``."""
        known = self._near.get(mutant.module, [])
        around = [test for line, test in known if abs(line - mutant.line) <= NEAR_LINES]
        often = [test for test, _ in Counter(test for _, test in known).most_common(MOST)]
        return list(dict.fromkeys([*reversed(around), *often, *tests]))


def read_kept(path: Path) -> dict[str, str]:
    """Test by mark, of a file that ``keep`` wrote; nothing when there is none."""
    kept: dict[str, str] = {}
    test = ""
    for row in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
        if row.startswith(" "):
            kept |= dict.fromkeys(row.split(), test)
        else:
            test = row
    return kept


def keep(path: Path, noticed: dict[str, str], living: Iterable[Mutant]) -> None:
    """Write what noticed each of the mutants: a line with the test, then lines with marks."""
    by_test: dict[str, list[str]] = {}
    for mutant in living:
        if (test := noticed.get(mutant.mark)) is not None:
            by_test.setdefault(test, []).append(mutant.mark)
    rows = []
    for test, marks in sorted(by_test.items()):
        marks.sort()
        rows.append(test)
        rows += [" " + " ".join(marks[n : n + 8]) for n in range(0, len(marks), 8)]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
