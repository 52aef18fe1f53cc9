"""One request to a Modbus device and its answer, checked; over a serial line (RTU).

An RTU answer carries no number of the request it answers.  One that comes after the timeout would
be taken for the next one's, and every later one with it.  So after any failure but a plain refusal
the port is let go, and nothing is asked before the line was quiet for ``QUIET_S``; bytes that come
unasked between two requests count as such a failure.  An answer that is later still is told apart
by its size: ``late_answers``.

The library's asyncio client is used because its blocking one waits about 1.5 times as long as the
wire takes.  It runs in a loop of the line's own, which turns only while ``ask`` waits.

Several devices may hang on one line.  The line is then the one owner of the port; each device has
a ``RtuLink`` of its own, polled by its own thread, and they take turns.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Any

from pymodbus.client import AsyncModbusSerialClient

from hardware.late_answers import LateAnswers
from hardware.modbus_link import (
    AGAIN_S,
    QUIET_S,
    TIMEOUT_S,
    TROUBLE,
    Answer,
    Request,
    checked,
    send,
)
from hardware.serial_port import TerminalError, open_port
from kiosk.interlock.reading import Fault, Why
from kiosk.site.address import SerialAddress

LEFT_ALONE_S = 1.0  # a silent device beside others is not asked again before; it costs them 0.65 s
_SHORTEST_GAP_S = 0.00175  # Modbus over Serial Line V1.02, 2.5.1.1: above 19200 bit/s
_TROUBLE = (*TROUBLE, TerminalError, RuntimeError)


def _refused(answer: Answer | Fault) -> bool:
    """True for an exception of the device, which is an answer too."""
    return isinstance(answer, Fault) and answer.why is Why.REFUSED


class RtuLine:
    """A serial line to one or more devices, which comes back by itself.  Threads may share it.

    ``ask`` blocks for at most ``QUIET_S`` and twice ``timeout_s`` together: the second is the wait
    for another device's turn to end.
    """

    def __init__(
        self,
        address: SerialAddress,
        clock: Callable[[], float],
        timeout_s: float = TIMEOUT_S,
        again_s: float = AGAIN_S,
    ) -> None:
        self._address = address
        self._clock = clock
        self._timeout_s = timeout_s
        self._again_s = again_s
        self._gap_s = max(3.5 * address.character_s, _SHORTEST_GAP_S)
        self._turn_taken = threading.Lock()
        self._never = threading.Event()  # waits finer than the loop
        self._users: dict[object, int] = {}  # who has the line: its unit
        self._silent: dict[int, Fault] = {}  # by unit, since its last answer
        self._loop: asyncio.AbstractEventLoop | None = None
        self._client: AsyncModbusSerialClient | None = None
        self._tried_s: float | None = None
        self._last = Fault(Why.CLOSED, "not connected yet", clock())
        self._last_unit: int | None = None  # whose fault ``_last`` was; None: the whole line's
        self._late = LateAnswers()
        self._heard_s = clock()  # the newest bytes
        self._received = 0
        self._sent = False
        self._lost = False

    def ask(self, user: object, unit: int, request: Request) -> Answer | Fault:
        """One request to ``unit`` and its answer.  ``user`` keeps the line until ``leave``."""
        if not self._turn_taken.acquire(timeout=self._timeout_s):
            detail = f"{self._address.port} was taken by another device on the line"
            return Fault(Why.SILENT, detail, self._clock())
        try:
            self._users[user] = unit
            return self._left_alone(unit) or self._ask(unit, request)
        finally:
            self._turn_taken.release()

    def leave(self, user: object) -> None:
        """Let the line go; the port is closed when nobody has it any more."""
        with self._turn_taken:
            self._users.pop(user, None)
            if self._users:
                return
            self._drop()
            if self._loop is not None:
                self._loop.close()
            self._loop = None

    def _left_alone(self, unit: int) -> Fault | None:
        """What is told of a silent device while its time is given to others on the line."""
        fault, now_s = self._silent.get(unit), self._clock()
        if fault is None or len(set(self._users.values())) < 2:
            return None
        if now_s - fault.taken_s >= LEFT_ALONE_S:
            return None
        return Fault(fault.why, f"{fault.detail}; other devices have the line", now_s)

    def _ask(self, unit: int, request: Request) -> Answer | Fault:
        fault = None if self._client is not None else self._quiet_line(unit)
        if fault is not None:
            return fault
        if first := self._late.question(unit):
            told = self._once(unit, first)
            if not self._late.ended(unit, told):
                return self._doubtful() if _refused(told) else told
        answer = self._once(unit, request)
        if isinstance(answer, Answer):
            self._late.answered(unit)
        elif self._sent and not _refused(answer):
            self._late.lost(unit, request)
        return answer

    def _once(self, unit: int, request: Request) -> Answer | Fault:
        self._sent = False
        try:
            answer = self._turn(self._exchange(unit, request))
        except BaseException:  # Ctrl-C: the answer that is still to come is nobody's
            self._late.lost(unit, request)
            self._drop()
            raise
        self._silent.pop(unit, None)
        if isinstance(answer, Fault) and not _refused(answer):
            self._last = answer
            self._last_unit = None if answer.why is Why.CLOSED else unit
            if answer.why is Why.SILENT:
                self._silent[unit] = answer
            self._drop()
        return answer

    def _doubtful(self) -> Fault:
        detail = "an answer may be late: asking until it can be told from others"
        return Fault(Why.SILENT, detail, self._clock())

    def _too_soon(self, unit: int) -> Fault | None:
        """What is told until the next attempt to open the port; None when it is due."""
        now_s = self._clock()
        if self._tried_s is None or now_s - self._tried_s >= self._again_s:
            return None
        if self._last_unit in (None, unit):
            return Fault(self._last.why, self._last.detail, now_s)
        detail = f"waiting for a quiet line: unit {self._last_unit} failed"
        return Fault(Why.SILENT, detail, now_s)

    def _quiet_line(self, unit: int) -> Fault | None:
        """Listen until the line is quiet; the fault that forbids asking now, or None."""
        if early := self._too_soon(unit):
            return early
        fault = self._listen()
        if fault is not None:
            self._last, self._last_unit = fault, None
        return fault

    def _listen(self) -> Fault | None:
        self._tried_s = self._clock()
        try:
            port = open_port(self._address, QUIET_S)
            noise = port.read(256)
            port.close()
        except (OSError, TerminalError) as gone:
            return Fault(Why.CLOSED, f"{self._address.port}: {gone}", self._clock())
        if noise:
            detail = f"{len(noise)} bytes came unasked: waiting for a quiet line"
            return Fault(Why.GARBLED, detail, self._clock())
        return None

    def _turn(self, work: Any) -> Answer | Fault:
        """Turn the loop until ``work`` is done."""
        if self._loop is None:
            self._loop = asyncio.new_event_loop()
            # What the library's callbacks raise ends in a timeout, which is told as a Fault.
            self._loop.set_exception_handler(lambda _loop, _context: None)
        answer: Answer | Fault = self._loop.run_until_complete(work)
        return answer

    def _drop(self) -> None:
        if self._client is not None and self._loop is not None:
            self._client.close()
            self._loop.run_until_complete(asyncio.sleep(0))  # it closes on the next turn
        self._client = None

    async def _exchange(self, unit: int, request: Request) -> Answer | Fault:
        try:
            client = self._client or await self._connect()
            self._received = 0
            await self._gap()
            if self._received and not self._lost:
                detail = f"{self._received} bytes came unasked"
                return Fault(Why.GARBLED, detail, self._clock())
            pdu = await send(client, request, unit)
        except _TROUBLE as wrong:
            return self._failure(wrong)
        payload = self._received - 3  # unit and check sum
        return checked(request, unit, pdu, payload, self._clock())

    async def _gap(self) -> None:
        """3.5 characters of silence, which part two frames; then what came unasked is read.

        The loop's own timers are too coarse for it: they round up to the next millisecond.
        """
        left_s = self._heard_s + self._gap_s - self._clock()
        if left_s > 0.0:
            self._never.wait(min(left_s, self._gap_s))
        for _ in range(2):  # one turn finds what came, the next hands it on
            await asyncio.sleep(0)

    async def _connect(self) -> AsyncModbusSerialClient:
        self._lost = False
        address = self._address
        client = AsyncModbusSerialClient(
            address.port,
            baudrate=address.baud,
            parity=address.parity,
            stopbits=address.stop_bits,
            timeout=self._timeout_s,
            retries=0,
            reconnect_delay=0,
            trace_packet=self._count,
            trace_connect=self._note_connection,
        )
        self._client = client
        if not await client.connect():
            raise ConnectionError(f"{address.port} cannot be opened")
        await asyncio.sleep(0)  # the transport begins to read on the loop's next turn
        return client

    def _count(self, sending: bool, data: bytes) -> bytes:
        """Note how many bytes have come for this request; the library calls it."""
        self._received = 0 if sending else len(data)
        self._sent |= sending
        self._heard_s = self._clock()
        return data

    def _note_connection(self, connected: bool) -> None:
        self._lost = not connected

    def _failure(self, wrong: Exception) -> Fault:
        now_s = self._clock()
        if self._lost or isinstance(wrong, OSError | TerminalError):
            return Fault(Why.CLOSED, f"{self._address.port}: {wrong}", now_s)
        if self._received:
            return Fault(Why.GARBLED, f"no whole answer: {wrong}", now_s)
        return Fault(Why.SILENT, f"no answer in {self._timeout_s:g} s", now_s)


class RtuLink:
    """One device on a serial line, its own or one that it shares.

    ``ask`` blocks for at most ``QUIET_S`` and ``timeout_s`` together, and for ``timeout_s`` more
    while other devices have the line.
    """

    def __init__(
        self,
        address: SerialAddress,
        clock: Callable[[], float],
        timeout_s: float = TIMEOUT_S,
        again_s: float = AGAIN_S,
        line: RtuLine | None = None,
    ) -> None:
        self._unit = address.unit
        self._line = line or RtuLine(address, clock, timeout_s, again_s)

    def ask(self, request: Request) -> Answer | Fault:
        """See ``Link``."""
        return self._line.ask(self, self._unit, request)

    def close(self) -> None:
        """See ``Link``."""
        self._line.leave(self)
