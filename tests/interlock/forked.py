"""Jobs in children of their own, a few at a time."""

from __future__ import annotations

import os
import resource
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Thing = TypeVar("Thing")


def fork(job: Callable[..., int], *arguments: object) -> int:
    """Start a job in a quiet child, which ends with what it returns, or with 9; its process id."""
    pid = os.fork()
    if pid:
        return pid
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    try:
        os._exit(job(*arguments))
    except BaseException:
        os._exit(9)


def each(
    things: Sequence[Thing], job: Callable[[Thing], int], jobs: int, until_s: float
) -> Iterator[tuple[Thing, int]]:
    """Each thing with the wait status of its job, as they end; none is begun after a time."""
    running: dict[int, Thing] = {}
    waiting = list(reversed(things))
    while running or (waiting and time.monotonic() < until_s):
        while waiting and len(running) < jobs and time.monotonic() < until_s:
            thing = waiting.pop()
            running[fork(job, thing)] = thing
        if running:
            pid, status = os.wait()
            yield running.pop(pid), status


def limit(seconds: int, tell: Callable[[], None]) -> None:
    """Let this process end, after ``tell``, when it has kept the processor for so long."""

    def end(number: int, frame: object) -> None:
        tell()
        os._exit(1)

    signal.signal(signal.SIGXCPU, end)
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 10))
