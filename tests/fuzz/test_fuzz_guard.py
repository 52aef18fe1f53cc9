"""A real guard under floods, slow readers and damaged lines: no late step, no permit, no end.

How late a step was follows from two snapshots: with n steps between them, each due after at most
50 ms (``limits.STEP_S``), more time than n steps take is lateness.  How much of it is the
computer's own is measured beside it: the same flood, poured into a socket that is not the guard's.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from kiosk import places
from kiosk.guard import server, wire
from kiosk.interlock.snapshot import Snapshot
from kiosk.limits import STEP_S
from kiosk.link import View
from tests.fuzz.amounts import amounts
from tests.fuzz.damage import damaged, damaged_json

sys.path.append(str(Path(__file__).parents[1] / "whole"))

from whole_rig import Rig, eventually

LATE_S = 0.25  # five steps: less is not worth a question; a second would end the guard
AS_BESIDE = 4.0  # times as late as with the same work beside the guard
ROUNDS = 3  # a flood that delays steps does so each time, a busy computer does not
FLOODERS, STEPS = 4, 20
MB = 1024 * 1024


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    made = Rig(tmp_path_factory.mktemp("flood"))
    made.play.until("jobs", lambda s: bool(s.jobs), 20.0)
    yield made
    made.close()


def connected(door: Path) -> socket.socket:
    client = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    client.settimeout(1.0)
    client.connect(str(door))
    return client


class Flood:
    """Clients that send without end and read nothing, until closed."""

    def __init__(self, door: Path, line: bytes) -> None:
        self._door, self._data = door, line * max(1, 65_536 // len(line))
        self._ending = threading.Event()
        self.sent = 0
        self._threads = [threading.Thread(target=self._send) for _ in range(FLOODERS)]
        for thread in self._threads:
            thread.start()

    def _send(self) -> None:
        while not self._ending.is_set():
            try:
                with connected(self._door) as client:
                    while not self._ending.is_set():
                        client.sendall(self._data)
                        self.sent += len(self._data)
            except OSError:
                self._ending.wait(0.01)

    def close(self) -> None:
        self._ending.set()
        for thread in self._threads:
            thread.join(5.0)


def lateness_s(rig: Rig, steps: int, also: Callable[[], bool] = lambda: True) -> float:
    """The latest step seen while the guard made so many; no contact may come on meanwhile."""
    shown: list[Snapshot] = []

    def watch(view: View) -> bool:
        now = view.snapshot
        if now is not None and (not shown or shown[-1].seq != now.seq):
            shown.append(now)
        return len(shown) > 3 and shown[-1].seq - shown[0].seq >= steps and also()

    assert rig.link.wait(watch, 30.0)
    assert not any(s.outputs["start_permit"] or s.outputs["hold_healthy"] for s in shown)
    return max(new.at_s - old.at_s - STEP_S * (new.seq - old.seq) for old, new in pairwise(shown))


def command(**row: object) -> bytes:
    whole = {"command": "acknowledge", "id": "x", "epoch": "e", "plan": None, **row}
    return json.dumps(whole).encode() + b"\n"


def pour(rig: Rig, door: Path, line: bytes) -> float:
    """The latest step while a flood goes to ``door``."""
    flood = Flood(door, line)
    try:
        return lateness_s(rig, STEPS, lambda: flood.sent > MB / 4)
    finally:
        flood.close()


@contextlib.contextmanager
def sink(folder: Path) -> Iterator[Path]:
    """A socket whose server, a process of its own, throws away what it reads."""
    door = folder / "sink"
    code = f"""
import socket, threading
door = socket.socket(socket.AF_UNIX)
door.bind({str(door)!r})
door.listen(64)
print("there", flush=True)
def swallow(one):
    while one.recv(8192):
        pass
while True:
    threading.Thread(target=swallow, args=door.accept()[:1], daemon=True).start()
"""
    server = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE)
    assert server.stdout is not None
    try:
        assert server.stdout.readline() == b"there\n"
        yield door
    finally:
        server.kill()
        server.wait()
        server.stdout.close()


def delayed(rig: Rig, folder: Path, measure: Callable[[], float], line: bytes) -> str:
    """Empty when ``measure`` makes no step later than the same work beside the guard does."""
    seen = []
    for _ in range(ROUNDS):
        late_s = measure()
        if late_s < LATE_S:
            return ""
        with sink(folder) as door:
            beside_s = pour(rig, door, line)
        (folder / "sink").unlink()
        if late_s < AS_BESIDE * beside_s:
            return ""
        seen.append(f"{late_s:.3f} s, beside {beside_s:.3f} s")
    return "; ".join(seen)


FLOODS = {
    "damaged lines": b"{}\n",
    "heartbeats": b'{"alive":1}\n',
    "commands": command(),
    "large commands": command(pad="y" * 60_000),
    "deep brackets": b"[" * 60_000 + b"\n",
    "one endless line": b"x" * 65_536,
    "plans asked for": command(command="get_plan"),
    "line ends": b"\n",
}


@pytest.mark.parametrize("name", FLOODS)
def test_a_flood_delays_no_step_and_fills_no_log(name: str, rig: Rig, tmp_path: Path) -> None:
    log, epoch, line = places.log_file(rig.data), rig.epoch, FLOODS[name]
    before = sum(path.stat().st_size for path in log.parent.glob("log.db*"))
    door = places.socket_file(rig.data)
    assert delayed(rig, tmp_path, lambda: pour(rig, door, line), line) == ""
    assert rig.children.gone() is None
    assert rig.epoch == epoch
    grown = sum(path.stat().st_size for path in log.parent.glob("log.db*")) - before
    assert grown < 6 * MB  # two write-ahead logs of 4 MiB at most would be 8


def test_readers_that_never_read_delay_no_step(rig: Rig, tmp_path: Path) -> None:
    door = places.socket_file(rig.data)
    clients = [connected(door) for _ in range(server.CLIENTS_KEPT - 1)]
    try:
        assert delayed(rig, tmp_path, lambda: lateness_s(rig, STEPS), FLOODS["line ends"]) == ""
    finally:
        for client in clients:
            client.close()


@pytest.mark.parametrize("count", amounts(2_000, 100_000))
def test_damaged_commands_end_no_connection_of_another_and_give_no_permit(
    count: int, rig: Rig, tmp_path: Path
) -> None:
    epoch = rig.epoch
    good = {"command": "confirm_part", "id": "a", "epoch": epoch, "plan": None, "warnings": ["x"]}
    assert eventually(lambda: rig.play.now.commanding is not None, 5.0)
    clients, at = [connected(places.socket_file(rig.data))], 0
    try:
        while at < count:
            chance = Random(at)
            line = json.dumps(damaged_json(good, chance)).encode()
            line = damaged(line, chance) if at % 3 == 0 else line
            try:
                clients[-1].sendall(line + b"\n")
                if at % 100 == 0:
                    clients[-1].recv(1 << 20)
            except OSError:
                clients[-1].close()
                clients.append(connected(places.socket_file(rig.data)))
            at += 1
        assert delayed(rig, tmp_path, lambda: lateness_s(rig, 10), FLOODS["line ends"]) == ""
    finally:
        for client in clients:
            client.close()
    assert rig.epoch == epoch
    assert rig.children.gone() is None


def test_a_command_larger_than_any_person_sends_is_refused_with_its_id() -> None:
    got = wire.read(command(id="big", pad="y" * wire.COMMAND_CAP).strip(), "s1")
    assert isinstance(got, wire.Damaged)
    assert got.reply is not None
    assert (got.reply.id, got.reply.refused) == ("big", "bad_arguments")


@pytest.mark.parametrize("count", amounts(200, 2_000))
def test_a_jobs_folder_with_many_files_and_junk_delays_no_step(
    count: int, rig: Rig, tmp_path: Path
) -> None:
    jobs = places.jobs_dir(rig.data, None)
    job = (jobs / "cover-panel.job.toml").read_text()
    for old in jobs.glob("[am]*.job.toml"):
        old.unlink()  # of the other count
    (jobs / "a-loop.job.toml").symlink_to(jobs / "a-loop.job.toml")
    (jobs / "a-junk.job.toml").write_bytes(bytes(range(256)) * 40)
    os.mkfifo(jobs / "a-pipe.job.toml")
    shutil.copy(jobs / "cover-panel.job.toml", jobs / os.fsdecode(b"a-\xff.job.toml"))
    for number in range(count):
        text = job.replace('id = "', f'id = "N{number}-', 1)
        (jobs / f"many-{number:04}.job.toml").write_text(text)

    def listed() -> bool:
        return len(rig.play.now.jobs) > count

    line = FLOODS["line ends"]
    assert delayed(rig, tmp_path, lambda: lateness_s(rig, STEPS, listed), line) == ""
    assert delayed(rig, tmp_path, lambda: lateness_s(rig, STEPS), line) == ""
    late = jobs / "a-late.job.toml"
    late.write_text(job.replace('id = "', 'id = "LATE-', 1))
    rig.play.until("the new file", lambda s: any(j.file == late.name for j in s.jobs), 30.0)
    errors = {offer.file: offer.error for offer in rig.play.now.jobs}
    assert all(errors[f"a-{name}.job.toml"] for name in ("loop", "junk", "pipe"))
    assert errors[late.name] is None
