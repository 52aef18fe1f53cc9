"""A person at a terminal: the command on a real pseudo-terminal, lines typed, words waited for."""

from __future__ import annotations

import contextlib
import io
import os
import pty
import re
import select
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from kiosk import cli

ROOT = Path(__file__).resolve().parents[2]
_CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Terminal:
    """One ``holdpoint wiring`` on a pseudo-terminal."""

    def __init__(self, *words: str) -> None:
        self._master, slave = pty.openpty()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "kiosk", "wiring", *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=ROOT,
            start_new_session=True,
            preexec_fn=_take_terminal,  # noqa: PLW1509 - the tests here have no threads
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        os.close(slave)
        self.text = ""
        self._read_to = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(5.0)
        os.close(self._master)

    def until(self, words: str, limit_s: float = 15.0) -> str:
        """Wait for words that were not waited for yet; what came up to them."""
        ends_s = time.monotonic() + limit_s
        while (at := self.text.find(words, self._read_to)) < 0:
            assert time.monotonic() < ends_s, f"never said {words!r}:\n{self.text}"
            assert self._more(0.2) or self.process.poll() is None, (
                f"ended before {words!r}:\n{self.text}"
            )
        before = self.text[self._read_to : at]
        self._read_to = at + len(words)
        return before

    def type(self, line: str) -> None:
        """Type a line and Enter."""
        os.write(self._master, line.encode() + b"\n")

    def press(self, key: bytes) -> None:
        """Press a key, such as Ctrl-C (03) or Ctrl-D (04)."""
        os.write(self._master, key)

    def end(self, limit_s: float = 15.0) -> int:
        """Wait for the end; the exit status."""
        ends_s = time.monotonic() + limit_s
        while self._more(0.1) or self.process.poll() is None:
            assert time.monotonic() < ends_s, f"still runs:\n{self.text}"
        return self.process.returncode

    def _more(self, wait_s: float) -> bool:
        ready, _, _ = select.select([self._master], [], [], wait_s)
        if not ready:
            return False
        try:
            came = os.read(self._master, 65536)
        except OSError:  # EIO: the other end is closed, pty(7)
            return False
        self.text += _CONTROL.sub("", came.decode("utf-8", "replace")).replace("\r\n", "\n")
        return bool(came)


def _take_terminal() -> None:
    """Make the terminal the process's own, so that Ctrl-C reaches it: tty_ioctl(4)."""
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


@dataclass(frozen=True, slots=True)
class Done:
    """A command that has ended."""

    returncode: int
    stdout: str
    stderr: str


def run(*words: str, typed: str = "") -> Done:
    """The command without a terminal and in this process, with lines that wait on its input."""
    before, out, err = sys.stdin, io.StringIO(), io.StringIO()
    sys.stdin = io.StringIO(typed)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = cli.main(["wiring", *words])
    finally:
        sys.stdin = before
    return Done(status, out.getvalue(), err.getvalue())
