"""An hour of real processes: plant, guard and screen, and one operator who works job after job.

Every other cycle ends in a hold loss.  Judged: late ticks, memory from the second quarter of the
run to the last, growth of the log, threads and open files, and that every cycle came to its end.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.append(str(Path(__file__).parents[1] / "whole"))

from watching import Beside, Listener, Sizes, Ticks
from whole_rig import Rig, holdpoint

from kiosk import places
from kiosk.demo import cycle
from kiosk.demo.play import Missed
from kiosk.interlock.snapshot import Snapshot
from kiosk.limits import VENTED_S

LATE_SHARE = 1e-4  # of the ticks
GROWN_MIB = 3.0  # memory, second quarter to last
LOOK_S = 10.0
CUT_S = (5.0, 45.0)
VENTED_KPA = 1.0
TRIES = 3  # to come back after a missed step


@contextmanager
def display() -> Iterator[None]:
    """A display for the screen, of its own.  LookupError: there is no Xvfb here.

    Drawing "offscreen" will not do: that driver never ends a frame, and Mesa keeps some memory of
    each (a bare window of Kivy that only draws itself again grew by 0.1 MiB a frame).
    """
    program = shutil.which("Xvfb")
    if program is None:
        raise LookupError("Xvfb is missing: install the Debian package xvfb")
    reading, writing = os.pipe()
    words = (program, "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp")
    server = subprocess.Popen(words, pass_fds=(writing,), stderr=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading, encoding="ascii") as number:
        os.environ["DISPLAY"] = f":{number.readline().strip()}"
    os.environ["SDL_VIDEODRIVER"] = "x11"
    try:
        yield
    finally:
        server.terminate()
        server.wait()


class Ended(Exception):
    """A process ended by itself, and its last words."""


@dataclass
class Soaked:
    """What the run came to."""

    hours: float
    ticks: Ticks
    beside: Ticks
    sizes: dict[str, Sizes]
    log_bytes: list[int]
    cycles: int = 0
    lost: int = 0
    missed: list[str] = field(default_factory=list)
    screens: list[str] = field(default_factory=list)
    verified: bool = False


class Soak:
    """The processes and their operator."""

    def __init__(self, data: Path, seed: int) -> None:
        self.rig = Rig(data)
        self.chance = Random(seed)
        self.rig.play.until("jobs", lambda s: bool(s.jobs), 60.0)
        self.start("screen")
        self.listener = Listener(places.socket_file(data))
        self.listener.start()
        self.beside = Beside()
        self.sizes = {name: Sizes() for name in self.rig.children.running}
        self.log_bytes: list[int] = []
        self.screens: list[str] = []
        self._looked_s = 0.0

    def start(self, name: str) -> None:
        """Start guard or screen."""
        data = self.rig.data
        if name == "guard":
            self.rig.start_guard()
        else:
            self.rig.children.start(name, name, "--data", str(data), log=data / f"{name}.log")

    def look(self) -> None:
        """Note all sizes, now and then.  What ended is started again; Ended: guard or plant did."""
        gone = self.rig.children.gone()
        if gone is not None:
            status = self.rig.children.running.pop(gone).returncode
            said = (self.rig.data / f"{gone}.log").read_text(errors="replace").splitlines()
            self.start(gone)
            words = f"{gone} ended with {status}: {said[-1] if said else 'no words'}"
            if gone != "screen":
                raise Ended(words)
            self.screens.append(words)  # the cycle goes on without it
        if time.monotonic() - self._looked_s < LOOK_S:
            return
        self._looked_s = time.monotonic()
        for name, process in self.rig.children.running.items():
            self.sizes[name].look(process.pid)
        files = self.rig.data.glob("log.db*")
        self.log_bytes.append(sum(path.stat().st_size for path in files))

    def one(self, lose: bool) -> None:
        """One cycle from the choice of the job to its end."""
        play = self.rig.play
        cycle.begin(play)
        cycle.set_up(play, cycle.choose(play))
        self.look()
        cycle.prove(play)
        cycle.start(play)
        self._wait(self.chance.uniform(*CUT_S))
        if lose:
            cycle.lose(play)
            cycle.reset(play)
        else:
            play.act("cycle_end")
            play.until("paused", lambda s: s.state == "PAUSED", 10.0)
            play.command("finish")
            play.state("RELEASE", 3.0)
        self.look()
        play.until("standstill", lambda s: s.inputs.get("standstill") is True, 20.0)
        cycle.release(play)
        self.look()

    def _wait(self, seconds: float) -> None:
        until = time.monotonic() + seconds

        def over(_: Snapshot) -> bool:
            self.look()
            return time.monotonic() > until

        self.rig.play.until("time passes", over, seconds + 5.0)

    def recover(self) -> None:
        """Back to SELECT JOB from wherever a missed step left it."""
        machine, link, play = self.rig.machine, self.rig.link, self.rig.play
        machine.do("cycle_end")
        machine.do("leak", bore_mm=0.0)
        play.until("standstill", lambda s: s.inputs.get("standstill") is True, 20.0)
        if play.now.state in ("HOLD LOST", "NO PERMIT"):
            link.call("acknowledge", alarm=[alarm.code for alarm in play.now.alarms])
            play.until("reset is allowed", lambda s: not s.forbids_reset, 10.0)
            link.call("reset", cause="other")
        link.call("finish")
        machine.do("vacuum", on=False)
        machine.do("release")
        play.until("vented", lambda s: (s.hold.vacuum_kpa or 0.0) < VENTED_KPA, 30.0)
        self._wait(2.0 * VENTED_S)
        link.call("job_done")
        link.call("cancel_job")
        play.state("SELECT JOB", 10.0)


def soak(data: Path, minutes: float, seed: int = 1) -> Soaked:
    """Run it in an empty folder."""
    run, began_s = Soak(data, seed), time.monotonic()
    done = Soaked(0.0, run.listener.ticks, Ticks(), run.sizes, run.log_bytes)
    done.screens = run.screens
    try:
        while time.monotonic() - began_s < 60.0 * minutes:
            try:
                run.one(lose=bool(done.cycles % 2))
                done.cycles += 1
                done.lost += done.cycles % 2 == 0
            except (Missed, Ended) as missed:
                done.missed.append(str(missed))
                if not back(run, done):
                    break
        done.hours = (time.monotonic() - began_s) / 3600.0
        run.listener.close()
        done.beside = run.beside.close()
    finally:
        run.rig.close()
    done.verified = holdpoint("log", "verify", "--data", str(data)).returncode == 0
    return done


def back(run: Soak, done: Soaked) -> bool:
    """Try to go on; False when that cannot be."""
    for _ in range(TRIES):
        try:
            run.recover()
            return True
        except (Missed, Ended) as missed:
            done.missed.append(f"on the way back: {missed}")
    return False


def rows(done: Soaked) -> list[tuple[str, str, str, bool]]:
    """What was asked, the limit, what came, and whether it holds."""
    late = done.ticks.late / max(1, done.ticks.steps)
    beside = done.beside.late / max(1, done.beside.steps)
    made = [
        ("time", "60 min", f"{60.0 * done.hours:.0f} min", done.hours >= 1.0),
        ("cycles to their end, of them lost", "all",
         f"{done.cycles}, {done.lost}; missed {len(done.missed)}", not done.missed),
        ("screens that ended by themselves, and were started again", "0",
         f"{len(done.screens)}", not done.screens),
        ("ticks more than a step late", "under 0.01 %",
         f"{done.ticks.late} of {done.ticks.steps} ({late:.4%}), the latest by "
         f"{1e3 * done.ticks.worst_s:.0f} ms; {done.ticks.unseen} seen in pairs",
         late < LATE_SHARE),
        ("the same of a process that only waits", "-",
         f"{done.beside.late} of {done.beside.steps} ({beside:.4%}), the latest by "
         f"{1e3 * done.beside.worst_s:.0f} ms", True),
    ]  # fmt: skip
    for name, sizes in done.sizes.items():
        if not sizes.memory:
            made.append((f"memory of the {name}", "looked at", "never: no cycle got so far", False))
            continue
        second, last = sizes.quarters()
        made.append((f"memory of the {name}, second and last quarter", f"+{GROWN_MIB:.0f} MiB",
                     f"{second:.1f}, {last:.1f} MiB", last - second < GROWN_MIB))  # fmt: skip
        most = max(sizes.threads[len(sizes.threads) // 4 :]), max(sizes.files)
        made.append((f"threads and open files of the {name}, most", "no growth",
                     f"{most[0]}, {most[1]}; last {sizes.threads[-1]}, {sizes.files[-1]}",
                     sizes.files[-1] <= sizes.files[len(sizes.files) // 4] + 4))  # fmt: skip
    if done.log_bytes:
        grown = (done.log_bytes[-1] - done.log_bytes[len(done.log_bytes) // 4]) / 0.75
        mb_per_h = grown / done.hours / 1e6
        made.append(("growth of the log", "docs/log.md", f"{mb_per_h:.1f} MB an hour",
                     mb_per_h < LOG_MB_PER_H))  # fmt: skip
    made.append(("the log verified afterwards", "yes", str(done.verified), done.verified))
    return made


LOG_MB_PER_H = 10.0  # docs/log.md
