"""One request to a Modbus device and its answer, checked; over TCP.

The library's client says "no error" to an answer with the wrong function code, with coils in place
of registers, and with fewer or more registers than asked; it raises some failures and returns
others.  All of that is brought to one form here: an ``Answer`` of exactly what was asked, or a
``Fault``.  After any failure but a plain refusal the connection is dropped and a new client is
made, so that a late answer can never be taken for the next one.
"""

from __future__ import annotations

import logging
import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException

from kiosk.interlock.reading import Fault, Why
from kiosk.site.address import TcpAddress

TIMEOUT_S = 0.3
QUIET_S = 0.35  # a serial line is quiet after this; longest lateness kept from what is asked next
AGAIN_S = 0.25  # from one attempt to connect to the next; never grows

# Every failure is told by a Fault; the library's own lines on stderr would say it twice.
logging.getLogger("pymodbus").setLevel(logging.CRITICAL)

# What the library may raise for a bad peer.  Its own and OSError were seen; the rest its decoders
# raise inside and catch today.
TROUBLE = (ModbusException, OSError, ValueError, IndexError, struct.error)


@dataclass(frozen=True, slots=True)
class Request:
    """One Modbus request: function 1 to 5 or 15; ``bits`` are what 5 and 15 write."""

    function: int
    address: int  # zero based
    count: int
    bits: tuple[bool, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """A checked answer: ``count`` registers or bits; empty after a write."""

    taken_s: float
    registers: tuple[int, ...] = ()
    bits: tuple[bool, ...] = ()


class Link(Protocol):
    """A line to one Modbus device, owned by one thread."""

    def ask(self, request: Request) -> Answer | Fault:
        """Send one request and wait for its answer.  Never raises for what the device does."""

    def close(self) -> None:
        """Let the line go."""


def send(client: Any, request: Request, unit: int) -> Any:
    """Call the library's method for a request; the answer, or an awaitable of it."""
    at, count = request.address, request.count
    match request.function:
        case 1:
            return client.read_coils(at, count=count, device_id=unit)
        case 2:
            return client.read_discrete_inputs(at, count=count, device_id=unit)
        case 3:
            return client.read_holding_registers(at, count=count, device_id=unit)
        case 4:
            return client.read_input_registers(at, count=count, device_id=unit)
        case 5:
            return client.write_coil(at, request.bits[0], device_id=unit)
        case 15:
            return client.write_coils(at, list(request.bits), device_id=unit)
    raise ValueError(f"function {request.function} is not used here")


def payload_bytes(request: Request) -> int:
    """Bytes of a good answer from the function code on (Modbus V1.1b3, section 6)."""
    if request.function in (5, 15):
        return 5
    size = 2 * request.count if request.function in (3, 4) else (request.count + 7) // 8
    return 2 + size


def _not_ours(request: Request, unit: int, pdu: Any, payload: int) -> str | None:
    """Why an answer belongs to another request; None when it is the answer to this one."""
    if pdu.dev_id != unit:
        return f"unit {pdu.dev_id} answered for unit {unit}"
    if pdu.function_code != request.function:
        return f"function {pdu.function_code} answered function {request.function}"
    if payload != payload_bytes(request):
        return f"{payload} bytes came where {payload_bytes(request)} were asked for"
    return None


def _contents_wrong(request: Request, pdu: Any) -> str | None:
    """Why the contents of an answer are not what was asked; None when they are."""
    sent: tuple[object, ...]
    due: tuple[object, ...]
    match request.function:
        case 1 | 2:
            sent, due = (len(pdu.bits),), ((request.count + 7) // 8 * 8,)
        case 3 | 4:
            sent, due = (len(pdu.registers),), (request.count,)
        case 5:
            sent, due = (pdu.address, *pdu.bits), (request.address, *request.bits)
        case _:
            sent, due = (pdu.address, pdu.count), (request.address, request.count)
    return None if sent == due else f"function {request.function}: {sent} came, {due} was due"


def checked(request: Request, unit: int, pdu: Any, payload: int, taken_s: float) -> Answer | Fault:
    """The library's answer as ours.  ``payload``: bytes that came, from the function code on."""
    if pdu.isError() and pdu.function_code == request.function | 0x80 and pdu.dev_id == unit:
        return Fault(Why.REFUSED, f"exception {pdu.exception_code}", taken_s)
    if wrong := _not_ours(request, unit, pdu, payload) or _contents_wrong(request, pdu):
        return Fault(Why.GARBLED, wrong, taken_s)
    bits = tuple(map(bool, pdu.bits[: request.count])) if request.function in (1, 2) else ()
    registers = tuple(pdu.registers) if request.function in (3, 4) else ()
    return Answer(taken_s, registers, bits)


class TcpLink:
    """A Modbus TCP connection that comes back by itself.

    ``ask`` blocks for at most twice ``timeout_s`` (a device that sends byte by byte), or for
    ``timeout_s`` while it tries to connect.
    """

    def __init__(
        self,
        address: TcpAddress,
        clock: Callable[[], float],
        timeout_s: float = TIMEOUT_S,
        again_s: float = AGAIN_S,
    ) -> None:
        self._address = address
        self._clock = clock
        self._timeout_s = timeout_s
        self._again_s = again_s
        self._client: ModbusTcpClient | None = None
        self._tried_s: float | None = None
        self._last = Fault(Why.CLOSED, "not connected yet", clock())
        self._received = 0

    def ask(self, request: Request) -> Answer | Fault:
        """See ``Link``."""
        client = self._client or self._connect()
        if client is None:
            return Fault(self._last.why, self._last.detail, self._clock())
        answer = self._exchange(client, request)
        if isinstance(answer, Fault):
            self._last = answer
            if answer.why is not Why.REFUSED:
                self.close()
        return answer

    def close(self) -> None:
        """See ``Link``."""
        if self._client is not None:
            self._client.close()
        self._client = None

    def _connect(self) -> ModbusTcpClient | None:
        now_s = self._clock()
        if self._tried_s is not None and now_s - self._tried_s < self._again_s:
            return None
        self._tried_s = now_s
        client = ModbusTcpClient(
            self._address.host,
            port=self._address.port,
            timeout=self._timeout_s,
            retries=0,
            trace_packet=self._count,
        )
        if not client.connect():
            where = f"{self._address.host}:{self._address.port}"
            self._last = Fault(Why.CLOSED, f"no connection to {where}", now_s)
            return None
        self._client = client
        return client

    def _count(self, sending: bool, data: bytes) -> bytes:
        """Note how many bytes have come for this request; the library calls it."""
        self._received = 0 if sending else len(data)
        return data

    def _exchange(self, client: ModbusTcpClient, request: Request) -> Answer | Fault:
        try:
            pdu = send(client, request, self._address.unit)
        except (ConnectionException, ConnectionError) as gone:
            return Fault(Why.CLOSED, f"the connection broke: {gone}", self._clock())
        except TROUBLE as wrong:
            if self._received:
                return Fault(Why.GARBLED, f"no whole answer: {wrong}", self._clock())
            return Fault(Why.SILENT, f"no answer in {self._timeout_s:g} s", self._clock())
        payload = self._received - 7  # MBAP header, Modbus messaging on TCP/IP V1.0b, 3.1.3
        return checked(request, self._address.unit, pdu, payload, self._clock())
