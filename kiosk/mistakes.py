"""What is wrong with a file that a person wrote: file, line and mend, all of them at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake.  ``line`` counts from 1; None when the file as a whole is meant."""

    file: str
    line: int | None
    text: str  # what is wrong, and what to write instead

    def __str__(self) -> str:
        """``file:line: text``, on one line."""
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{where}: {self.text}"


class BadInput(Exception):
    """A person's file cannot be used; carries every mistake found.  Exit status 2."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes: tuple[Mistake, ...] = tuple(mistakes)
        super().__init__("\n".join(str(mistake) for mistake in self.mistakes))
