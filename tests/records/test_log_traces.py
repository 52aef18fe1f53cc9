"""Trace blocks give back exactly what went in, and notice damage."""

from __future__ import annotations

import random
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.records.traces import (
    LENGTHS_MS,
    LONGEST,
    Block,
    block_of,
    buckets,
    decode,
    encode,
    joined,
    to_count,
)

times = st.integers(min_value=0, max_value=2**45)
counts = st.none() | st.integers(min_value=-10_000_000, max_value=10_000_000)
gauge_counts = st.none() | st.integers(min_value=0, max_value=10_200)
any_samples = st.lists(st.tuples(times, counts), min_size=1, max_size=200)


def samples_of(block: Block) -> list[tuple[int, int | None]]:
    return [
        (int(at), int(count) if valid else None)
        for at, count, valid in zip(block.times_ms, block.counts, block.valid, strict=True)
    ]


@given(any_samples)
def test_any_samples_come_back_exactly(samples: list[tuple[int, int | None]]) -> None:
    assert samples_of(decode(encode(block_of(samples)))) == samples


@given(st.lists(st.tuples(st.integers(40, 1300), gauge_counts), min_size=1, max_size=700))
def test_a_gauge_with_a_jittery_clock_comes_back_exactly(
    rows: list[tuple[int, int | None]],
) -> None:
    at, samples = 1_764_000_000_000, []
    for step, count in rows:
        at += step
        samples.append((at, count))
    assert samples_of(decode(encode(block_of(samples)))) == samples


@given(any_samples, any_samples)
def test_joined_blocks_hold_the_samples_of_both_in_order(
    first: list[tuple[int, int | None]], second: list[tuple[int, int | None]]
) -> None:
    both = joined([decode(encode(block_of(first))), decode(encode(block_of(second)))])
    assert samples_of(both) == first + second


def test_the_most_samples_fit_and_one_more_does_not() -> None:
    most = [(100 * k, k % 7) for k in range(LONGEST)]
    assert samples_of(decode(encode(block_of(most)))) == most
    with pytest.raises(ValueError, match="1 to 32000 samples"):
        encode(block_of([*most, (0, 0)]))
    with pytest.raises(ValueError, match="not 0"):
        encode(block_of([]))


def test_every_single_changed_byte_is_noticed() -> None:
    good = encode(block_of([(100 * k, 6000 - k if k % 9 else None) for k in range(50)]))
    for place in range(len(good)):
        bad = bytearray(good)
        bad[place] ^= 0x40
        with pytest.raises(ValueError, match="damaged"):
            decode(bytes(bad))


@pytest.mark.parametrize("length", [0, 3, 20, 60])
def test_a_block_cut_short_is_noticed(length: int) -> None:
    good = encode(block_of([(100 * k, 7**k % 1009) for k in range(50)]))
    assert len(good) > 60
    with pytest.raises(ValueError, match="damaged"):
        decode(good[:length])


def test_a_block_of_another_format_is_refused_by_number() -> None:
    body = bytes([9]) + encode(block_of([(0, 1)]))[1:-4]
    with pytest.raises(ValueError, match="format 9"):
        decode(body + zlib.crc32(body).to_bytes(4, "little"))


def test_a_block_whose_check_sum_fits_and_content_does_not_is_damaged() -> None:
    good = encode(block_of([(100 * k, 7**k % 1009) for k in range(50)]))
    body = good[:27] + b"\xff" * (len(good) - 31)
    with pytest.raises(ValueError, match="damaged"):
        decode(body + zlib.crc32(body).to_bytes(4, "little"))


@pytest.mark.parametrize(
    ("value_kpa", "count"),
    [(0.0, 0), (61.237, 6124), (-3.0, -300), (0.1 + 0.2, 30), (None, None),
     (float("nan"), None), (float("inf"), None), (1e9, None)],
)  # fmt: skip
def test_a_value_becomes_the_nearest_hundredth_of_a_kpa_or_none(
    value_kpa: float | None, count: int | None
) -> None:
    assert to_count(value_kpa) == count


@given(any_samples, st.sampled_from(LENGTHS_MS))
def test_buckets_hold_the_least_the_most_the_sum_and_the_gaps(
    samples: list[tuple[int, int | None]], length_ms: int
) -> None:
    """Against plain Python over the samples of each bucket."""
    found = buckets(block_of(samples), length_ms)
    assert [b.from_ms for b in found] == sorted({at // length_ms * length_ms for at, _ in samples})
    for bucket in found:
        inside = [c for at, c in samples if bucket.from_ms <= at < bucket.from_ms + length_ms]
        good = [c for c in inside if c is not None]
        assert (bucket.n, bucket.missing) == (len(good), len(inside) - len(good))
        assert (bucket.low, bucket.high) == ((min(good), max(good)) if good else (None, None))
        assert bucket.total == sum(good)


@pytest.mark.parametrize("share_of_old", [0.0, 0.95], ids=["white noise", "drifting noise"])
def test_a_minute_of_a_gauge_takes_less_than_deflate_of_its_raw_values(share_of_old: float) -> None:
    """zlib over the same values as 16-bit integers is the measure; times are on top for us."""
    chance = random.Random(7)
    values, at_count = [], 0.0
    for _ in range(600):
        at_count = share_of_old * at_count + chance.gauss(0.0, 3.0)
        values.append(6000 + round(at_count))
    block = block_of([(1_764_000_000_000 + 100 * k, c) for k, c in enumerate(values)])
    raw = zlib.compress(np.array(values, dtype="<i2").tobytes(), 9)
    assert len(encode(block)) < 0.9 * len(raw)
