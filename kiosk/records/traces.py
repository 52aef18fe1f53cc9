"""Samples of one channel to bytes and back, exactly; and their least, sum and most by bucket.

A value is a count of 0.01 kPa, a time whole ms.  A block holds: the head, one bit a sample for
"no valid value", the times less an even pace or their differences, the values less their median
or their first or second differences, whichever packs best, all as signed bytes, and each number
that does not fit as eight bytes more; deflated (RFC 1951), with a CRC-32 at the end.
Integers are little-endian.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

COUNT_KPA = 0.01
LONGEST = 32_000  # samples in a block
LENGTHS_MS = (60_000, 3_600_000, 86_400_000)  # of the pyramid's buckets

_FORMAT = 1
# format, order of values + 4 x order of times, n, first ms, usual difference of times, median
# count, escapes, are there gaps
_HEAD = struct.Struct("<BBHqiiHB")
_ESCAPE = -128
_LARGEST_COUNT = 10_000_000

Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Block:
    """Samples in order.  ``counts`` means nothing where ``valid`` is False."""

    times_ms: Integers  # shape (n,)
    counts: Integers  # shape (n,), 0.01 kPa
    valid: Flags  # shape (n,)


@dataclass(frozen=True, slots=True)
class Bucket:
    """The valid samples with ``from_ms <= t < from_ms + length_ms``."""

    length_ms: int
    from_ms: int
    n: int
    missing: int
    low: int | None
    high: int | None
    total: int


def to_count(value_kpa: float | None) -> int | None:
    """The nearest count; None for no value, NaN, infinity or more than 100 MPa."""
    if value_kpa is None or not math.isfinite(value_kpa):
        return None
    count = round(value_kpa / COUNT_KPA)
    return count if abs(count) <= _LARGEST_COUNT else None


def block_of(samples: Sequence[tuple[int, int | None]]) -> Block:
    """A block of (time ms, count or None) pairs."""
    times = np.array([at for at, _ in samples], dtype=np.int64)
    counts = np.array([0 if count is None else count for _, count in samples], dtype=np.int64)
    valid = np.array([count is not None for _, count in samples], dtype=np.bool_)
    return Block(times, counts, valid)


def joined(blocks: Sequence[Block]) -> Block:
    """The samples of all blocks, one after the other."""
    if not blocks:
        return block_of(())
    return Block(
        np.concatenate([block.times_ms for block in blocks]),
        np.concatenate([block.counts for block in blocks]),
        np.concatenate([block.valid for block in blocks]),
    )


def _filled(block: Block) -> Integers:
    """Counts with each invalid one replaced by the last valid one: its difference is then 0."""
    last_valid = np.where(block.valid, np.arange(block.valid.size), -1)
    source = np.maximum.accumulate(last_valid)
    return np.where(source >= 0, block.counts[np.maximum(source, 0)], 0)


def _packed(differences: Integers) -> tuple[bytes, Integers]:
    """Differences as signed bytes, and those that did not fit."""
    wide = (differences < -127) | (differences > 127)
    return np.where(wide, _ESCAPE, differences).astype("<i1").tobytes(), differences[wide]


def _deflated(body: bytes) -> bytes:
    """The shorter of two strategies of deflate, without a zlib head."""
    packed = []
    for strategy in (zlib.Z_DEFAULT_STRATEGY, zlib.Z_RLE):
        press = zlib.compressobj(9, zlib.DEFLATED, -15, 9, strategy)
        packed.append(press.compress(body) + press.flush())
    return min(packed, key=len)


def _best(numbers: Integers, orders: int) -> tuple[int, bytes, Integers]:
    """The order of differences that deflates best, as signed bytes, and what did not fit."""
    candidates = []
    for order in range(orders):
        packed, wide = _packed(numbers)
        size = len(zlib.compress(packed + wide.tobytes(), 6))
        candidates.append((size, order, packed, wide))
        numbers = np.diff(numbers, prepend=0)
    _, order, packed, wide = min(candidates, key=lambda candidate: candidate[:2])
    return order, packed, wide


def encode(block: Block) -> bytes:
    """The bytes of 1 to ``LONGEST`` samples; ValueError for another number."""
    n = block.times_ms.size
    if not 1 <= n <= LONGEST:
        raise ValueError(f"a block holds 1 to {LONGEST} samples, not {n}")
    first, filled = int(block.times_ms[0]), _filled(block)
    usual = int(np.median(np.diff(block.times_ms))) if n > 1 else 0
    usual = usual if abs(usual) < 2**31 else 0
    median = int(np.median(filled))
    time_order, time_bytes, time_wide = _best(block.times_ms - first - usual * np.arange(n), 2)
    order, value_bytes, value_wide = _best(filled - median, 3)
    gaps = b"" if block.valid.all() else np.packbits(~block.valid).tobytes()
    escapes = np.concatenate([time_wide, value_wide]).astype("<i8").tobytes()
    head = _HEAD.pack(
        _FORMAT, order + 4 * time_order, n, first, usual, median, len(escapes) // 8, bool(gaps)
    )
    packed = head + _deflated(gaps + time_bytes + value_bytes + escapes)
    return packed + struct.pack("<I", zlib.crc32(packed))


def _unpacked(data: bytes, escapes: Integers, order: int) -> tuple[Integers, Integers]:
    """The numbers of signed bytes, and the escapes that are left for the next."""
    numbers = np.frombuffer(data, dtype="<i1").astype(np.int64)
    wide = numbers == _ESCAPE
    used = int(wide.sum())
    numbers[wide] = escapes[:used]
    for _ in range(order):
        numbers = np.cumsum(numbers)
    return numbers, escapes[used:]


def decode(data: bytes) -> Block:
    """The block that ``encode`` was given; ValueError when the bytes are damaged."""
    if len(data) < _HEAD.size + 4 or struct.unpack("<I", data[-4:])[0] != zlib.crc32(data[:-4]):
        raise ValueError("a trace block is damaged: its check sum differs")
    form, orders, n, first, usual, median, escape_count, has_gaps = _HEAD.unpack_from(data)
    if form != _FORMAT:
        raise ValueError(f"a trace block has format {form}; this program reads {_FORMAT}")
    try:
        body = zlib.decompress(data[_HEAD.size : -4], wbits=-15)
    except zlib.error as error:
        raise ValueError(f"a trace block is damaged: {error}") from error
    gap_size = (n + 7) // 8 if has_gaps else 0
    streams = body[gap_size : gap_size + 2 * n]
    escapes = np.frombuffer(body[gap_size + 2 * n :], dtype="<i8", count=escape_count)
    times, escapes = _unpacked(streams[:n], escapes, orders // 4)
    counts, _ = _unpacked(streams[n:], escapes, orders % 4)
    gaps = np.unpackbits(np.frombuffer(body[:gap_size], dtype=np.uint8), count=n) if has_gaps else 0
    valid = np.broadcast_to(np.equal(gaps, 0), (n,))
    return Block(times + first + usual * np.arange(n), counts + median, valid)


def buckets(block: Block, length_ms: int) -> list[Bucket]:
    """The buckets of one length that the block's samples fall in, in order of time."""
    index = block.times_ms // length_ms
    found = []
    for key in np.unique(index):
        here = index == key
        counts = block.counts[here & block.valid]
        missing = int(here.sum()) - counts.size
        low, high = (int(counts.min()), int(counts.max())) if counts.size else (None, None)
        start = int(key) * length_ms
        found.append(Bucket(length_ms, start, counts.size, missing, low, high, int(counts.sum())))
    return found
