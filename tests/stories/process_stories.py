"""What can happen to the processes, their threads, files and connections."""

from __future__ import annotations

import os
import resource
import signal
from functools import partial

from gauge_stories import good_again
from hands import StoppedThread, limited, thread
from log_stories import nothing_held, room_again
from machine import Bench
from signal_stories import signals_back
from story import HELD, OPEN, Story
from whole_rig import eventually

from kiosk.demo import folder

FEWEST = 3  # numbers of files: standard input, output and errors have them all
RELAY = "the pulse relay opens both 1.0 s after the last edge of ALIVE"


def kill_guard(bench: Bench) -> None:
    """SIGKILL."""
    bench.kill_guard()


def start_again(bench: Bench, _: object) -> None:
    """As a supervisor does."""
    bench.start_guard()


def send(name: str, number: int, bench: Bench) -> None:
    """A signal to one of the processes."""
    os.kill(bench.children.running[name].pid, number)


def stop_machine(bench: Bench) -> None:
    """The whole plant stands still: it cannot be asked either."""
    bench.last = bench.contacts()
    send("plant", signal.SIGSTOP, bench)


def machine_goes_on(bench: Bench, _: object) -> None:
    send("plant", signal.SIGCONT, bench)
    bench.last = None


def wake_guard(bench: Bench, _: object) -> None:
    """SIGCONT to a guard that stood still; it ends itself, and is started again."""
    process = bench.children.running.pop("guard")
    os.kill(process.pid, signal.SIGCONT)
    process.wait(10.0)
    bench.start_guard()


def stop_thread(name: str, bench: Bench) -> StoppedThread:
    """By the name that ps shows."""
    return StoppedThread(thread(bench.pid, name))


def go_on(_: Bench, thread: object) -> None:
    thread.go_on()  # type: ignore[attr-defined]


def take_files(bench: Bench) -> object:
    """No further file or connection may be opened, and the gauge breaks its connection off."""
    grip = limited(bench.pid, resource.RLIMIT_NOFILE, FEWEST)
    grip.__enter__()
    bench.fault("reset")
    assert eventually(lambda: not good_again(bench), 5.0)
    bench.fault("reset", on=False)
    return grip


def screen_takes_over(bench: Bench) -> None:
    """A real screen gets the right to command; then it is stopped."""
    bench.start_screen()
    bench.link.wait(lambda _: False, 5.0)  # let it draw
    bench.link._alive = lambda: False
    bench.link.wait(lambda v: v.snapshot is not None and v.snapshot.commanding != "screen-1", 10.0)


def screen_back(bench: Bench, _: object) -> None:
    bench.link._alive = lambda: True
    bench.children.end("screen")


def edit_site(bench: Bench) -> str:
    """Another minimum floor, written over the file of the guard that runs."""
    path = bench.data / folder.SITE_NAME
    before = path.read_text()
    path.write_text(before + "floor_kpa = 25.0\n")
    return before


def restart_on_it(bench: Bench, _: object) -> None:
    """The guard ends and is started on the file as it is now."""
    bench.kill_guard()
    bench.start_guard()


STORIES = (
    Story(
        "kill -9 of the guard in the cut", "cut", kill_guard, OPEN, end=start_again,
        back=nothing_held, note=RELAY,
    ),
    Story(
        "kill -9 of the guard before the start", "permit", kill_guard, OPEN, end=start_again,
        back=nothing_held, note=RELAY,
    ),
    Story(
        "kill -9 of the guard in the cut, and the module's own watch is off", "cut",
        lambda bench: (bench.fault("watch_off"), bench.kill_guard()), OPEN,
        end=lambda bench, _: (bench.fault("watch_off", on=False), bench.start_guard()),
        back=nothing_held, note=f"{RELAY}: one of the two is enough",
    ),
    Story(
        "guard stopped (SIGSTOP) in the cut", "cut", partial(send, "guard", signal.SIGSTOP), OPEN,
        end=wake_guard, back=nothing_held, stays=1.5, note=RELAY,
    ),
    Story(
        "screen killed in the cut", "cut", partial(send, "screen", signal.SIGKILL), HELD,
        ("CUTTING",), end=screen_back, stays=3.0, before=screen_takes_over,
    ),
    Story(
        "screen stopped before the start", "permit", partial(send, "screen", signal.SIGSTOP), OPEN,
        ("CHECKING",),
        lambda bench: "screen_there" in bench.unmet(), screen_back,
        lambda bench: "screen_there" not in bench.unmet(), before=screen_takes_over,
    ),
    Story(
        "machine stopped (SIGSTOP) in the cut", "cut", stop_machine, HELD, ("HOLD LOST",),
        lambda bench: bench.alarm("A03"), machine_goes_on,
        lambda bench: good_again(bench) and signals_back(bench) and bench.contacts() == OPEN,
        note="the machine itself stands still: its contacts are what they were until it goes on",
    ),
    Story(
        "gauge's thread stopped in the cut", "cut", partial(stop_thread, "gauge table"), OPEN,
        ("HOLD LOST",), lambda bench: bench.alarm("A03"), go_on, good_again,
    ),
    Story(
        "socket's thread stopped before the start", "permit", partial(stop_thread, "socket"), OPEN,
        end=go_on, back=lambda bench: bench.state("CHECKING", "READY"),
        note="no screen hears or commands: after 2 s the permit is withdrawn",
    ),
    Story(
        "thread of the signals stopped in the cut", "cut", partial(stop_thread, "machine signals"),
        OPEN, ("LOW HOLD", "HOLD LOST"), lambda bench: bench.alarm("A10"), go_on, signals_back,
        note=RELAY,
    ),
    Story(
        "planner's thread stopped in the cut", "cut", partial(stop_thread, "planner"), HELD,
        ("CUTTING",), end=go_on, stays=3.0,
    ),
    Story(
        "no file can be opened, gauge breaks off, in the cut", "cut", take_files, OPEN,
        ("HOLD LOST",), lambda bench: bench.alarm("A03"), room_again, good_again,
    ),
    Story(
        "site file edited in the cut", "cut", edit_site, HELD, ("CUTTING",), stays=2.0,
        end=restart_on_it, back=nothing_held,
        note="nothing changes until the guard is started again; then the job must be chosen again",
    ),
)  # fmt: skip
