"""What was logged is read back: cycles, whole records, traces at any zoom."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import log_story as story
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kiosk.interlock.decision import Note
from kiosk.job import plan as plans
from kiosk.mistakes import BadInput
from kiosk.records import review
from kiosk.records.rows import Column
from kiosk.records.writer import Writer

Samples = list[tuple[str, float, float | None]]


def test_a_closed_cycle_has_its_job_and_its_summary(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    (row,) = review.cycles(path)
    assert (row.number, row.id, row.plan) == (1, "c-1", story.DIGEST)
    assert (row.job_id, row.title, row.revision) == ("SR-210", "Shelf rail, beech", "C")
    assert (row.result, row.minimum_kpa, row.start_kpa) == ("done", 42.0, 50.3)
    assert (row.start_vacuum_kpa, row.lowest_ratio, row.lowest_vacuum_kpa) == (61.5, 1.05, 46.1)
    assert (row.cutting_s, row.alarms) == (312.0, ("A05", "A06"))
    assert row.closed_ms is not None
    assert row.closed_ms >= row.opened_ms


def test_an_open_cycle_shows_the_alarms_it_had_so_far(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [*story.set_up(), *story.cut("c-1")[:-1]], [story.a_plan()])
    (row,) = review.cycles(path)
    assert (row.closed_ms, row.result, row.minimum_kpa) == (None, None, None)
    assert row.alarms == ("A05", "A06")


def test_a_cycle_without_a_plan_is_a_cycle(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [story.state("SELECT JOB", "NO PERMIT"), *story.cut("c-1")])
    (row,) = review.cycles(path)
    assert (row.plan, row.job_id) == (None, None)
    assert review.cycle(path, "c-1").plan_json is None


def test_a_cycle_after_a_restart_belongs_to_the_plan_that_stood(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, story.set_up(), [story.a_plan()])
    retaken = story.state("PART HELD", "SET UP", "plan_retaken")
    story.write(path, [retaken, *story.cut("c-2")])
    assert review.cycles(path)[0].plan == story.DIGEST


def test_the_last_cycles_come_first_and_no_more_than_asked(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    notes = [note for k in range(5) for note in story.cut(f"c-{k}")]
    story.write(path, [*story.set_up(), *notes], [story.a_plan()])
    assert [row.id for row in review.cycles(path, 3)] == ["c-4", "c-3", "c-2"]
    assert [row.number for row in review.cycles(path)] == [5, 4, 3, 2, 1]


def test_cycles_of_one_site_file_can_be_picked(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    other = story.other_site(story.a_plan(), "d2" * 32)
    notes = [*story.set_up(), *story.cut("c-1"), story.adopted(other.digest), *story.cut("c-2")]
    story.write(path, notes, [story.a_plan(), other])
    assert [row.id for row in review.cycles(path, site_digest=other.site_digest)] == ["c-2"]


@pytest.mark.parametrize("key", ["c-1", "1", "last"])
def test_a_record_holds_the_plan_as_adopted_and_every_note_in_order(
    key: str, tmp_path: Path
) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    record = review.cycle(path, key)
    assert record.plan_json is not None
    assert plans.from_json(record.plan_json) == story.a_plan()
    expected = [(note.kind, dict(note.data)) for note in story.cut("c-1")]
    assert [(event.kind, event.data) for event in record.events] == expected


def test_a_record_tells_what_was_confirmed_for_the_plan_before_it_opened(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    undo = {"name": "undo_zone", "client": "1", "arguments": {"zone": "A"}, "refused": None}
    again = [Note("command", None, undo), story.zone("A")]
    old = [story.adopted("old"), story.zone("B")]
    notes = [*old, *story.set_up(), *again, *story.cut("c-1"), *story.cut("c-2")]
    story.write(path, notes, [story.a_plan()])
    expected = [story.adopted(), story.zone("A"), story.zone("B"), *again]
    told = review.cycle(path, "c-1").set_up
    assert [(event.kind, event.data) for event in told] == [(n.kind, n.data) for n in expected]
    assert review.cycle(path, "c-2").set_up == told  # the next part stands on the same seats


@pytest.mark.parametrize(("key", "words"), [("c-9", "no cycle 'c-9'"), ("'; --", "no cycle")])
def test_a_cycle_that_is_not_there_is_said(key: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    with pytest.raises(BadInput, match=words):
        review.cycle(path, key)


def test_no_log_and_a_log_that_is_none_are_said(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with pytest.raises(BadInput, match="there is no log here"):
        review.cycles(path)
    path.write_text("not a database " * 1000)
    with pytest.raises(BadInput, match="cannot be read: file is not a database"):
        review.cycles(path)


# Traces


def run(path: Path, samples: Samples) -> tuple[int, list[tuple[int, float | None]]]:
    """Write samples; the first time on the axis and all of them as read back."""
    story.write(path, [], samples=samples)
    back = list(review.samples(path, "table", -(2**60), 2**60))
    return back[0][0], back


def by_hand(back: list[tuple[int, float | None]], column: Column) -> Column:
    """The column from its samples, in plain Python."""
    inside = [value for at, value in back if column.from_ms <= at < column.to_ms]
    good = [value for value in inside if value is not None]
    if not good:
        return Column(column.from_ms, column.to_ms, 0, len(inside), None, None, None)
    mean = pytest.approx(sum(good) / len(good), abs=1e-4)
    return Column(column.from_ms, column.to_ms, len(good), len(inside) - len(good),
                  min(good), mean, max(good))  # fmt: skip


def saw(count: int, step_s: float) -> Samples:
    """Two humps, a gap in the gauge, and a dip of one sample."""
    values = [None if 700 <= k < 750 else 50.0 + (k % 97) / 10 for k in range(count)]
    values[count // 2] = 3.21
    return [("table", 100.0 + k * step_s, value) for k, value in enumerate(values)]


def test_samples_come_back_with_their_gaps_in_order(tmp_path: Path) -> None:
    samples = saw(1500, 0.1)
    first, back = run(tmp_path / "log.db", samples)
    expected = [(round((at - 100.0) * 1000), None if v is None else round(v, 2))
                for _, at, v in samples]  # fmt: skip
    assert [(at - first, value) for at, value in back] == expected


@pytest.mark.parametrize("columns", [1, 7, 100, 1499])
@pytest.mark.parametrize("offset_ms", [0, -5000, 33_333])
def test_narrow_columns_are_the_samples(columns: int, offset_ms: int, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    first, back = run(path, saw(1500, 0.03))  # 45 s: every column is under a minute
    window = (first + offset_ms, first + offset_ms + 45_000)
    drawn = review.trace(path, "table", *window, columns)
    assert len(drawn) == columns
    assert (drawn[0].from_ms, drawn[-1].to_ms) == window
    assert all(a.to_ms == b.from_ms for a, b in pairwise(drawn))
    assert list(drawn) == [by_hand(back, column) for column in drawn]


@pytest.mark.parametrize("minutes", [1, 2, 60])
def test_wide_columns_on_the_edges_of_minutes_are_the_samples(minutes: int, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    first, back = run(path, saw(4000, 1.0))
    start = first // 3_600_000 * 3_600_000
    width_ms = minutes * 60_000
    count = -(-(back[-1][0] + 1 - start) // width_ms)
    drawn = review.trace(path, "table", start, start + count * width_ms, count)
    assert list(drawn) == [by_hand(back, column) for column in drawn]


def test_a_dip_of_one_sample_is_seen_at_every_zoom(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    first, back = run(path, saw(4000, 1.0))
    year_ms = 365 * 86_400_000
    for span_ms in (5_000_000, 40_000_000, 86_400_000 * 20, year_ms):
        for columns in (10, 1000):
            start = first - span_ms // 10
            drawn = review.trace(path, "table", start, start + span_ms, columns)
            assert min(c.low_kpa for c in drawn if c.low_kpa is not None) == 3.21
            assert sum(c.n + c.missing for c in drawn) == len(back)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(st.none() | st.floats(0.0, 101.0), min_size=1, max_size=1500),
    st.integers(1, 200_000), st.integers(1, 50), st.integers(-10_000, 100_000),
)  # fmt: skip
def test_any_window_of_narrow_columns_is_the_samples(
    tmp_path_factory: pytest.TempPathFactory,
    values: list[float | None],
    span_ms: int,
    columns: int,
    offset_ms: int,
) -> None:
    path = tmp_path_factory.mktemp("any") / "log.db"
    first, back = run(path, [("table", 5.0 + 0.09 * k, v) for k, v in enumerate(values)])
    start, columns = first + offset_ms, max(columns, span_ms // 59_000 + 1)
    drawn = review.trace(path, "table", start, start + span_ms, columns)
    assert list(drawn) == [by_hand(back, column) for column in drawn]


def test_each_channel_has_its_own_trace_and_a_strange_one_is_empty(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    samples: Samples = [(name, 1.0, level) for name, level in (("table", 60.0), ("pump", 80.0))]
    story.write(path, [], samples=samples)
    assert review.channels(path) == ("pump", "table")
    assert [v for _, v in review.samples(path, "pump", 0, 2**60)] == [80.0]
    assert review.samples(path, "other", 0, 2**60) == ()


def test_a_trace_runs_on_over_a_restart_without_mixing_the_runs(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    story.write(path, [], samples=[("table", 1.0 + k / 10, 10.0) for k in range(50)])
    story.write(path, [], samples=[("table", 9.0 + k / 10, 20.0) for k in range(50)])
    back = review.samples(path, "table", 0, 2**60)
    assert [value for _, value in back] == [10.0] * 50 + [20.0] * 50


@pytest.mark.parametrize(("span_ms", "columns"), [(0, 10), (-5, 10), (100, 0)])
def test_a_trace_without_time_or_columns_is_an_error(
    span_ms: int, columns: int, tmp_path: Path
) -> None:
    path = tmp_path / "log.db"
    story.one_cycle(path)
    with pytest.raises(ValueError, match="some time and at least one column"):
        review.trace(path, "table", 1000, 1000 + span_ms, columns)


def test_the_log_is_read_while_it_is_written(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    writer = Writer(path, "epoch")
    writer.start()
    try:
        number = writer.note(story.cut("c-1")[0], 1.0, story.UTC)
        story.until(lambda: writer.acknowledged == number)
        assert [row.id for row in review.cycles(path)] == ["c-1"]
    finally:
        assert writer.close(20.0)
