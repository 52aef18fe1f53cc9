"""What is watched during a long run: every tick of a guard, and the sizes of processes and files.

A listener of its own reads every snapshot line.  A tick is late when it came more than one whole
step (``limits.STEP_S``) after it was due.  Beside it a process that does nothing but wait for the
same step counts how often the computer itself was so late.
"""

from __future__ import annotations

import re
import socket
import statistics
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path

from kiosk.limits import STEP_S

_MARKS = re.compile(rb'"seq": ?(\d+), ?"at_s": ?([0-9.e+-]+)')
_BESIDE = f"""
import sys, threading, time
ended, ticks, late, worst = threading.Event(), 0, 0, 0.0
threading.Thread(target=lambda: (sys.stdin.read(), ended.set()), daemon=True).start()
last = time.monotonic()
while not ended.wait({STEP_S}):
    now = time.monotonic()
    ticks, late, worst = ticks + 1, late + (now - last > 2 * {STEP_S}), max(worst, now - last)
    last = now
print(ticks, late, worst - {STEP_S})
"""


@dataclass
class Ticks:
    """Steps seen, how many of them late, the latest, and how many were not seen one by one."""

    steps: int = 0
    late: int = 0
    worst_s: float = 0.0
    unseen: int = 0
    _last: tuple[int, float] | None = None

    def seen(self, seq: int, at_s: float) -> None:
        """One snapshot; between two of them ``n`` steps were made, each due within ``STEP_S``."""
        if self._last is not None and seq > self._last[0]:
            count = seq - self._last[0]
            late_s = at_s - self._last[1] - count * STEP_S
            self.steps, self.unseen = self.steps + count, self.unseen + count - 1
            self.late += late_s > STEP_S
            self.worst_s = max(self.worst_s, late_s)
        self._last = (seq, at_s)

    def anew(self) -> None:
        """The next snapshot is another connection's: nothing lies between."""
        self._last = None


class Listener(threading.Thread):
    """Reads every snapshot of the guard at ``door`` until closed; never speaks."""

    def __init__(self, door: Path) -> None:
        super().__init__(name="listener", daemon=True)
        self.ticks = Ticks()
        self._door = door
        self._ending = threading.Event()

    def run(self) -> None:
        """Read one guard after the other."""
        while not self._ending.is_set():
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as client:
                client.settimeout(0.5)
                try:
                    client.connect(str(self._door))
                    self._read(client)
                except OSError:
                    self._ending.wait(0.1)
            self.ticks.anew()

    def _read(self, client: socket.socket) -> None:
        held = b""
        while not self._ending.is_set() and (part := client.recv(1 << 18)):
            *lines, held = (held + part).split(b"\n")
            for line in lines:
                marks = _MARKS.search(line)
                if marks is not None:
                    self.ticks.seen(int(marks[1]), float(marks[2]))

    def close(self) -> None:
        """End it."""
        self._ending.set()
        self.join(5.0)


class Beside:
    """The process that only waits.  ``close`` gives its ticks, how many late, and the latest."""

    def __init__(self) -> None:
        pipe = subprocess.PIPE
        self._process = subprocess.Popen([sys.executable, "-c", _BESIDE], stdin=pipe, stdout=pipe)

    def close(self) -> Ticks:
        """End it and ask."""
        out, _ = self._process.communicate(timeout=30.0)
        ticks, late, worst_s = out.split()
        return Ticks(int(ticks), int(late), float(worst_s))


@dataclass
class Sizes:
    """One process over time: resident memory in KiB, threads, open files."""

    memory: list[int] = field(default_factory=list)
    threads: list[int] = field(default_factory=list)
    files: list[int] = field(default_factory=list)

    def look(self, pid: int) -> None:
        """One look, proc(5)."""
        text = Path(f"/proc/{pid}/status").read_text(encoding="ascii", errors="replace")
        rows = dict(line.split(":", 1) for line in text.splitlines() if ":" in line)
        self.memory.append(int(rows["VmRSS"].split()[0]))
        self.threads.append(int(rows["Threads"]))
        self.files.append(len(list(Path(f"/proc/{pid}/fd").iterdir())))

    def quarters(self) -> tuple[float, float]:
        """Median memory in the second and in the last quarter, MiB: growth without the warm-up."""
        size = max(1, len(self.memory) // 4)
        second, last = self.memory[size : 2 * size] or self.memory, self.memory[-size:]
        return statistics.median(second) / 1024.0, statistics.median(last) / 1024.0
