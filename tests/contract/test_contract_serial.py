"""Serial lines against typed bytes: Modbus RTU frames of the specification.

RTU frames: the examples of the Application Protocol V1.1b3 for unit 17, with the check sums of
Modbus over Serial Line V1.02, 6.2.2, whose own example is 02 07 -> 41 12.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest
from plant_process import until
from pty_server import Babble, PtyServer, Reply

from hardware.late_answers import others
from hardware.modbus_link import QUIET_S, Answer, Request, payload_bytes
from hardware.modbus_rtu_link import RtuLink
from hardware.plant.serial_face import check_sum
from kiosk.interlock.reading import Fault, Why
from kiosk.site.address import SerialAddress


def hexed(text: str) -> bytes:
    return bytes.fromhex(text)


def link_to(server: PtyServer, unit: int = 17, timeout_s: float = 0.15) -> RtuLink:
    address = SerialAddress(True, server.path, unit, 19200, "N", 1)
    return RtuLink(address, time.monotonic, timeout_s, 0.05)


PATIENT_S = 20.0  # a device that answers is never too late, however busy the computer is


def patient(link: RtuLink) -> None:
    """From the next opening of the port on: after any fault but a refusal."""
    link._line._timeout_s = PATIENT_S


def bits(text: str) -> tuple[bool, ...]:
    return tuple(letter == "1" for letter in text)


# request, frame it must send, answer, what must come out of it
SPECIFICATION = [
    (Request(1, 0x13, 0x13), "11 01 00 13 00 13 8E 92", "11 01 03 CD 6B 05 40 12",
     Answer(0, bits=bits("1011001111010110101"))),
    (Request(2, 0xC4, 0x16), "11 02 00 C4 00 16 BA A9", "11 02 03 AC DB 35 20 18",
     Answer(0, bits=bits("0011010111011011101011"))),
    (Request(3, 0x6B, 3), "11 03 00 6B 00 03 76 87", "11 03 06 02 2B 00 00 00 64 C8 BA",
     Answer(0, registers=(555, 0, 100))),
    (Request(4, 8, 1), "11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4",
     Answer(0, registers=(10,))),
    (Request(5, 0xAC, 1, (True,)), "11 05 00 AC FF 00 4E 8B", "11 05 00 AC FF 00 4E 8B",
     Answer(0)),
]  # fmt: skip


def test_the_examples_of_the_specification_one_after_another() -> None:
    with PtyServer([hexed(row[2]) for row in SPECIFICATION]) as server:
        link = link_to(server, timeout_s=PATIENT_S)
        for request, sent, _, due in SPECIFICATION:
            answer = link.ask(request)
            assert isinstance(answer, Answer), answer
            assert (answer.registers, answer.bits) == (due.registers, due.bits)
            assert server.requests[-1] == hexed(sent)
        link.close()


def test_several_coils_at_once() -> None:
    """V1.1b3, 6.11, unit 17."""
    with PtyServer([hexed("11 0F 00 13 00 0A 26 99")], size=11) as server:
        link = link_to(server, timeout_s=PATIENT_S)
        assert isinstance(link.ask(Request(15, 0x13, 10, bits("1011001110"))), Answer)
        link.close()
    assert server.requests == [hexed("11 0F 00 13 00 0A 02 CD 01 BF 0B")]


def test_the_plants_own_check_sum_is_that_of_the_specification() -> None:
    """V1.02 6.2.2: 02 07 -> 41 12.  CRC-16/MODBUS of "123456789" is 4B37, low byte first."""
    assert check_sum(hexed("02 07")) == hexed("41 12")
    assert check_sum(b"123456789") == hexed("37 4B")


GOOD, NEXT = hexed("11 04 02 00 0A F8 F4"), hexed("11 04 02 00 0B 39 34")
LIES: list[tuple[str, Reply, Why]] = [
    ("a wrong check sum", hexed("11 04 02 00 0A F8 F5"), Why.GARBLED),
    ("function 3 answers function 4", hexed("11 03 02 00 0A F9 80"), Why.GARBLED),
    ("coils in place of registers", hexed("11 01 02 00 0A F8 38"), Why.GARBLED),
    ("two registers for one", hexed("11 04 04 00 0A 00 0B 8B 80"), Why.GARBLED),
    ("another unit", hexed("12 04 02 00 0A BC F4"), Why.GARBLED),
    ("two answers at once", GOOD + NEXT, Why.GARBLED),
    ("a frame cut short", GOOD[:-1], Why.GARBLED),
    ("an exception", hexed("11 84 02 C3 04"), Why.REFUSED),
    ("nothing", None, Why.SILENT),
    ("a hang-up", lambda server: server.hang_up(), Why.CLOSED),
]


def test_the_frames_typed_for_the_lies_have_the_check_sums_they_should() -> None:
    """Only the one that is named so has a wrong one."""
    frames = [(name, reply) for name, reply, _ in LIES if isinstance(reply, bytes)]
    whole = [(n, f) for n, f in frames if n not in ("two answers at once", "a frame cut short")]
    wrong = [name for name, frame in whole if check_sum(frame[:-2]) != frame[-2:]]
    assert wrong == ["a wrong check sum"]
    assert check_sum(NEXT[:-2]) == NEXT[-2:]


@pytest.mark.parametrize(("reply", "why"), [row[1:] for row in LIES], ids=[row[0] for row in LIES])
def test_a_lie_on_the_line_is_a_fault(reply: Reply, why: Why) -> None:
    with PtyServer([GOOD, reply]) as server:
        link = link_to(server)
        assert isinstance(link.ask(Request(4, 8, 1)), Answer)
        fault = link.ask(Request(4, 8, 1))
        link.close()
    assert isinstance(fault, Fault), fault
    assert fault.why is why, fault


def numbered(server: PtyServer) -> None:
    """Answers a read of registers with the number of the request in each (V1.1b3, 6.3 and 6.4)."""
    unit, function, *_, count, _, _ = server.requests[-1]
    number = len(server.requests).to_bytes(2, "big")
    body = bytes((unit, function, 2 * count)) + count * number
    server.put(body + check_sum(body))


def refuses_all_but(count: int) -> Callable[[PtyServer], None]:
    """Exception 2 to any other count (V1.1b3, section 7)."""

    def reply(server: PtyServer) -> None:
        if server.requests[-1][5] == count:
            numbered(server)
        else:
            body = bytes((server.requests[-1][0], server.requests[-1][1] | 0x80, 2))
            server.put(body + check_sum(body))

    return reply


def slow(seconds: float, reply: Callable[[PtyServer], None]) -> Callable[[PtyServer], None]:
    """A device that takes so long for each; requests that come meanwhile wait."""

    def slowly(server: PtyServer) -> None:
        server.busy(seconds)
        reply(server)

    return slowly


def answer_of(link: RtuLink, count: int = 1, limit_s: float = 8.0) -> Answer:
    got: Answer = until(
        lambda: isinstance(a := link.ask(Request(4, 8, count)), Answer) and a, limit_s, "an answer"
    )
    return got


# A timeout of 0.15 s and QUIET_S make 0.5 s; the library's own repair ends before that.
@pytest.mark.parametrize("seconds", [0.25, 0.6, 0.7, 1.1])
@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("refuses", [False, True], ids=["reads any", "refuses others"])
def test_a_late_answer_is_never_taken_for_the_next(
    seconds: float, count: int, refuses: bool
) -> None:
    """A device that answers in order; the number of the request that was read is told by it."""
    usual = refuses_all_but(count) if refuses else numbered

    def silent() -> bool:
        """False where the computer stood still until the answer was there."""
        with PtyServer([slow(seconds, usual), slow(0.03, usual)]) as server:
            link = link_to(server, timeout_s=0.15)
            first = link.ask(Request(4, 8, count))
            for _ in range(3):
                answer = answer_of(link, count)
                assert answer.registers == (len(server.requests),) * count
            link.close()
        if isinstance(first, Answer):
            assert first.registers == (1,) * count
            return False
        assert first.why is Why.SILENT
        return True

    until(silent, 8.0, "an answer that is late")


def test_a_device_that_is_always_too_late_never_gives_a_value() -> None:
    """But that of the question itself, should the computer stand still until it is there."""
    with PtyServer([slow(0.6, numbered)]) as server:
        link = link_to(server, timeout_s=0.15)

        def asked() -> bool:
            answer = link.ask(Request(4, 8, 1))
            assert isinstance(answer, Fault) or answer.registers == (len(server.requests),)
            return len(server.requests) > 5

        until(asked, 20.0, "six questions")
        link.close()


def test_once_the_doubt_is_ended_only_what_is_wanted_is_asked() -> None:
    with PtyServer([None, numbered]) as server:
        link = link_to(server, timeout_s=0.15)
        link.ask(Request(4, 8, 1))
        patient(link)
        answer_of(link)
        before = len(server.requests)
        for _ in range(3):
            answer_of(link)
        link.close()
    assert len(server.requests) == before + 3
    assert server.requests[before:] == [hexed("11 04 00 08 00 01 B2 98")] * 3


@pytest.mark.parametrize("lost", [Request(1, 0, 4), Request(2, 9, 6), Request(3, 65535, 1),
                                  Request(4, 8, 2), Request(4, 0, 125), Request(5, 3, 1, (True,)),
                                  Request(15, 0, 3, (True, False, True))])  # fmt: skip
def test_what_is_asked_in_doubt_cannot_be_answered_by_what_is_late(lost: Request) -> None:
    """By function, or by count of bytes (V1.1b3, 6.1 to 6.4)."""
    asked = others(lost)
    answers = [(r.function, payload_bytes(r)) for r in (lost, *asked)]
    assert len(set(answers)) == len(answers) == 4
    assert all(r.address + r.count <= 65536 and r.bits == () for r in asked)


def test_nothing_is_asked_while_the_line_babbles() -> None:
    def babbled() -> bool:
        babble = Babble(12)

        def begin(server: PtyServer) -> None:
            threading.Thread(target=babble, args=[server], daemon=True).start()

        with PtyServer([begin, numbered]) as server:
            link = link_to(server)
            assert isinstance(link.ask(Request(4, 8, 1)), Fault)
            patient(link)
            answer_of(link)
            link.close()
        if babble.paused():
            return False
        assert len(server.requests) == 3  # lost, to end the doubt, wanted
        assert server.asked_s[1] - babble.put_s[-1] > QUIET_S - 0.01
        return True

    until(babbled, 8.0, "a line that babbles without a pause")


def test_bytes_that_come_unasked_are_never_taken_for_an_answer() -> None:
    with PtyServer([numbered]) as server:
        link = link_to(server)
        assert isinstance(link.ask(Request(4, 8, 1)), Answer)
        server.put_unasked(GOOD)
        stray = link.ask(Request(4, 8, 1))
        assert isinstance(stray, Fault)
        assert stray.why is Why.GARBLED
        assert answer_of(link).registers == (len(server.requests),)
        link.close()


def test_a_refusal_keeps_the_line() -> None:
    with PtyServer([hexed("11 84 02 C3 04"), GOOD]) as server:
        link = link_to(server, timeout_s=PATIENT_S)
        assert isinstance(link.ask(Request(4, 8, 1)), Fault)
        assert isinstance(link.ask(Request(4, 8, 1)), Answer)
        link.close()
    assert len(server.requests) == 2  # no question more, as there is after a doubt


def test_a_second_user_of_the_port_is_refused() -> None:
    with PtyServer([GOOD]) as server:
        first, second = link_to(server, timeout_s=PATIENT_S), link_to(server)
        assert isinstance(first.ask(Request(4, 8, 1)), Answer)
        fault = second.ask(Request(4, 8, 1))
        assert isinstance(fault, Fault)
        assert fault.why is Why.CLOSED
        assert isinstance(first.ask(Request(4, 8, 1)), Answer)
        first.close()
        second.close()


def test_a_port_that_cannot_be_set_as_the_address_says_is_closed() -> None:
    """Linux's pseudo-terminals have no parity: termios refuses it, and not with an OSError."""
    with PtyServer([GOOD]) as server:
        link = RtuLink(SerialAddress(True, server.path, 17, 19200, "E", 1), time.monotonic)
        for _ in range(2):
            answer = link.ask(Request(4, 8, 1))
            assert isinstance(answer, Answer) or answer.why is Why.CLOSED
        link.close()


@pytest.mark.parametrize("asked", [numbered, PtyServer.hang_up])
def test_an_unplugged_line_is_told_closed_at_once(asked: Callable[[PtyServer], None]) -> None:
    """Between two questions, and while an answer is awaited."""
    with PtyServer([numbered, asked]) as server:
        link = link_to(server)
        answer_of(link)
        if asked is numbered:
            server.hang_up()
        gone = link.ask(Request(4, 8, 1))
        link.close()
    assert isinstance(gone, Fault)
    assert gone.why is Why.CLOSED


def test_a_port_that_is_not_there_is_closed() -> None:
    address = SerialAddress(True, "/dev/no-such-port", 1, 19200, "N", 1)
    fault = RtuLink(address, time.monotonic).ask(Request(4, 8, 1))
    assert isinstance(fault, Fault)
    assert fault.why is Why.CLOSED
