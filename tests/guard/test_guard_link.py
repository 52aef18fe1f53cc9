"""The client's end: newest wins, replies by id, reconnects, sees restarts and silence."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from guard_clients import eventually

from kiosk.guard.server import Server, listen
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.interlock.commands import Reply
from kiosk.interlock.snapshot import HoldShown, Snapshot
from kiosk.link import Link, View


def snapshot(epoch: str = "e1", seq: int = 1, plan: str | None = None) -> Snapshot:
    nothing = HoldShown(None, None, None, None, None, None, None, None, None, None, None)
    return Snapshot(
        epoch=epoch, seq=seq, at_s=1.0, utc="", state="STARTING", flags=(), site="s", air_kpa=101.0,
        waiting_for=(), plan=plan, job_id=None, job_title=None, job_revision=None, planning=None,
        refusal=None, jobs=(), gauges=(), hold=nothing, zones=(), seats_up=0, seats_to_turn_up=0,
        map_kept=False, part_confirmed=False, warnings=(), permissives=(), alarms=(), inputs={},
        outputs={}, contacts={}, permit_left_s=None, pause_left_s=None, allowed=(),
        forbids_reset=(), release=None, forbids_release=(), cycle=None, commanding=None,
    )  # fmt: skip


def show(server: Server, shown: Snapshot, *replies: Reply) -> None:
    server.publish(shown.to_json().encode() + b"\n", replies)


@pytest.fixture
def link(path: Path) -> Iterator[Link]:
    made = Link(path)
    made.start()
    yield made
    made.close()


def test_the_view_is_the_newest_snapshot(server: Server, link: Link) -> None:
    show(server, snapshot(seq=1))
    show(server, snapshot(seq=2))
    assert link.wait(lambda view: view.snapshot == snapshot(seq=2), 20.0)
    assert link.view().connected
    assert not link.view().silent(link.view().received_s or 0.0)


def test_it_keeps_the_right_to_command_by_its_heartbeat(server: Server, link: Link) -> None:
    assert eventually(lambda: server.screen().seen_s is not None)
    first = server.screen()
    assert eventually(lambda: (server.screen().seen_s or 0.0) > (first.seen_s or 0.0))
    assert server.screen().client == first.client


def test_a_listener_never_takes_the_right(path: Path, server: Server) -> None:
    reader = Link(path, alive=False)
    reader.start()
    show(server, snapshot())
    assert reader.wait(lambda view: view.snapshot is not None, 20.0)
    assert server.screen().client is None
    reader.close()


@pytest.mark.parametrize(
    ("holder", "reads_only"), [(None, False), ("screen-1", False), ("screen-2", True)]
)
def test_a_link_knows_whether_another_client_holds_the_right(
    server: Server, link: Link, holder: str | None, reads_only: bool
) -> None:
    assert link.wait(lambda view: view.client == "screen-1", 20.0)
    show(server, replace(snapshot(seq=7), commanding=holder))
    assert link.wait(lambda view: view.snapshot is not None and view.snapshot.seq == 7, 20.0)
    assert link.view().reads_only is reads_only


def test_a_guard_that_names_no_client_takes_no_right_away() -> None:
    assert not View(snapshot=replace(snapshot(), commanding="screen-1")).reads_only


def test_after_a_lost_connection_no_name_of_a_client_stays(
    path: Path, shelf: Shelf, shared: Shared, people: SignOn, link: Link
) -> None:
    """The next connection has another name: it would be taken for one without the right."""
    served = Server(listen(path), "e1", shelf, shared, people)
    served.start()
    assert link.wait(lambda view: view.client == "screen-1", 5.0)
    show(served, replace(snapshot(), commanding="screen-1"))
    assert link.wait(lambda view: view.snapshot is not None, 5.0)
    served.stop()
    served.join(5.0)
    assert link.wait(lambda view: not view.connected, 5.0)
    lost = link.view()
    assert lost.client is None
    assert not replace(lost, client="screen-2").reads_only
    assert lost.snapshot == snapshot()  # all else stays, and grows old


def test_a_command_carries_epoch_plan_and_arguments_and_gets_its_reply(
    server: Server, link: Link
) -> None:
    show(server, snapshot(plan="d7"))
    assert link.wait(lambda view: view.snapshot is not None, 20.0)
    ident = link.ask("confirm_zone", zone="C")
    got: list = []
    assert eventually(lambda: bool(got.extend(server.commands()) or got))
    assert (got[0].id, got[0].epoch, got[0].plan) == (ident, "e1", "d7")
    assert got[0].arguments == {"zone": "C"}
    assert link.answer(ident) is None
    show(server, snapshot(), Reply(str(ident), got[0].client, "zone_already"))
    assert link.wait(lambda _: link.answer(ident) is not None, 20.0)
    answer = link.answer(ident)
    assert answer is not None
    assert (answer.refused, answer.done) == ("zone_already", False)


def test_a_plan_is_fetched_by_digest(server: Server, shelf: Shelf, link: Link) -> None:
    shelf.put("d9", json.dumps({"digest": "d9"}))
    show(server, snapshot(plan="d9"))
    assert link.wait(lambda view: view.snapshot is not None, 20.0)
    answer = link.call("get_plan")
    assert answer is not None
    assert answer.plan == {"digest": "d9"}


def test_without_a_guard_nothing_is_sent_and_nothing_raised(path: Path) -> None:
    lonely = Link(path)
    lonely.start()
    assert lonely.ask("reset", cause="other") is None
    assert lonely.view().silent(0.0)
    lonely.close()


def test_it_connects_again_to_a_new_guard_and_counts_the_restart(
    path: Path, shelf: Shelf, shared: Shared, people: SignOn, link: Link
) -> None:
    for number, epoch in enumerate(("e1", "e2")):
        served = Server(listen(path), epoch, shelf, shared, people)
        served.start()
        show(served, snapshot(epoch))
        assert link.wait(lambda view, epoch=epoch: view.epoch == epoch, 20.0)
        assert link.view().restarts == number
        served.stop()
        served.join(20.0)
        assert link.wait(lambda view: not view.connected, 20.0)


def test_changed_is_called_for_every_change(path: Path, server: Server) -> None:
    told = threading.Event()
    link = Link(path, changed=told.set)
    link.start()
    show(server, snapshot())
    assert told.wait(20.0)
    link.close()


def test_a_damaged_snapshot_leaves_the_view_to_grow_old(server: Server, link: Link) -> None:
    show(server, snapshot(seq=5))
    assert link.wait(lambda view: view.snapshot is not None, 20.0)
    for damaged in (b'{"snapshot":{"seq":6}}\n', b'{"snapshot":\n'):
        server.publish(damaged, ())
        for _ in range(2):  # a reply may go out before what was published: the second does not
            assert link.call("get_plan", timeout_s=20.0) is not None
        shown = link.view().snapshot
        assert shown is not None
        assert asdict(shown) == asdict(snapshot(seq=5))
