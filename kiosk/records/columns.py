"""A trace as columns: from the pyramid where a column is wide, else from the samples."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from kiosk.records import traces
from kiosk.records.rows import Column
from kiosk.records.traces import Block, Bucket, Flags, Integers

# Chunks of one channel do not overlap, so the one that holds ``from`` is the last to begin by it.
_CHUNKS = """
    SELECT data FROM chunk WHERE channel = :channel AND from_ms < :to AND from_ms >= coalesce(
        (SELECT max(from_ms) FROM chunk WHERE channel = :channel AND from_ms <= :from), :from)
    ORDER BY from_ms"""
_TAIL = "SELECT data FROM tail WHERE channel = :channel AND to_ms >= :from AND from_ms < :to"
_PYRAMID = """
    SELECT from_ms, n, missing, low, high, total FROM pyramid
    WHERE channel = :channel AND length_ms = :length AND from_ms > :from - :length AND from_ms < :to
    ORDER BY from_ms"""


@dataclass(frozen=True, slots=True)
class Points:
    """Summaries to be put into columns, each shape (k,); low and high count where n > 0."""

    times_ms: Integers
    n: Integers
    missing: Integers
    low: Integers
    high: Integers
    total: Integers


def _blocks(db: sqlite3.Connection, sql: str, window: dict[str, object]) -> Block:
    try:
        return traces.joined([traces.decode(row[0]) for row in db.execute(sql, window)])
    except ValueError as error:
        raise sqlite3.DatabaseError(str(error)) from error


def _inside(block: Block, from_ms: int, to_ms: int) -> Block:
    here: Flags = (block.times_ms >= from_ms) & (block.times_ms < to_ms)
    return Block(block.times_ms[here], block.counts[here], block.valid[here])


def samples(db: sqlite3.Connection, channel: str, from_ms: int, to_ms: int) -> Block:
    """Every sample with ``from_ms <= t < to_ms``, in order of recording."""
    window = {"channel": channel, "from": from_ms, "to": to_ms}
    both = [_blocks(db, _CHUNKS, window), _blocks(db, _TAIL, window)]
    return _inside(traces.joined(both), from_ms, to_ms)


def in_kpa(block: Block) -> Iterator[tuple[int, float | None]]:
    """(ms, kPa or None) of every sample."""
    rows = zip(block.times_ms.tolist(), block.counts.tolist(), block.valid.tolist(), strict=True)
    for at_ms, count, valid in rows:
        yield at_ms, _kpa(count) if valid else None


def _kpa(count: float) -> float:
    """Rounded to a hundredth of a count: 0.01 is not exact in binary."""
    return round(count * traces.COUNT_KPA, 4)


def _of_samples(block: Block) -> Points:
    n = block.valid.astype(np.int64)
    counts = np.where(block.valid, block.counts, 0)
    return Points(block.times_ms, n, 1 - n, counts, counts, counts)


def _of_buckets(rows: list[tuple[int, ...]]) -> Points:
    table = np.array(rows, dtype=np.int64).reshape(-1, 6)
    return Points(*table.T)


def _row(bucket: Bucket) -> tuple[int, ...]:
    return (bucket.from_ms, bucket.n, bucket.missing, bucket.low or 0, bucket.high or 0,
            bucket.total)  # fmt: skip


def _points(
    db: sqlite3.Connection, channel: str, from_ms: int, to_ms: int, width_ms: float
) -> Points:
    fitting = [length for length in traces.LENGTHS_MS if length <= width_ms]
    if not fitting:
        return _of_samples(samples(db, channel, from_ms, to_ms))
    window = {"channel": channel, "from": from_ms, "to": to_ms, "length": max(fitting)}
    rows = [(at, n, missing, low or 0, high or 0, total)
            for at, n, missing, low, high, total in db.execute(_PYRAMID, window)]  # fmt: skip
    tail = _inside(_blocks(db, _TAIL, window), from_ms, to_ms)
    return _of_buckets(rows + [_row(bucket) for bucket in traces.buckets(tail, max(fitting))])


def columns_of(
    db: sqlite3.Connection, channel: str, from_ms: int, to_ms: int, columns: int
) -> tuple[Column, ...]:
    """See ``review.trace``."""
    if to_ms <= from_ms or columns < 1:
        raise ValueError("a trace needs some time and at least one column")
    span = to_ms - from_ms
    points = _points(db, channel, from_ms, to_ms, span / columns)
    index = np.clip((points.times_ms - from_ms) * columns // span, 0, columns - 1)
    good = points.n > 0
    low = np.full(columns, np.iinfo(np.int64).max)
    high = np.full(columns, np.iinfo(np.int64).min)
    n, missing, total = (np.zeros(columns, dtype=np.int64) for _ in range(3))
    np.minimum.at(low, index[good], points.low[good])
    np.maximum.at(high, index[good], points.high[good])
    for sums, values in ((n, points.n), (missing, points.missing), (total, points.total)):
        np.add.at(sums, index, values)
    edges = [from_ms + -(-span * k // columns) for k in range(columns + 1)]
    return tuple(
        _column(edges[k : k + 2], int(n[k]), int(missing[k]), (low[k], total[k], high[k]))
        for k in range(columns)
    )


def _column(
    edges: Sequence[int], n: int, missing: int, counts: tuple[np.int64, np.int64, np.int64]
) -> Column:
    if n == 0:
        return Column(edges[0], edges[1], 0, missing, None, None, None)
    low, total, high = (int(count) for count in counts)
    return Column(edges[0], edges[1], n, missing, _kpa(low), _kpa(total / n), _kpa(high))
