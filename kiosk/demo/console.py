"""The terminal that the demo was started in is the machine: keys, one status line, one of help."""

from __future__ import annotations

import contextlib
import os
import select
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from kiosk.demo.machine import Machine
from kiosk.demo.play import cups_up, kpa, percent, plan_of
from kiosk.link import Link

HELP = (
    "Keys of the machine:  v vacuum  x cups as on the map  s start  f forced start\n"
    "h feed hold  r resume  e end of program  l leak on/off  u release  q quit"
)
LEAK_MM = 8.0  # falls through the warning to the loss in about 20 s with the demonstration jobs
LEAK_OPENS_S = 1.0
_EVERY_S = 0.2
SAYS = {
    "vacuum": "vacuum",
    "seats": "cups as on the map",
    "cycle_start": "start",
    "feed_hold": "feed hold",
    "resume": "resume",
    "cycle_end": "end of program",
    "leak": "leak",
    "release": "release",
}


@dataclass(slots=True)
class Console:
    """What the keys have set so far."""

    link: Link
    machine: Machine
    vacuum: bool = False
    leak_mm: float = 0.0
    said: str = ""
    keys: dict[str, Callable[[], None]] = field(init=False)

    def __post_init__(self) -> None:
        """The one table of keys."""
        self.keys = {
            "v": self._vacuum,
            "x": self._seats,
            "s": lambda: self._do("cycle_start", force=False),
            "f": lambda: self._do("cycle_start", force=True),
            "h": lambda: self._do("feed_hold"),
            "r": lambda: self._do("resume"),
            "e": lambda: self._do("cycle_end"),
            "l": self._leak,
            "u": self._release,
        }

    def press(self, key: str) -> bool:
        """Do what a key says; False when it says to quit."""
        if key in ("q", "\x03", "\x04"):
            return False
        action = self.keys.get(key.lower())
        if action is not None:
            action()
        return True

    def status(self) -> str:
        """One line: the guard's state and what the machine does."""
        shown = self.link.view().snapshot
        if shown is None:
            return "no guard yet"
        vacuum = "on" if self.vacuum else "off"
        leak = f"leak {self.leak_mm:.1f} mm" if self.leak_mm else "no leak"
        hold = f"{kpa(shown.hold.vacuum_kpa)}  R {percent(shown.hold.ratio)}"
        return f"SIMULATED  {shown.state}  {hold}  |  vacuum {vacuum}, {leak}"

    def _do(self, verb: str, **arguments: object) -> None:
        reply = self.machine.do(verb, **arguments)
        done = reply.get("ok") is True
        self.said = f"{SAYS[verb]}: {'done' if done else reply.get('why')}"

    def _vacuum(self) -> None:
        self.vacuum = not self.vacuum
        self._do("vacuum", on=self.vacuum)

    def _leak(self) -> None:
        self.leak_mm = 0.0 if self.leak_mm else LEAK_MM
        self._do("leak", bore_mm=self.leak_mm, over_s=LEAK_OPENS_S)

    def _release(self) -> None:
        self._do("release")
        if self.machine.do("status")["vacuum_on"]:
            return  # the machine refused
        self.vacuum, self.leak_mm = False, 0.0  # the leak was at the edge of the part let go
        self.machine.do("leak", bore_mm=0.0)

    def _seats(self) -> None:
        answer = self.link.call("get_plan", timeout_s=2.0)
        if answer is None or answer.plan is None:
            self.said = "cups as on the map: choose a job on the screen first"
            return
        up = cups_up(plan_of(answer.plan))
        self._do("seats", up=up, covered=up)


@contextlib.contextmanager
def keys_one_by_one() -> Iterator[None]:
    """Keys without Enter while the terminal is one; it is as before afterwards."""
    if not sys.stdin.isatty():
        yield
        return
    import termios
    import tty

    before = termios.tcgetattr(sys.stdin)
    try:
        tty.setcbreak(sys.stdin)
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def fitted(line: str) -> str:
    """The line cut to the terminal's width, so that the next one can take its place."""
    return line[: shutil.get_terminal_size().columns - 1]


def run(console: Console, gone: Callable[[], str | None]) -> str | None:
    """Serve keys until quit (None) or until a process has gone (its name)."""
    print(HELP, flush=True)
    source = sys.stdin.fileno()
    with keys_one_by_one():
        while (lost := gone()) is None:
            print(f"\r\x1b[K{fitted(console.status())}", end="", flush=True)
            if not select.select([source], [], [], _EVERY_S)[0]:
                continue
            pressed = os.read(source, 1).decode(errors="replace")
            if not pressed or not console.press(pressed):
                break
            if pressed.lower() in console.keys:
                print(f"\r\x1b[K{console.said}")
    print()
    return lost
