"""Where a gauge or an interface is: the addresses of the site file, taken apart.

    modbus-tcp://host:port?unit=1       port 502 and unit 1 unless the address says otherwise
    modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1&parity=even&stop=1
    serial:///dev/ttyUSB1?baud=9600&parity=none&stop=1

A ``modbus-rtu`` line is even parity unless the address says otherwise: Modbus over Serial Line
V1.02, 2.5.1, makes even the default.  Units are 1 to 247 on a serial line (the same, 2.2) and any
byte over TCP (Modbus Messaging on TCP/IP V1.0b, 3.1.3: one byte, which names a device behind a
gateway).  Port 502 is registered for Modbus with IANA.
"""

from __future__ import annotations

import ipaddress
import os
import re
from dataclasses import dataclass
from urllib.parse import SplitResult, parse_qsl, urlsplit

_PARITIES = {"none": "N", "even": "E", "odd": "O"}
_BAUDS = frozenset({1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200})
_HOST = re.compile(r"[a-z0-9_-]{1,63}(\.[a-z0-9_-]{1,63})*\.?")
_WORDS = {
    "modbus-tcp": {"unit"},
    "modbus-rtu": {"unit", "baud", "parity", "stop"},
    "serial": {"baud", "parity", "stop"},
}
EXAMPLES = {
    "modbus-tcp": "modbus-tcp://192.0.2.7:502?unit=1",
    "modbus-rtu": "modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1",
    "serial": "serial:///dev/ttyUSB1?baud=9600",
}
_TCP_PORT = 502


@dataclass(frozen=True, slots=True)
class TcpAddress:
    """A Modbus TCP server.  ``unit`` 0 to 255."""

    host: str
    port: int
    unit: int


@dataclass(frozen=True, slots=True)
class SerialAddress:
    """A serial port.  ``modbus``: speaks Modbus RTU; else plain text."""

    modbus: bool
    port: str
    unit: int
    baud: int
    parity: str  # N | E | O
    stop_bits: int

    @property
    def settings(self) -> tuple[int, str, int]:
        """Baud, parity and stop bits: what all devices of one line must have alike."""
        return self.baud, self.parity, self.stop_bits

    @property
    def character_s(self) -> float:
        """Time of one character on the wire, s: start, 8 data, parity and stop bits."""
        return (9 + (self.parity != "N") + self.stop_bits) / self.baud


Address = TcpAddress | SerialAddress


def _whole(words: dict[str, str], word: str, default: int, low: int, high: int) -> int:
    text = words.get(word, str(default))
    if not (text.isascii() and text.isdigit() and low <= int(text) <= high):
        raise ValueError(f"{word}={text}: write a whole number from {low} to {high}")
    return int(text)


def _serial(scheme: str, path: str, words: dict[str, str]) -> SerialAddress:
    modbus = scheme == "modbus-rtu"
    if len(path) < 2:
        raise ValueError(f"the port is missing: write {scheme}:///dev/ttyUSB0")
    baud = _whole(words, "baud", 19200 if modbus else 9600, 1200, 115200)
    if baud not in _BAUDS:
        raise ValueError(f"baud={baud}: write one of {', '.join(map(str, sorted(_BAUDS)))}")
    parity = words.get("parity", "even" if modbus else "none")
    if parity not in _PARITIES:
        raise ValueError(f"parity={parity}: write none, even or odd")
    unit = _whole(words, "unit", 1, 1, 247)
    return SerialAddress(
        modbus, path, unit, baud, _PARITIES[parity], _whole(words, "stop", 1, 1, 2)
    )


def _refuse_odd_host(host: str) -> None:
    """RFC 1123, 2.1, and RFC 1035, 2.3.4: what the resolver would raise over, not refuse."""
    if ":" in host:
        ipaddress.IPv6Address(host)  # says itself what is wrong
    elif not (len(host) <= 253 and _HOST.fullmatch(host)):
        raise ValueError(f"host {host[:60]!r} is no host name and no IP address")


def _parsed(text: str) -> Address:
    parts = urlsplit(text)
    if parts.scheme not in _WORDS:
        raise ValueError("begin with modbus-tcp://, modbus-rtu:// or serial://")
    words = dict(parse_qsl(parts.query, keep_blank_values=True))
    if unknown := words.keys() - _WORDS[parts.scheme]:
        known = ", ".join(sorted(_WORDS[parts.scheme]))
        raise ValueError(f"{sorted(unknown)[0]} is not known here; known are {known}")
    if parts.scheme != "modbus-tcp":
        if parts.netloc:
            raise ValueError(f"write three strokes: {parts.scheme}:///{parts.netloc}...")
        return _serial(parts.scheme, parts.path, words)
    if not parts.hostname:
        raise ValueError(f"the host is missing: write {EXAMPLES['modbus-tcp']}")
    _refuse_odd_host(parts.hostname)
    return TcpAddress(parts.hostname, _port(parts), _whole(words, "unit", 1, 0, 255))


def _port(parts: SplitResult) -> int:
    try:
        port = _TCP_PORT if parts.port is None else parts.port
    except ValueError:  # in the library's words, without the mend
        port = 0
    if port == 0:
        raise ValueError("the port is none from 1 to 65535: write it, or leave it out for 502")
    return port


def parse_address(text: str) -> Address:
    """The address in ``text``.  Raises ValueError with what is wrong and what to write."""
    try:
        return _parsed(text)
    except ValueError as wrong:
        raise ValueError(f"{text!r}: {wrong}") from None


def real_port(address: Address) -> str | None:
    """The serial port of an address under its one real name; None over a network."""
    return None if isinstance(address, TcpAddress) else os.path.realpath(address.port)


def is_simulated(address: Address) -> bool:
    """True for an address that leads to this computer only: loopback, or a pseudo-terminal."""
    if isinstance(address, SerialAddress):
        return os.path.realpath(address.port).startswith("/dev/pts/")
    try:
        return ipaddress.ip_address(address.host).is_loopback
    except ValueError:
        return address.host == "localhost"
