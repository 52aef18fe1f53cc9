"""The public socket, on a real AF_UNIX socket: order, newest wins, rights, caps."""

from __future__ import annotations

import json
import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from guard_clients import EPOCH, Client, eventually

from kiosk.guard import wire
from kiosk.guard.failure import Failure
from kiosk.guard.mailbox import Bell
from kiosk.guard.server import CLIENTS_KEPT, COMMANDS_KEPT, Server
from kiosk.guard.shelf import Shelf
from kiosk.guard.sign_on import SignOn
from kiosk.guard.worker import Shared
from kiosk.interlock.commands import Name, Reply
from kiosk.people.store import people_file

Connect = Callable[[], Client]


@pytest.fixture
def now() -> list[float]:
    """The clock; it stands still until a test moves it."""
    return [100.0]


@pytest.fixture
def shared(now: list[float]) -> Shared:
    bell = Bell()
    return Shared(bell, lambda: now[0], Failure(bell.ring))


def command(ident: str, name: str = "request_permit", **row: object) -> bytes:
    whole = {"command": name, "id": ident, "epoch": EPOCH, "plan": None, **row}
    return json.dumps(whole).encode()


def taken(server: Server, count: int) -> list:
    got: list = []
    assert eventually(lambda: len(got) >= count or bool(got.extend(server.commands())) or
                      len(got) >= count)  # fmt: skip
    return got


def test_only_this_user_and_group_may_open_the_socket(path: Path, server: Server) -> None:
    assert stat.S_IMODE(path.stat().st_mode) == 0o660


def test_the_first_line_says_format_and_epoch_and_the_next_the_newest_snapshot(
    connect: Connect, server: Server
) -> None:
    server.publish(b'{"snapshot":{"seq":1}}\n', ())
    client, second = connect(), connect()
    hello = {"format": 1, "epoch": EPOCH, "client": "screen-1"}
    assert json.loads(client.line()) == {"hello": hello}
    assert json.loads(second.line()) == {"hello": {**hello, "client": "screen-2"}}
    assert client.line() == b'{"snapshot":{"seq":1}}\n'


def test_a_command_comes_out_with_its_client_and_its_reply_goes_to_that_client_alone(
    connect: Connect, server: Server
) -> None:
    one, other = connect(), connect()
    one.line(), other.line()
    one.send(command("x1", "confirm_zone", zone="A"))
    got = taken(server, 1)
    assert (got[0].name, got[0].id, got[0].arguments) == (Name.CONFIRM_ZONE, "x1", {"zone": "A"})
    server.publish(b'{"snapshot":{}}\n', (Reply("x1", got[0].client),))
    assert json.loads(one.line()) == {"reply": "x1", "done": True}
    assert other.line() == b'{"snapshot":{}}\n'


def test_the_bell_rings_for_a_command(connect: Connect, server: Server, shared: Shared) -> None:
    client = connect()
    client.line()
    shared.bell.wait(0.0)
    client.send(command("x1"))
    assert shared.bell.wait(20.0)


def test_the_first_that_speaks_commands_and_the_next_one_does_when_it_has_gone(
    connect: Connect, server: Server
) -> None:
    silent, first, second = connect(), connect(), connect()
    first.send(b'{"alive": 1}')
    assert eventually(lambda: server.screen().client is not None)
    holder = server.screen().client
    second.send(b'{"alive": 1}')
    second.send(command("y"))
    got = taken(server, 1)
    assert server.screen().client == holder != got[0].client
    first.close()
    assert eventually(lambda: server.screen().client is None)
    second.send(b'{"alive": 2}')
    assert eventually(lambda: server.screen().client == got[0].client)
    silent.close()


def test_a_screen_silent_for_two_seconds_loses_the_right_to_one_that_speaks(
    connect: Connect, server: Server, now: list[float]
) -> None:
    first, second = connect(), connect()
    first.send(b'{"alive": 1}')
    assert eventually(lambda: server.screen().client is not None)
    holder = server.screen()
    now[0] = 102.0  # not longer than 2 s: still the first's
    second.send(b'{"alive": 1}')
    second.send(command("a"))
    taken(server, 1)
    assert server.screen() == holder
    now[0] = 102.1
    second.send(b'{"alive": 2}')
    assert eventually(lambda: server.screen().client not in (None, holder.client))


def test_a_plan_is_handed_out_by_its_digest_whole(
    connect: Connect, server: Server, shelf: Shelf
) -> None:
    text = json.dumps({"digest": "d1", "pad": "x" * 3_000_000})
    shelf.put("d1", text)
    client = connect()
    client.line()
    client.send(command("g", "get_plan", plan="d1"))
    assert json.loads(client.line()) == {"reply": "g", "done": True, "plan": json.loads(text)}
    client.send(command("h", "get_plan", plan="d2"))
    assert json.loads(client.line()) == {"reply": "h", "refused": "wrong_plan"}
    assert server.commands() == ()


def test_a_sign_on_goes_to_people_alone_and_never_to_the_loop(
    connect: Connect, server: Server, people: SignOn
) -> None:
    client = connect()
    client.line()
    client.send(command("s", "sign_on", badge="B-0001", pin="739146"))
    client.send(command("q"))
    assert [c.name for c in taken(server, 1)] == [Name.REQUEST_PERMIT]
    people.round()
    assert [(r.id, r.refused) for r in people.replies()] == [("s", "no_people")]


def test_a_sign_on_of_another_epoch_or_without_the_right_to_command_is_refused(
    connect: Connect, server: Server, people: SignOn
) -> None:
    first, second = connect(), connect()
    first.line(), second.line()
    first.send(command("s", "sign_on", badge="B-1", epoch="another"))
    assert json.loads(first.line()) == {"reply": "s", "refused": "wrong_epoch"}
    second.send(command("t", "sign_off"))
    assert json.loads(second.line()) == {"reply": "t", "refused": "not_commanding"}
    people.round()
    assert people.replies() == ()


def test_more_sign_ons_than_are_judged_are_refused_at_once(
    connect: Connect, server: Server
) -> None:
    client = connect()
    client.line()
    for at in range(5):
        client.send(command(f"s{at}", "sign_on", badge="B-1"))
    assert json.loads(client.line()) == {"reply": "s4", "refused": "not_now"}


def test_who_may_sign_on_is_told_to_every_client(connect: Connect, server: Server) -> None:
    first, second = connect(), connect()
    for client in (first, second):
        client.line()
        client.send(command("g", "get_people"))
        assert json.loads(client.line()) == {"reply": "g", "done": True, "people": []}


def test_a_client_is_told_that_the_people_file_cannot_be_used(
    connect: Connect, server: Server, people: SignOn, tmp_path: Path
) -> None:
    people_file(tmp_path).write_text("{}")
    people.round()
    client = connect()
    client.line()
    client.send(command("g", "get_people"))
    assert json.loads(client.line()) == {"reply": "g", "refused": "people_unreadable"}


def test_a_touch_of_the_screen_comes_with_its_heartbeat(
    connect: Connect, people: SignOn, monkeypatch: pytest.MonkeyPatch
) -> None:
    touched: list[str] = []
    monkeypatch.setattr(people, "touched", touched.append)
    client = connect()
    client.line()
    client.send(b'{"alive": 1, "touched": false}')
    client.send(b'{"alive": 2, "touched": 1}')
    client.send(b'{"alive": 3, "touched": true}')
    assert eventually(lambda: touched == ["screen-1"])


def test_a_listener_that_does_not_read_gets_the_newest_snapshot_and_not_every_one(
    connect: Connect, server: Server
) -> None:
    client = connect()
    count = 3000
    pad = "x" * 4000
    for seq in range(count):
        server.publish(json.dumps({"snapshot": {"seq": seq, "pad": pad}}).encode() + b"\n", ())
    seen: list[int] = []
    client.line()
    while not seen or seen[-1] != count - 1:
        seen.append(json.loads(client.line())["snapshot"]["seq"])
    assert seen == sorted(seen)
    assert len(seen) < count / 10


def test_a_listener_that_takes_nothing_is_dropped_after_the_stall_time(
    connect: Connect, server: Server, now: list[float]
) -> None:
    stalled, reading = connect(), connect()
    stalled.send(b'{"alive": 1}')
    assert eventually(lambda: server.screen().client is not None)
    line = json.dumps({"snapshot": "x" * 30000}).encode() + b"\n"

    def flooded() -> bool:
        now[0] += 0.5
        server.publish(line, ())
        assert reading.line()
        return server.screen().client is None

    assert eventually(flooded)
    assert now[0] > 105.0


def test_an_endless_line_ends_the_connection(connect: Connect, server: Server) -> None:
    client = connect()
    client.line()
    endless = b"x" * (10 * wire.LINE_CAP)
    with pytest.raises((BrokenPipeError, ConnectionResetError)):
        client.socket.sendall(endless)


def test_garbage_is_ignored_and_the_connection_goes_on(connect: Connect, server: Server) -> None:
    client = connect()
    client.line()
    client.send(b"\xff\x00garbage")
    client.send(b"{}")
    client.send(command("z"))
    assert taken(server, 1)[0].id == "z"


def test_a_flood_of_commands_is_refused_and_kept_within_bounds(
    connect: Connect, server: Server
) -> None:
    client = connect()
    client.line()
    client.socket.sendall(b"".join(command(str(n)) + b"\n" for n in range(COMMANDS_KEPT + 5)))
    refused = [json.loads(client.line()) for _ in range(5)]
    assert [row["refused"] for row in refused] == ["not_now"] * 5
    assert len(server.commands()) == COMMANDS_KEPT


def test_more_clients_than_the_cap_are_turned_away(connect: Connect, server: Server) -> None:
    kept = [connect() for _ in range(CLIENTS_KEPT)]
    for client in kept:
        client.line()
    assert connect().line() == b""
    kept[0].send(command("still"))
    assert taken(server, 1)[0].id == "still"
