"""``holdpoint guard``: one machine's guard, from its site file to its end.

Ends with 0 when told to (SIGTERM, SIGINT), 1 after a failure, 2 for a person's mistake; the
contacts are written off first.  A supervisor starts it again.
"""

from __future__ import annotations

import argparse
import functools
import gc
import os
import secrets
import signal
import socket
import threading
import time
from pathlib import Path

from hardware import catalog
from hardware.lines import Lines
from kiosk import places
from kiosk.guard import lock, notify, self_test, server
from kiosk.guard.failure import Failure, say
from kiosk.guard.gather import plan_facts, site_facts
from kiosk.guard.leak_look import LeakLook
from kiosk.guard.loop import Loop, Parts
from kiosk.guard.mailbox import Bell
from kiosk.guard.outlet import Outlet
from kiosk.guard.planner import Lister, OwnFiles, Planner
from kiosk.guard.reader import Reader
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.interlock.facts import LogFacts, PlanFacts
from kiosk.job import plan as plans
from kiosk.mistakes import BadInput, Mistake
from kiosk.records.open import Found, inspect
from kiosk.records.writer import Writer
from kiosk.site import Site, load_site
from kiosk.units import air_pressure_kpa

JOIN_S = 1.0
LOG_CLOSE_S = 3.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``holdpoint guard``."""
    parser.add_argument("--site", required=True, metavar="FILE", help="site file of the machine")
    parser.add_argument("--data", metavar="DIR", help="data folder: log and socket")
    parser.add_argument("--jobs", metavar="DIR", help="folder of job files (default: DATA/jobs)")
    parser.add_argument("--shop", metavar="FILE",
                        help="the shop's own numbers (default: DATA/shop.toml, when it is "
                        "there)")  # fmt: skip
    parser.add_argument("--materials", metavar="FILE",
                        help="a materials file of the shop's own, over the shipped")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Guard the machine until told to stop."""
    if not hasattr(socket, "AF_UNIX"):
        words = "this platform has no local sockets: run the guard on Linux"
        raise BadInput([Mistake("guard", None, words)])
    site = _site(Path(args.site))
    data = _data_folder(args.data)
    with lock.hold(data):
        own = OwnFiles(data, _there(args.shop), _there(args.materials))
        return _guard(site, data, places.jobs_dir(data, args.jobs), own)


def _there(option: str | None) -> str | None:
    """A file that was named must be there at the start; what is in it is judged at each plan."""
    if option is not None and not Path(option).expanduser().is_file():
        raise BadInput([Mistake(option, None, "there is no such file: check the name")])
    return option


def _data_folder(option: str | None) -> Path:
    try:
        data = places.data_dir(option)
        lock.tighten(data)
    except OSError as trouble:
        words = f"cannot be the data folder ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(option or "data folder", None, words)]) from None
    return data


def _site(path: Path) -> Site:
    site = load_site(path)
    if not site.gauges:
        words = "the guard needs a gauge: add a [[gauge]] table"
        raise BadInput([Mistake(str(path), None, words)])
    return site


def _guard(site: Site, data: Path, jobs: Path, own: OwnFiles) -> int:
    bell, clock, stop = Bell(), monotonic_s, threading.Event()
    supervisor = notify.from_environment(os.environ)
    shared = Shared(bell, clock, Failure(bell.ring))
    _end_on_signals(stop)
    epoch = secrets.token_hex(8)
    facts = site_facts(site)
    faults = self_test.faults(facts)
    if not jobs.is_dir():
        say(f"{jobs} is not a folder: no job is offered until it is there")
    for fault in faults:
        say(f"start-up check: {fault}; no permit will be given")
    parts = _parts(site, Lister(jobs, shared), data, own, epoch)
    loop = Loop(facts, epoch, parts, shared, self_test=not faults, stepped=supervisor.stepped)
    _settle()
    _begin(parts)
    say(f"guarding {site.name}, epoch {epoch}, socket {places.socket_file(data)}")
    loop.run(stop)
    supervisor.ending()
    _end(parts)
    failed = shared.failure.words is not None
    say("ended after a failure" if failed else "ended")
    return 1 if failed else 0


def _settle() -> None:
    """What is loaded stays: to search it for garbage would stop all threads now and then, for 6 to
    27 ms on a computer with two processors (measured).
    """
    gc.collect()
    gc.freeze()


def monotonic_s() -> float:
    """Monotonic seconds in whole microseconds: no finer than is kept for the replay."""
    return round(time.monotonic(), 6)


def _end_on_signals(stop: threading.Event) -> None:
    """The loop sees ``stop`` at its next step, within 50 ms."""
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())


def _parts(site: Site, lister: Lister, data: Path, own: OwnFiles, epoch: str) -> Parts:
    shelf, shared = Shelf(), lister.shared
    path = places.log_file(data)
    found = _found(inspect(path), site, shelf)
    if not found.readable:
        say(f"{path} cannot be read: it is put aside, and the machine must be looked at")
    died = functools.partial(shared.failure.fail, "the log writer")
    door = _door(places.socket_file(data))
    people = SignOn(data, shared)
    return Parts(
        readers=_readers(site, shared),
        outlet=_outlet(site, shared),
        server=server.Server(door, epoch, shelf, shared, people),
        people=people,
        planner=Planner(site, lister, shelf, shared, own),
        lister=lister,
        leaks=LeakLook(places.leaks_file(data), site, shared),
        shelf=shelf,
        writer=Writer(path, epoch, shared.clock, died=died),
        found=found,
    )


def _door(path: Path) -> socket.socket:
    try:
        return server.listen(path)
    except OSError as trouble:
        words = f"no socket can be made there ({trouble.strerror}): give --data another folder"
        raise BadInput([Mistake(str(path), None, words)]) from None


def _readers(site: Site, shared: Shared) -> tuple[Reader, ...]:
    clock, air = shared.clock, air_pressure_kpa(site.altitude_m)
    lines = Lines(clock)
    return tuple(
        Reader(
            catalog.open_gauge(row, site.layouts.get(row.layout), clock, air, lines=lines),
            row.rate_hz,
            shared,
        )
        for row in site.gauges
    )


def _outlet(site: Site, shared: Shared) -> Outlet | None:
    if site.io is None:
        return None
    return Outlet(frozenset(site.io.outputs), catalog.open_io(site.io, shared.clock), shared)


def _found(found: Found, site: Site, shelf: Shelf) -> LogFacts:
    """The log as it was found, with the plan of a cycle that was open if it is still usable."""
    return LogFacts(
        exists=found.exists,
        readable=found.readable,
        last_commit_s=None,
        writable=False,
        free_share=None,
        latch=found.latch,
        logged_plan=_logged_plan(found, site, shelf),
        logged_zones=found.confirmed_zones,
        service=found.service,
    )


def _logged_plan(found: Found, site: Site, shelf: Shelf) -> PlanFacts | None:
    if found.open_plan_json is None:
        return None
    try:
        plan = plans.from_json(found.open_plan_json)
        facts = plan_facts(plan)
    except (ValueError, KeyError, TypeError):
        say("the plan in the log cannot be read: choose the job again")
        return None
    if plan.site_digest != site.digest:
        say("the site file was changed since the plan in the log: choose the job again")
        return None
    shelf.put(plan.digest, found.open_plan_json)
    return facts


def _begin(parts: Parts) -> None:
    parts.writer.start()
    for worker in parts.workers:
        worker.start()


def _end(parts: Parts) -> None:
    """Stop the threads, then close the log with everything in it."""
    for worker in parts.workers:
        worker.stop()
    for worker in parts.workers:
        worker.join(JOIN_S)
    if not parts.writer.close(LOG_CLOSE_S):
        say(f"the log was not closed: {parts.writer.status.words}")
