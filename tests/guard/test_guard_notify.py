"""The guard and its supervisor: real datagrams, from completed steps only.  sd_notify(3)."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.demo import folder
from kiosk.guard.notify import from_environment

NOWHERE = {
    "gauge": "modbus-tcp://127.0.0.1:9?unit=1",
    "io": "modbus-tcp://127.0.0.1:9?unit=1",
}
READY, BEAT, STOPPING = b"READY=1\nWATCHDOG=1", b"WATCHDOG=1", b"STOPPING=1"


@pytest.fixture
def supervisor() -> Iterator[socket.socket]:
    with tempfile.TemporaryDirectory() as made, socket.socket(
        socket.AF_UNIX, socket.SOCK_DGRAM
    ) as ear:  # fmt: skip
        ear.bind(f"{made}/notify")
        ear.settimeout(30.0)
        yield ear


def asked(ear: socket.socket, patience_us: str = "400000", **more: str) -> dict[str, str]:
    return {"NOTIFY_SOCKET": ear.getsockname(), "WATCHDOG_USEC": patience_us, **more}


def waiting(ear: socket.socket) -> list[bytes]:
    """What was sent and not heard yet."""
    ear.setblocking(False)
    got = []
    try:
        while True:
            got.append(ear.recv(200))
    except BlockingIOError:
        return got


def fill(ear: socket.socket) -> None:
    """Send until the queue takes no more."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as other:
        other.setblocking(False)
        with contextlib.suppress(BlockingIOError):
            while True:
                other.sendto(b"FULL=1", ear.getsockname())


def test_ready_comes_with_the_first_step_and_a_beat_four_times_in_the_given_time(
    supervisor: socket.socket,
) -> None:
    told = from_environment(asked(supervisor, "1000000"))
    assert waiting(supervisor) == []
    for n in range(9):
        told.stepped(100.0 + 0.125 * n)
    assert waiting(supervisor) == [READY, *[BEAT] * 4]
    told.ending()
    assert waiting(supervisor) == [STOPPING]


def test_no_child_inherits_the_word_of_the_guard(supervisor: socket.socket) -> None:
    environment = asked(supervisor, WATCHDOG_PID="1", OTHER="x")
    told = from_environment(environment)
    assert environment == {"OTHER": "x"}
    told.stepped(1.0)
    told.stepped(100.0)
    assert waiting(supervisor) == [READY]  # the watchdog is another process's


@pytest.mark.parametrize("patience", ["", "0", "soon", "-1"])
def test_without_a_time_only_ready_is_told(supervisor: socket.socket, patience: str) -> None:
    told = from_environment(asked(supervisor, patience))
    told.stepped(1.0)
    told.stepped(1000.0)
    assert waiting(supervisor) == [READY]


def test_a_name_in_the_abstract_space_is_found() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ear:
        ear.bind(f"\0holdpoint-{os.getpid()}")
        from_environment({"NOTIFY_SOCKET": f"@holdpoint-{os.getpid()}"}).stepped(1.0)
        assert waiting(ear) == [READY]


def test_a_supervisor_that_is_gone_or_does_not_listen_holds_nobody_up(
    supervisor: socket.socket,
) -> None:
    from_environment({"NOTIFY_SOCKET": "/nowhere/notify"}).stepped(1.0)
    from_environment({}).stepped(1.0)
    told = from_environment(asked(supervisor))
    for n in range(5_000):  # more than a socket's queue takes
        told.stepped(float(n))
    assert BEAT in waiting(supervisor)


def test_ready_is_sent_again_until_a_full_queue_takes_it_and_before_any_beat(
    supervisor: socket.socket,
) -> None:
    """sd_notify(3): a start is only over for the supervisor with READY=1."""
    told = from_environment(asked(supervisor, "1000000"))
    fill(supervisor)
    told.stepped(100.0)
    assert set(waiting(supervisor)) == {b"FULL=1"}
    for n in range(9):
        told.stepped(100.125 + 0.125 * n)
    assert waiting(supervisor) == [READY, *[BEAT] * 4]


def test_a_real_guard_beats_while_it_steps_is_silent_when_stopped_and_says_that_it_ends(
    supervisor: socket.socket, tmp_path: Path
) -> None:
    site = folder.fill(tmp_path, NOWHERE)
    words = ["guard", "--site", str(site), "--data", str(tmp_path)]
    guard = subprocess.Popen([sys.executable, "-m", "kiosk", *words], stderr=subprocess.DEVNULL,
                             env={**os.environ, **asked(supervisor)})  # fmt: skip
    try:
        assert supervisor.recv(200) == READY
        assert {supervisor.recv(200) for _ in range(4)} == {BEAT}
        guard.send_signal(signal.SIGSTOP)
        os.waitid(os.P_PID, guard.pid, os.WSTOPPED | os.WNOWAIT)
        waiting(supervisor)
        supervisor.settimeout(0.5)
        with pytest.raises(TimeoutError):
            supervisor.recv(200)
        supervisor.settimeout(30.0)
        guard.send_signal(signal.SIGTERM)
        guard.send_signal(signal.SIGCONT)
        heard = b""
        while heard != STOPPING:
            heard = supervisor.recv(200)
        assert guard.wait(30.0) in (0, 1)  # 1 when it stood still for more than a second
    finally:
        guard.kill()
        guard.wait()
