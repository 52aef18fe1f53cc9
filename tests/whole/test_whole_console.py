"""The terminal as the machine: real keys on a pty, the real plant and guard."""

from __future__ import annotations

import contextlib
import os
import pty
import sys
import termios
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from whole_rig import Rig, eventually

from kiosk.demo.console import HELP, Console, fitted, run
from kiosk.demo.machine import Machine

Press = Callable[[str], None]


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Press, int]]:
    master, slave = pty.openpty()
    with os.fdopen(slave, "r") as keyboard:
        monkeypatch.setattr(sys, "stdin", keyboard)
        yield (lambda key: os.write(master, key.encode()) and None), slave
    os.close(master)


def status_apart(rig: Rig) -> dict[str, Any]:
    """The machine's status over a connection of its own: the console uses the other one."""
    with contextlib.closing(Machine(rig.ready["remote"])) as eyes:
        return eyes.do("status")


def test_every_key_does_its_thing_at_the_machine(rig: Rig, terminal: tuple[Press, int]) -> None:
    press, keyboard = terminal
    rig.play.until("the guard is there", lambda shown: shown.state == "SELECT JOB", 20.0)
    before = termios.tcgetattr(keyboard)
    console, ended = Console(rig.link, rig.machine), []
    thread = threading.Thread(target=lambda: ended.append(run(console, lambda: None)))
    thread.start()
    assert eventually(lambda: not termios.tcgetattr(keyboard)[3] & termios.ICANON, 5.0)

    def after(key: str, true: Callable[[dict[str, Any]], bool]) -> None:
        press(key)
        assert eventually(lambda: true(status_apart(rig)), 5.0), (key, console.said)

    after("v", lambda m: m["vacuum_on"])
    after("l", lambda m: m["leak_mm2"] > 1.0)
    after("l", lambda m: m["leak_mm2"] == 0.0)
    press("s")
    assert eventually(lambda: "the start permit contact is open" in console.said, 5.0)
    after("f", lambda m: m["cycle"] != "idle")  # without HOLD HEALTHY it may hold at once
    rig.play.state("NO PERMIT", 3.0)
    after("h", lambda m: m["cycle"] in ("stopping", "held"))
    press("x")
    assert eventually(lambda: "choose a job" in console.said, 5.0)
    after("e", lambda m: m["cycle"] == "idle")
    assert eventually(lambda: status_apart(rig)["inputs"]["standstill"], 10.0)
    after("u", lambda m: m["vent_open"] and not m["vacuum_on"])
    press("q")
    thread.join(5.0)
    assert ended == [None]
    assert termios.tcgetattr(keyboard) == before
    assert "SIMULATED  NO PERMIT" in console.status()


def test_the_console_ends_with_the_name_of_a_process_that_has_gone(
    rig: Rig, terminal: tuple[Press, int]
) -> None:
    rig.kill_plant()
    assert run(Console(rig.link, rig.machine), lambda: "plant") == "plant"


def test_every_key_is_in_the_help_and_lines_fit_a_terminal(rig: Rig) -> None:
    keys = Console(rig.link, rig.machine).keys
    words = HELP.split()
    assert [key for key in (*keys, "q") if key not in words] == []
    assert all(len(line) <= 80 for line in HELP.splitlines())
    assert len(fitted("x" * 500)) < 500
