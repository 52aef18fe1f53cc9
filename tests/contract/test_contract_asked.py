r"""A gauge that must be asked for each line, on a real pseudo-terminal, against typed bytes.

The bytes are those of docs/wiring.md: ``P?`` and CR asks, ``P= -80.250 kPa`` and CR answers.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from plant_process import until
from pty_server import Babble, PtyServer, Reply

from hardware.catalog import open_gauge
from hardware.gauge import Gauge
from hardware.modbus_link import QUIET_S, TIMEOUT_S
from kiosk.interlock.reading import Fault, Reading, Why
from kiosk.mistakes import BadInput
from kiosk.site import GaugeSite, Layout, TextForm
from kiosk.site.textform import line_rule, number_in

FORM = TextForm("P= # kPa", None, "P?", "\r")
REQUEST = b"P?\r"


def asked_gauge(path: str, form: TextForm = FORM) -> Gauge:
    layout = Layout("a", 0, 0, "text", "ABCD", 1.0, 0.0, "kPa", "gauge", (-5.0, 102.0), text=form)
    row = GaugeSite("table", "table", f"serial://{path}?baud=9600", "text", "a", 1.0)
    return open_gauge(row, layout, time.monotonic)


def server_of(*script: Reply) -> PtyServer:
    return PtyServer(script, size=len(REQUEST))


def reading(gauge: Gauge) -> Reading:
    """The next reading; silence and noise before it may pass.

    A gauge that answers is never too late here, however busy the computer is.
    """
    with pytest.MonkeyPatch.context() as patience:
        patience.setattr("hardware.serial_text.TIMEOUT_S", 20.0)
        got: Reading = until(lambda: isinstance(s := gauge.poll(), Reading) and s, 8.0, "a reading")
    return got


def late(seconds: float, data: bytes) -> Callable[[PtyServer], None]:
    def reply(server: PtyServer) -> None:
        server.busy(seconds)
        server.put(data)

    return reply


def test_it_is_asked_in_the_bytes_of_the_page_and_its_answer_is_read() -> None:
    with server_of(b"P= -80.250 kPa\r") as server:
        gauge = asked_gauge(server.path)
        sample = reading(gauge)
        gauge.close()
    assert (sample.raw, sample.vacuum_kpa) == (-80.25, 80.25)
    assert set(server.requests) == {REQUEST}


def test_nothing_is_sent_to_a_gauge_that_sends_by_itself() -> None:
    with PtyServer([None], size=1) as server:
        gauge = asked_gauge(server.path, TextForm("P= # kPa"))
        gauge.poll()
        gauge.close()
    assert server.requests == []


@pytest.mark.parametrize(
    "pieces",
    [
        (b"P= -8", b"0.250 kPa", b"\r"),  # both halves would be a number
        (b"P= -80.250 kPa\r", b"\n"),  # the second half of a line end, later
        (b"P?\r", b"P= -80.250 kPa\r\n"),  # an adapter that echoes
        (b"\r\nP= -80.250 kPa\r\n",),
    ],
)
def test_one_line_in_any_pieces_is_the_answer(pieces: tuple[bytes, ...]) -> None:
    with server_of(lambda server: server.put_in_turn(*pieces)) as server:
        gauge = asked_gauge(server.path)
        for _ in range(3):
            assert reading(gauge).vacuum_kpa == 80.25
        gauge.close()


@pytest.mark.parametrize(
    ("reply", "why"),
    [
        (None, Why.SILENT),
        (b"P= -80.250 kPa", Why.GARBLED),  # no end
        (b"P= -80.250 kPa\rP= -80.251 kPa\r", Why.GARBLED),  # which of the two?
        (b"P= -80.250 kPa\rP= -8", Why.GARBLED),
        (b"-80.250 kPa\r", Why.GARBLED),  # not its pattern
        (b"P= -80.250 psi\r", Why.GARBLED),
        (b"ERROR 4\r", Why.GARBLED),
        (b"\xff\x00\r", Why.GARBLED),
        (b"P= -180.250 kPa\r", Why.OUT_OF_RANGE),
        (lambda server: server.hang_up(), Why.CLOSED),
    ],
)
def test_anything_but_one_whole_line_is_a_fault(reply: Reply, why: Why) -> None:
    with server_of(b"P= -20 kPa\r", reply) as server:
        gauge = asked_gauge(server.path)
        reading(gauge)
        sample = gauge.poll()
        gauge.close()
    assert isinstance(sample, Fault), sample
    assert sample.why is why, sample


@pytest.mark.parametrize("share", [
    0.5, pytest.param(0.15, marks=pytest.mark.long), pytest.param(0.7, marks=pytest.mark.long)
])  # fmt: skip
def test_a_late_answer_is_never_taken_for_the_next(share: float) -> None:
    """The gauge tells the number of the question, the first time late; questions wait behind it."""
    seconds = TIMEOUT_S + share * QUIET_S
    usual = late(0.1, b"P= -3 kPa\r")

    def silent() -> bool:
        """False where the computer stood still until the answer was there."""
        with server_of(b"P= -1 kPa\r", late(seconds, b"P= -2 kPa\r"), usual) as server:
            gauge = asked_gauge(server.path)
            assert reading(gauge).vacuum_kpa == 1.0
            sample = gauge.poll()
            assert reading(gauge).vacuum_kpa == 3.0
            gauge.close()
        if isinstance(sample, Reading):
            assert sample.vacuum_kpa == 2.0
            return False
        assert sample.why is Why.SILENT
        return True

    until(silent, 8.0, "an answer that is late")


def test_lines_that_come_unasked_are_never_taken_for_an_answer() -> None:
    with server_of(b"P= -1 kPa\r", b"P= -3 kPa\r") as server:
        gauge = asked_gauge(server.path)
        reading(gauge)
        server.put_unasked(b"P= -2 kPa\r")
        stray = gauge.poll()
        assert isinstance(stray, Fault)
        assert stray.why is Why.GARBLED
        assert reading(gauge).vacuum_kpa == 3.0
        gauge.close()


def test_nothing_is_asked_while_the_line_babbles() -> None:
    def babbled() -> bool:
        babble = Babble(20)
        with server_of(b"P= -1 kPa\r", babble, b"P= -3 kPa\r") as server:
            gauge = asked_gauge(server.path)
            reading(gauge)
            assert isinstance(gauge.poll(), Fault)
            assert reading(gauge).vacuum_kpa == 3.0
            gauge.close()
        if babble.paused():
            return False
        assert len(server.requests) == 3
        assert server.asked_s[2] - babble.put_s[-1] > QUIET_S - 0.01
        return True

    until(babbled, 8.0, "a line that babbles without a pause")


# What a pattern takes, and what it refuses


@pytest.mark.parametrize(
    ("pattern", "line", "value"),
    [
        ("P= # kPa", b"P=   -80.25\tkPa ", -80.25), ("P= # kPa", b"P= -80.25kPa", None),
        ("P= # kPa", b"XP= 1 kPa", None), ("P= # kPa", b"P= 1 kPa x", None),
        ("P=#", b"P=+7", 7.0), ("#", b"12.5", 12.5), ("#", b"12.5 kPa", None),
        ("\x02#", b"\x02-3", -3.0), ("? # kPa", b"A 5 kPa", 5.0), ("? # kPa", b"- 5 kPa", None),
        ("? # kPa", b"-5 kPa", None), ("(#) [kPa]", b"(5) [kPa]", 5.0),
        ("P= # kPa", "P= ٣ kPa".encode(), None), ("P.=#", b"Px=5", None),
    ],
)  # fmt: skip
def test_a_pattern_stands_for_the_whole_line(
    pattern: str, line: bytes, value: float | None
) -> None:
    assert number_in(line, TextForm(pattern), "kPa") == value


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("P= kPa", "write one #"), ("# #", "write one #"), ("1#", "beside a digit"),
        ("#.", "beside a digit"), ("?#", "beside a digit"), ("-#", "a sign before #"),
        ("- #", "a sign before #"), ("# mbar", "the pattern says mbar and the layout kPa"),
    ],
)  # fmt: skip
def test_a_pattern_that_could_take_a_part_of_the_number_is_refused(
    pattern: str, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        line_rule(TextForm(pattern), "kPa")
    with pytest.raises(BadInput, match="layout a"):
        asked_gauge("/dev/no-such-port", TextForm(pattern))


def test_a_long_line_is_judged_at_once_whatever_the_pattern() -> None:
    """Sixty marks against a line of the greatest length; a rule that tries all ways never ends."""
    form, line = TextForm("? " * 28 + "#"), b"x " * 110 + b"x" * 30
    assert number_in(line, form, "kPa") is None
