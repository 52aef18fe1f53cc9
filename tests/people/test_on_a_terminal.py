"""``holdpoint people`` on a real pseudo-terminal, where nothing that is typed may be seen."""

from __future__ import annotations

import os
import pty
import select
import sys
import time
from pathlib import Path

import pytest

from kiosk.people import store

SIGNAL_S = 60.0


class Typed:
    """A command on a terminal of its own."""

    def __init__(self, *words: str) -> None:
        self.pid, self._master = pty.fork()
        if self.pid == 0:
            os.execv(sys.executable, [sys.executable, "-m", "kiosk", "people", *words])
        self.seen = ""

    def answer(self, prompt: str, line: str) -> None:
        """Wait until this was asked anew, then type."""
        until_s, begun = time.monotonic() + SIGNAL_S, len(self.seen)
        while prompt not in self.seen[begun:]:
            assert time.monotonic() < until_s, self.seen
            if select.select([self._master], [], [], 0.1)[0]:
                self.seen += os.read(self._master, 4096).decode()
        os.write(self._master, f"{line}\n".encode())

    def status(self) -> int:
        """Of the ended command; what it still said is in ``seen``."""
        try:
            while more := os.read(self._master, 4096):
                self.seen += more.decode()
        except OSError:
            pass  # the terminal is gone with the command
        os.close(self._master)
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


@pytest.fixture
def add(tmp_path: Path) -> Typed:
    return Typed("--data", str(tmp_path), "add", "Ada", "--role", "operator")


def test_a_pin_that_is_easily_guessed_is_asked_for_again_unseen(add: Typed, tmp_path: Path) -> None:
    add.answer("PIN of Ada: ", "1234")
    add.answer("PIN of Ada: ", "8264")
    add.answer("the same PIN again: ", "8264")
    add.answer("press Enter for none", "")
    assert add.status() == 0, add.seen
    assert "easily guessed" in add.seen
    assert "1234" not in add.seen
    assert "8264" not in add.seen
    people = store.read(store.people_file(tmp_path))
    assert people is not None
    assert people.named("Ada") is not None


def test_after_the_third_it_ends_and_nobody_is_added(add: Typed, tmp_path: Path) -> None:
    for _ in range(3):
        add.answer("PIN of Ada: ", "1234")
    assert add.status() == 2, add.seen
    assert "or let one be drawn: --issue" in add.seen
    assert not store.people_file(tmp_path).exists()
