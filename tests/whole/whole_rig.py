"""Plant, guard and one operator as real processes and real sockets, for the tests of the whole."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from kiosk import places
from kiosk.demo import cycle, folder
from kiosk.demo.children import Children
from kiosk.demo.machine import Machine
from kiosk.demo.play import Play
from kiosk.interlock.snapshot import Snapshot
from kiosk.link import Link

HANGS_S = 240.0  # the longest command, the demo, takes 25 s on an idle computer
STORY = str(Path(__file__).with_name("quick.story.toml"))
PATIENCE = 4.0  # times what an idle computer would need at most


def eventually(true: Callable[[], bool], within_s: float) -> bool:
    """Wait for a condition, polling it; its last value.  A busy computer is given more time."""
    pause, until = threading.Event(), time.monotonic() + PATIENCE * within_s
    while not true():
        if time.monotonic() > until:
            return False
        pause.wait(0.005)
    return True


def holdpoint(*words: str) -> subprocess.CompletedProcess[str]:
    """Run one command to its end.  One that does not end is ended with every process it started."""
    command = [sys.executable, "-m", "kiosk", *words]
    pipe = subprocess.PIPE
    process = subprocess.Popen(command, stdout=pipe, stderr=pipe, text=True, start_new_session=True)
    try:
        said, errors = process.communicate(timeout=HANGS_S)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        said, errors = process.communicate()
        raise AssertionError(f"{words} hangs: {said}{errors}") from None
    return subprocess.CompletedProcess(command, process.returncode, said, errors)


class Patient(Play):
    """Operator and machine with time for a busy computer."""

    def until(self, what: str, true: Callable[[Snapshot], bool], within_s: float) -> Snapshot:
        return super().until(what, true, PATIENCE * within_s)

    def act_soon(self, verb: str, within_s: float, **arguments: object) -> None:
        super().act_soon(verb, PATIENCE * within_s, **arguments)

    def machine_is(
        self, what: str, true: Callable[[dict[str, Any]], bool], within_s: float
    ) -> None:
        super().machine_is(what, true, PATIENCE * within_s)


class Rig:
    """One machine.  ``play`` is operator and machine at once; ``log`` is the log file."""

    def __init__(self, data: Path, mend: Callable[[str], str] = str) -> None:
        """``mend`` changes the text of the site file before the guard reads it."""
        self.data = data
        self.children = Children()
        self.ready: dict[str, Any] = self.children.start_plant(STORY, data / "plant.log")
        site = folder.fill(data, self.ready)
        site.write_text(mend(site.read_text()))
        self.machine = Machine(self.ready["remote"])
        self.link = Link(places.socket_file(data))
        self.link.start()
        self.play = Patient(self.link, self.machine)
        self.start_guard()

    def start_guard(self) -> None:
        self.children.start_guard(self.data, self.data / "guard.log")

    def kill_guard(self) -> float:
        """SIGKILL; the time at which the process was gone."""
        process = self.children.running.pop("guard")
        process.send_signal(signal.SIGKILL)
        process.wait(20.0)
        return time.monotonic()

    def kill_plant(self) -> None:
        self.machine.close()
        process = self.children.running.pop("plant")
        process.send_signal(signal.SIGKILL)
        process.wait(5.0)

    def restart_plant(self, gauge_port: str, io_port: str) -> None:
        log = self.data / "plant.log"
        self.ready = self.children.start_plant(STORY, log, gauge_port, io_port)
        self.machine = self.play.machine = Machine(self.ready["remote"])

    def close(self) -> None:
        self.link.close()
        self.machine.close()
        self.children.__exit__()

    # Ways to a state.
    def to_ready(self) -> None:
        cycle.begin(self.play)
        cycle.set_up(self.play, cycle.choose(self.play))
        cycle.prove(self.play)

    def to_permit(self) -> None:
        self.to_ready()
        self.play.command("request_permit")
        self.play.until("permit", lambda s: s.contacts.get("start_permit") is True, 3.0)

    def to_cutting(self) -> str:
        self.to_ready()
        return cycle.start(self.play)

    def status(self) -> dict[str, Any]:
        return self.machine.do("status")

    def held_for_s(self) -> float:
        """How long any contact stays held from now on, by the plant's own clock: however slow the
        computer is, that clock and the pulse relay go together."""
        rows = [self.status()]

        def opened() -> bool:
            rows.append(self.status())
            return not any(rows[-1]["contacts"].values())

        assert eventually(opened, 3.0)
        held = [row["now_s"] for row in rows if any(row["contacts"].values())]
        return float(max(held, default=rows[0]["now_s"]) - rows[0]["now_s"])

    @property
    def epoch(self) -> str | None:
        return self.link.view().epoch
