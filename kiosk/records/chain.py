"""The chain of hashes that makes a change to the log show.

A link is SHA-256 (FIPS 180-4) over the link before it and the record in one canonical form.
It is tamper-evident only: who can write the file can also make a new chain, and the newest
records can be cut off.  A link noted outside the computer (``holdpoint log verify --noted``)
shows both.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence, Set
from typing import Any

START = bytes(32)  # what the first link follows


def plain(value: object) -> Any:
    """``value`` in what JSON has: sets sorted, numbers that are not finite None, others text."""
    match value:
        case None | bool() | int() | str():
            return value
        case float():
            return value if math.isfinite(value) else None
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case Set():
            return sorted((plain(item) for item in value), key=str)
        case Sequence() if not isinstance(value, (bytes, bytearray)):
            return [plain(item) for item in value]
        case _:
            return str(value)


def canonical(value: object) -> str:
    """One form of JSON text for one content: keys sorted, no spaces, ASCII only."""
    return json.dumps(plain(value), sort_keys=True, separators=(",", ":"), allow_nan=False)


def storable(data: Mapping[str, object]) -> dict[str, Any]:
    """``data`` as it reads back from the log.

    What has no text (nested too deep, a number of thousands of digits) must not stop the log: a
    marker stands for it, with ``not_stored`` saying why and the fields that are plain words.
    """
    try:
        return dict(json.loads(canonical(data)))
    except (ArithmeticError, LookupError, RecursionError, TypeError, ValueError) as why:
        words = {str(key): value for key, value in data.items() if _is_word(value)}
        return {**words, "not_stored": f"{type(why).__name__}: {why}"[:200]}


def _is_word(value: object) -> bool:
    return value is None or isinstance(value, bool | str)


def link(previous: bytes, record: Sequence[object], content: bytes = b"") -> bytes:
    """The hash, 32 bytes, of a record whose columns are ``record`` and whose blob ``content``."""
    head = canonical(list(record)).encode("ascii")
    return hashlib.sha256(previous + head + b"\n" + content).digest()
