"""Progress of a long check on a terminal.  Loads nothing that takes time."""

from __future__ import annotations

from typing import TextIO


class Told:
    """Tells progress at once, in one line written over.  A file or a pipe gets nothing."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._said = ""

    def __call__(self, share: float, words: str) -> None:
        said = f"{share:4.0%} {words}"
        if said == self._said or not self._stream.isatty():
            return
        self._stream.write(f"\r{said:<40}")
        self._stream.flush()
        self._said = said

    def done(self) -> None:
        """Clear the line, when one was written."""
        if self._said:
            self._stream.write(f"\r{'':<40}\r")
            self._stream.flush()
            self._said = ""
