"""What can happen to the log, its disk and the clock.  In the cut nothing may change."""

from __future__ import annotations

import contextlib
import resource
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from disks import repair, turn_read_only
from hands import StoppedThread, Taken, limited, thread
from machine import Bench
from story import HELD, OPEN, Story

from kiosk import places

STALE_LOG = "log_committing"
NEW_GUARD = ("HOLD LOST", "PART HELD", "SELECT JOB", "SET UP", "NO PERMIT", "CHECKING")
DAY_S = 86_400.0


def committing(bench: Bench) -> bool:
    """The log is written again."""
    return STALE_LOG not in bench.unmet()


def silent_log(bench: Bench) -> bool:
    """The permit would be withheld: the last commit is too long ago."""
    return STALE_LOG in bench.unmet()


def fill(bench: Bench) -> object:
    """No file of the guard's may grow any more: EFBIG in place of a full disk's ENOSPC."""
    grip = limited(bench.pid, resource.RLIMIT_FSIZE, 1024)
    grip.__enter__()
    return grip


def room_again(_: Bench, grip: object) -> None:
    grip.__exit__(None, None, None)  # type: ignore[attr-defined]


def stop_writer(bench: Bench) -> StoppedThread:
    return StoppedThread(thread(bench.pid, "log writer"))


def go_on(_: Bench, thread: object) -> None:
    thread.go_on()  # type: ignore[attr-defined]


def take(hold_s: float | None, bench: Bench) -> Taken:
    return Taken(places.log_file(bench.data), hold_s, 0.5 if hold_s is None else hold_s + 0.3)


def let_go(_: Bench, taken: object) -> None:
    taken.close()  # type: ignore[attr-defined]


def scribble(bench: Bench) -> None:
    """Other bytes in the log from its second page on, and in what waits to be merged into it: that
    alone would mend the log again.
    """
    log = places.log_file(bench.data)
    for path in (log, log.with_name(log.name + "-wal")):
        with path.open("r+b") as file:
            file.seek(4096)
            file.write(b"\xa5" * (path.stat().st_size - 4096))


def killed_and_started(bench: Bench, _: object) -> None:
    bench.kill_guard()
    bench.start_guard()


def nothing_held(bench: Bench) -> bool:
    """A guard is there, and no contact is."""
    return bench.contacts() == OPEN and bench.state(*NEW_GUARD)


def another_disk(bench: Bench, _: object) -> None:
    """The disk is repaired, and the guard started on it."""
    bench.kill_guard()
    repair(bench.data)
    bench.start_guard()


def fill_disk(bench: Bench) -> Path:
    """A file that takes all the room there is."""
    ballast = bench.data / "ballast"
    with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))
    return ballast


def today() -> str:
    """The date as the computer has it."""
    return datetime.now(UTC).date().isoformat()


def step_clock(seconds: float, bench: Bench) -> None:
    (bench.data / "clock").write_text(str(seconds))


def both(name: str, begin: object, end: object, **more: object) -> tuple[Story, Story]:
    """In the cut nothing changes; before the start the permit goes."""
    rows: dict[str, object] = {"begin": begin, "end": end, "back": committing, **more}
    return (
        Story(f"{name}, in the cut", "cut", contacts=HELD, states=("CUTTING",),
              seen=silent_log, **rows),  # type: ignore[arg-type]
        Story(f"{name}, before the start", "permit", contacts=OPEN, states=("CHECKING",),
              seen=silent_log, **rows),  # type: ignore[arg-type]
    )  # fmt: skip


STEPPED: dict[str, object] = {"wrapper": Path(__file__).with_name("stepped_guard.py")}
STORIES = (
    *both("no file may grow", fill, room_again),
    *both("disk full (a small tmpfs)", fill_disk, lambda _, ballast: ballast.unlink(), room="6m"),
    *both("disk turns read-only (ext4, its journal given up)",
          lambda bench: turn_read_only(bench.data), another_disk, room="ext4",
          back=lambda bench: committing(bench) and nothing_held(bench),
          note="mended by a repair and a new start of the guard"),
    *both("log locked by another connection", partial(take, None), let_go),
    *both("writer thread stopped", stop_writer, go_on),
    Story(
        "slow disk: each commit waits 2 s", "cut", partial(take, 2.0), HELD, ("CUTTING",),
        end=let_go, back=committing, stays=10.0,
    ),
    Story(
        "log damaged in the cut, then the guard killed", "cut", scribble, HELD, ("CUTTING",),
        stays=3.0, end=killed_and_started, keeps=False,
        back=lambda bench: bench.contacts() == OPEN and bench.state("HOLD LOST", "PART HELD"),
        note="put aside, never deleted; damage met only in writing does not latch HOLD LOST",
    ),
    Story(
        "clock set back by a day in the cut", "cut", partial(step_clock, -DAY_S), HELD,
        ("CUTTING",), lambda bench: bench.shown.utc[:10] < today(),
        lambda bench, _: step_clock(0.0, bench), stays=3.0, bench=STEPPED,
        note="order and age follow the monotonic clock; only the labels move",
    ),
    Story(
        "clock set on by a day before the start", "permit", partial(step_clock, DAY_S), HELD,
        ("PERMIT",), lambda bench: bench.shown.utc[:10] > today(),
        lambda bench, _: step_clock(0.0, bench), stays=3.0, bench=STEPPED,
    ),
)  # fmt: skip
