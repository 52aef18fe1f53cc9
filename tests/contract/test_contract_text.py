"""A gauge that sends lines of text by itself, on a real pseudo-terminal, against typed bytes."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plant_process import until
from pty_server import PtyServer

from hardware.catalog import open_gauge
from hardware.frames import LONGEST_LINE, WholeLines
from hardware.gauge import Gauge
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.site import GaugeSite, Layout, TextForm
from kiosk.site.textform import number_in


def text_gauge(server: PtyServer, unit: str = "kPa", reference: str = "gauge") -> Gauge:
    layout = Layout("t", 0, 0, "text", "ABCD", 1.0, 0.0, unit, reference, (-5.0, 102.0),
                    text=TextForm())  # fmt: skip
    row = GaugeSite("table", "table", f"serial://{server.path}?baud=9600", "text", "t", 1.0)
    return open_gauge(row, layout, time.monotonic)


def opened(gauge: Gauge) -> Gauge:
    """The gauge with its port open: the first poll of a silent one."""
    sample = gauge.poll()
    assert isinstance(sample, Fault)
    assert sample.why is Why.SILENT
    return gauge


def first_reading(server: PtyServer, gauge: Gauge, put: Callable[[], None]) -> Reading:
    """The first reading after ``put`` on a port just opened.

    A busy computer can make the gauge miss what was sent, which is silence and tried again; it can
    never make it read something else.
    """

    def attempt() -> Reading | None:
        opened(gauge)
        put()
        sample = gauge.poll()
        gauge.close()
        server.sent_all()
        assert isinstance(sample, Reading) or sample.why is Why.SILENT
        return sample if isinstance(sample, Reading) else None

    reading: Reading = until(attempt, 8.0, "a reading")
    return reading


def test_a_line_that_comes_in_pieces_is_read_whole() -> None:
    """A port's own line reader would give -0.8 and 42.0."""
    with PtyServer([None]) as server:
        put = partial(server.put_in_turn, b"\n-0.8", b"42\r", b"\n")
        sample = first_reading(server, text_gauge(server), put)
    assert sample.raw == -0.842
    assert sample.vacuum_kpa == 0.842


def test_the_rest_of_a_line_after_opening_is_no_line() -> None:
    with PtyServer([None]) as server:
        put = partial(server.put_in_turn, b"1.25 kPa\r\n", b"-61.25 kPa\r\n")
        assert first_reading(server, text_gauge(server), put).vacuum_kpa == 61.25


def test_of_several_lines_the_newest_counts() -> None:
    with PtyServer([None]) as server:
        put = partial(server.put, b"\n-10\n-20\n-30\n-4")
        assert first_reading(server, text_gauge(server), put).vacuum_kpa == 30.0


def test_lines_that_waited_too_long_are_not_fresh() -> None:
    """The clock of the test jumps between two polls; what lay in the system's buffer is old."""
    now_s = [100.0]
    with PtyServer([None]) as server:
        row = GaugeSite("t", "table", f"serial://{server.path}", "text", "", 1.0)
        gauge = open_gauge(row, None, lambda: now_s[0] + time.monotonic())

        def put() -> None:
            server.put_unasked(b"\n20 kPa\n")
            now_s[0] += 5.0
            server.put_in_turn(b"", b"\n", b"30 kPa\n")

        assert first_reading(server, gauge, put).vacuum_kpa == 30.0


def test_a_full_buffer_gives_its_newest_line_and_not_its_oldest() -> None:
    """More bytes than a terminal line of the system holds (4095), faster than they are read."""
    with PtyServer([None]) as server:
        put = partial(server.put, b"\n" + 620 * b"10 kPa\n" + b"20 kPa\n")
        gauge = text_gauge(server, reference="vacuum")
        assert first_reading(server, gauge, put).vacuum_kpa == 20.0


def test_a_second_gauge_on_a_port_is_refused() -> None:
    with PtyServer([None]) as server:
        first, second = opened(text_gauge(server)), text_gauge(server)
        fault = second.poll()
        assert isinstance(fault, Fault)
        assert fault.why is Why.CLOSED
        second.close()
        first.close()
        third = text_gauge(server)
        assert first_reading(server, third, lambda: server.put(b"\n-5\n")).vacuum_kpa == 5.0


def test_an_unplugged_gauge_is_closed_and_a_silent_one_silent() -> None:
    with PtyServer([None]) as server:
        gauge = opened(text_gauge(server))
        server.hang_up()
        closed = gauge.poll()
        assert isinstance(closed, Fault)
        assert closed.why is Why.CLOSED
        gauge.close()


@pytest.mark.parametrize(
    ("line", "value"),
    [
        (b"-80.25 kPa", -80.25), (b"+7", 7.0), (b" 12.5kPa ", 12.5), (b"0000.5\tkPa", 0.5),
        (b"", None), (b"kPa", None), (b"-", None), (b"1.2.3", None), (b"12,5", None),
        (b"1e3", None), (b"nan", None), (b"inf", None), (b"-80.25 psi", None),
        (b"-80.25 kpa", None), (b"80 kPa 3", None), (b"\xff80", None), (b"1234567", None),
        ("٣".encode(), None), (b"80.", None), (b".5", None), (b"--5", None), (b"8 0", None),
    ],
)  # fmt: skip
def test_only_a_number_and_its_unit_is_a_line(line: bytes, value: float | None) -> None:
    assert number_in(line, TextForm(), "kPa") == value


@given(
    st.lists(st.binary(min_size=1, max_size=40).map(lambda b: b.translate(None, b"\r\n")),
             min_size=1, max_size=8),
    st.sampled_from([b"\n", b"\r", b"\r\n"]),
    st.data(),
)  # fmt: skip
def test_lines_are_the_same_however_the_bytes_are_cut(
    lines: list[bytes], end: bytes, data: st.DataObject
) -> None:
    stream = end + b"".join(line + end for line in lines)
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=10)))
    reader = WholeLines()
    got = [
        line
        for first, last in zip([0, *cuts], [*cuts, len(stream)], strict=True)
        for line in reader.feed(stream[first:last])
    ]
    assert got == [line for line in lines if line]


def test_a_new_reader_drops_what_may_be_the_rest_of_a_line() -> None:
    assert WholeLines().feed(b"1.5\n-3\n") == [b"-3"]


def test_a_line_without_an_end_is_dropped_and_the_next_one_read() -> None:
    reader = WholeLines()
    assert reader.feed(b"\n" + b"7" * (LONGEST_LINE + 1)) == []
    assert reader.rest == b"", "nothing is kept of it"
    assert reader.feed(b"7" * 50 + b"\n-3\n") == [b"-3"]
    assert reader.feed(b"8" * (LONGEST_LINE + 1) + b"\n-4\n") == [b"-4"]
