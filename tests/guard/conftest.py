"""Threads of the guard on real sockets and real files, ended after each test."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from guard_clients import EPOCH, Client, running

from kiosk.demo import folder
from kiosk.demo.children import Children
from kiosk.demo.machine import Machine
from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell
from kiosk.guard.server import Server, listen
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.site import Site, load_site


@pytest.fixture
def shared() -> Shared:
    bell = Bell()
    return Shared(bell, time.monotonic, Failure(bell.ring))


@pytest.fixture
def shelf() -> Shelf:
    return Shelf()


@pytest.fixture(scope="module")
def children() -> Iterator[Children]:
    with Children() as started:
        yield started


@pytest.fixture(scope="module")
def ready(children: Children, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the simulated machine says of itself."""
    return children.start_plant("demo", tmp_path_factory.mktemp("plant") / "plant.log")


@pytest.fixture
def machine(ready: dict[str, Any]) -> Iterator[Machine]:
    remote = Machine(ready["remote"])
    yield remote
    remote.close()


@pytest.fixture
def site(ready: dict[str, Any], tmp_path: Path) -> Site:
    """The simulated machine's."""
    return load_site(folder.fill(tmp_path, ready))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "guard.sock"


@pytest.fixture
def people(tmp_path: Path, shared: Shared) -> SignOn:
    return SignOn(tmp_path, shared)


@pytest.fixture
def server(path: Path, shelf: Shelf, shared: Shared, people: SignOn) -> Iterator[Server]:
    with running(Server(listen(path), EPOCH, shelf, shared, people)) as served:
        yield served


@pytest.fixture
def connect(path: Path, server: Server) -> Iterator[Callable[[], Client]]:
    made: list[Client] = []

    def make() -> Client:
        made.append(Client(path))
        return made[-1]

    yield make
    for client in made:
        client.close()
