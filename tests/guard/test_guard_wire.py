"""Lines of the socket: what is a command, what is refused, what is thrown away."""

from __future__ import annotations

import json

import pytest

from kiosk.guard import wire
from kiosk.interlock.commands import Command, Name, Reply


def line(**row: object) -> bytes:
    return json.dumps(row).encode()


def test_a_command_keeps_its_arguments_and_its_sender() -> None:
    got = wire.read(
        line(command="confirm_zone", id="a1", epoch="e", plan="d", zone="B"), "screen-1"
    )
    assert got == Command(Name.CONFIRM_ZONE, "a1", "e", "d", "screen-1", {"zone": "B"})


def test_a_heartbeat_is_no_command() -> None:
    assert isinstance(wire.read(line(alive=3), "screen-1"), wire.Alive)


@pytest.mark.parametrize("damaged", [
    b"", b"{", b"[]", b"7", b"null", b'"x"', b"\xff\xfe", b'{"command":"reset"}',
    b'{"command":"reset","id":7,"epoch":"e","plan":null}',
    b'{"command":"reset","id":"","epoch":"e","plan":null}',
    b"[" * 60000,
])  # fmt: skip
def test_a_line_without_an_id_gets_no_reply_and_no_exception(damaged: bytes) -> None:
    assert wire.read(damaged, "screen-1") == wire.Damaged(None)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ({"command": "open_valve", "id": "1", "epoch": "e", "plan": None}, "unknown_command"),
        ({"command": 5, "id": "1", "epoch": "e", "plan": None}, "unknown_command"),
        ({"command": "reset", "id": "1", "epoch": None, "plan": None}, "bad_arguments"),
        ({"command": "reset", "id": "1", "epoch": "e", "plan": 4}, "bad_arguments"),
    ],
)
def test_a_damaged_command_with_an_id_is_refused_by_code(row: dict, code: str) -> None:
    assert wire.read(line(**row), "c") == wire.Damaged(Reply("1", "c", code))


def nested(depth: int) -> bytes:
    return b'{"command":"reset","id":"1","epoch":"e","x":' + b"[" * depth + b"]" * depth + b"}"


@pytest.mark.parametrize("depth", [9, 100, 480, 900, 1900])
def test_arguments_nested_too_deep_are_refused_before_anything_walks_them(depth: int) -> None:
    assert wire.read(nested(depth), "c") in (
        wire.Damaged(Reply("1", "c", "bad_arguments")),
        wire.Damaged(None),  # so deep that even the parser gave up: no id was read
    )
    assert isinstance(wire.read(nested(8), "c"), Command)


def test_nesting_counts_through_objects_and_lists_alike() -> None:
    deep: object = 1
    for level in range(9):
        deep = {"k": deep} if level % 2 else [deep]
    row = {"command": "reset", "id": "1", "epoch": "e", "plan": None, "cause": "x", "x": deep}
    assert wire.read(line(**row), "c") == wire.Damaged(Reply("1", "c", "bad_arguments"))
    (row["x"],) = deep if isinstance(deep, list) else deep.values()
    assert isinstance(wire.read(line(**row), "c"), Command)


def test_replies_and_hello_are_single_lines_of_json() -> None:
    assert json.loads(wire.hello("ab", "c")) == {
        "hello": {"format": 1, "epoch": "ab", "client": "c"}
    }
    assert json.loads(wire.reply(Reply("7", "c"))) == {"reply": "7", "done": True}
    assert json.loads(wire.reply(Reply("7", "c", "not_now"))) == {
        "reply": "7",
        "refused": "not_now",
    }
    assert json.loads(wire.plan_reply('a"b', '{"x":1}')) == {
        "reply": 'a"b', "done": True, "plan": {"x": 1}}  # fmt: skip
    for text in (wire.hello("a", "c"), wire.reply(Reply("7", "c")), wire.plan_reply("7", "{}")):
        assert text.endswith(b"\n")
        assert text.count(b"\n") == 1
