"""Who gets through the socket: real processes of another user, in the group and out of it."""

from __future__ import annotations

import os
import socket
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from guard_clients import EPOCH

from kiosk.guard import lock
from kiosk.guard.server import Server, listen
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared

GROUP, STRANGER = 4242, 65534  # no such group need exist; 65534 is nobody's
pytestmark = pytest.mark.skipif(os.geteuid() != 0, reason="only root can become another user")


@pytest.fixture
def door(shared: Shared) -> Iterator[Path]:
    """A guard's socket in a data folder that belongs to the group, below a folder open to all."""
    with tempfile.TemporaryDirectory(prefix="group-") as made:
        os.chmod(made, 0o755)
        data = Path(made) / "data"
        data.mkdir()
        os.chown(data, 0, GROUP)
        data.chmod(0o2777)  # the set-group-ID bit: what is made inside belongs to the group
        lock.tighten(data)
        served = Server(listen(data / "guard.sock"), EPOCH, Shelf(), shared, SignOn(data, shared))
        served.start()
        yield data / "guard.sock"
        served.stop()
        served.join(20.0)


def heard(door: Path, groups: list[int], user: int = STRANGER) -> bytes:
    """The first bytes that a process of this user and these further groups is sent."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.setgroups(groups)
            os.setgid(STRANGER)
            os.setuid(user)
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as client:
                client.settimeout(20.0)
                client.connect(str(door))
                os.write(writing, client.recv(100) or b"closed")
        except OSError as refused:
            os.write(writing, type(refused).__name__.encode())
        finally:
            os._exit(0)
    os.close(writing)
    os.waitpid(child, 0)
    with os.fdopen(reading, "rb") as said:
        return said.read()


def test_a_member_of_the_group_is_served(door: Path) -> None:
    assert heard(door, [GROUP]).startswith(b'{"hello"')


def test_a_stranger_does_not_even_come_to_the_socket(door: Path) -> None:
    assert heard(door, []) == b"PermissionError"
    assert heard(door, [GROUP + 1]) == b"PermissionError"


def test_a_stranger_is_turned_away_by_the_guard_when_folder_and_socket_were_opened_to_all(
    door: Path,
) -> None:
    door.parent.chmod(0o755)
    door.chmod(0o666)
    assert heard(door, []) == b"closed"
    assert heard(door, [GROUP]).startswith(b'{"hello"')
