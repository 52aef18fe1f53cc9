"""The chain's links, against hashes made by another program."""

from __future__ import annotations

import pytest

from kiosk.interlock.states import State
from kiosk.records.chain import START, canonical, link


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ({"b": 1, "a": (1, 2.5)}, '{"a":[1,2.5],"b":1}'),
        ({"to": State.HOLD_LOST}, '{"to":"HOLD LOST"}'),
        ({"zones": frozenset({"B", "A"})}, '{"zones":["A","B"]}'),
        ({"R": float("nan"), "v": float("-inf")}, '{"R":null,"v":null}'),
        ("größe \ud800", '"gr\\u00f6\\u00dfe \\ud800"'),
        ({1: object}, '{"1":"<class \'object\'>"}'),
        ([True, None, b"x"], "[true,null,\"b'x'\"]"),
    ],
)
def test_a_content_has_one_form(value: object, text: str) -> None:
    assert canonical(value) == text


def test_the_first_link_is_the_hash_that_sha256sum_gives() -> None:
    """(head -c 32 /dev/zero; printf '%s\\n' RECORD) | sha256sum, GNU coreutils."""
    record = (1, 1, None, 1000, "2026-11-25T09:00:00.000Z", None, "log", "{}")
    expected = "59e0e9aeed866fbfac37040ba0408469944ff878df674360dee08cdaf7411cb3"
    assert link(START, record).hex() == expected


def test_a_link_with_a_blob_is_the_hash_that_openssl_gives() -> None:
    """The record's line, then the blob ``abc``: openssl dgst -sha256."""
    expected = "2e89df957b7570964ef506669a51b8df333176c1be068801f2bbbcc142cc960d"
    assert link(START, (1, "table", 0, 100, 2), b"abc").hex() == expected


def test_another_previous_link_gives_another_link() -> None:
    record = (1, "table", 0, 100, 2)
    assert link(START, record) != link(link(START, record), record)
