"""Ways to damage bytes, text and JSON, from a seed: the same seed gives the same damage."""

from __future__ import annotations

import copy
import time
from collections.abc import Callable
from random import Random
from typing import Any

SLOWEST_S = 1.0  # no call on bad input may take longer

TOKENS = (
    b"\x00", b"\xff", b"\xed\xa0\x80", b"\r", b"\n", b"\r\n", b"-", b"+", b".", b"1e999", b"nan",
    b"inf", b"-0", b"9" * 30, b"9" * 5000, b"[" * 3000, b"]", b"{", b"}", b'"', b"'", b"=", b"#",
    b"\\u0000", b"\\ud800", b"%", b"(", b")", b";", b"null", b"true", b"0", b"1e-320", b"\xc2\xa0",
    b"1e308", b"-1e15", b"\xe2\x80\xae", b"\xd9\xa3", b"\xef\xbb\xbf",
)  # fmt: skip

VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 10**30, 10**400, 1e308, -1e308, float("nan"), float("inf"), "", "x",
    "\ud800", "\x00", "9" * 5000, [], {}, [[]], [None], [1, 2, 3], {"a": 1}, {"name": 1}, "up",
    [[0.0]], [["a", "b"]], -0.0, 1e-320,
)  # fmt: skip


def damaged(good: bytes, chance: Random) -> bytes:
    """``good`` with one to four spots damaged."""
    content = bytearray(good)
    for _ in range(chance.choice((1, 1, 2, 4))):
        at = chance.randrange(len(content) + 1)
        end = min(len(content), at + chance.choice((1, 1, 2, 8, 40)))
        match chance.randrange(6):
            case 0:
                content[at:end] = chance.choice(TOKENS)
            case 1:
                content[at:at] = chance.choice(TOKENS)
            case 2:
                del content[at:end]
            case 3:
                content[at:at] = content[at:end] * chance.choice((1, 2, 20))
            case 4:
                content[at:end] = bytes(chance.randrange(256) for _ in range(end - at))
            case 5 if chance.random() < 0.3:
                del content[at:]
    return bytes(content)


def damaged_words(good: bytes, chance: Random) -> bytes:
    """``good`` with words or lines swapped, dropped, doubled or replaced: it looks alike."""
    lines = good.split(b"\n")
    for _ in range(chance.choice((1, 1, 2, 3))):
        at = chance.randrange(len(lines))
        words = lines[at].split(b" ")
        place = chance.randrange(len(words))
        match chance.randrange(5):
            case 0:
                words[place] = chance.choice(TOKENS)
            case 1:
                words[place] = chance.choice(good.split())
            case 2:
                words[place : place + 1] = []
            case 3:
                number = chance.choice((b"0", b"-1", b"1e9", b"1e300", b"1e-9", b"99999999"))
                words[place] = words[place][:1] + number
            case 4:
                other = chance.randrange(len(lines))
                lines[at], lines[other] = lines[other], lines[at]
                continue
        lines[at] = b" ".join(words)
    return b"\n".join(lines)


def spots(value: Any, where: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The ways to every value inside ``value``."""
    found = [where] if where else []
    rows = value.items() if isinstance(value, dict) else (
        enumerate(value) if isinstance(value, list) else ())  # fmt: skip
    for key, inner in rows:
        found += spots(inner, (*where, key))
    return found


def damaged_json(good: Any, chance: Random) -> Any:
    """A copy of ``good`` with one to three values replaced, dropped, or moved elsewhere."""
    row = copy.deepcopy(good)
    for _ in range(chance.choice((1, 1, 1, 3))):
        ways = spots(row)
        if not ways:
            return chance.choice(VALUES)
        *where, key = chance.choice(ways)
        holder = row
        for step in where:
            holder = holder[step]
        if chance.random() < 0.15:
            del holder[key]
        else:
            holder[key] = copy.deepcopy(chance.choice(VALUES))
    return row


def timed(call: Callable[[], object]) -> float:
    """How long a call took, s of this thread's processor: others share the computer."""
    began = time.thread_time()
    call()
    return time.thread_time() - began
