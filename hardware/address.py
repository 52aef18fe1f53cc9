"""Where a gauge or an interface is: the addresses of the site file, taken apart.

    modbus-tcp://host:port?unit=1
    modbus-rtu:///dev/ttyUSB0?baud=19200&unit=1&parity=even&stop=1
    serial:///dev/ttyUSB1?baud=9600&parity=none&stop=1

A ``modbus-rtu`` line is even parity unless the address says otherwise: Modbus over Serial Line
V1.02, 2.5.1, makes even the default.
"""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlsplit

_PARITIES = {"none": "N", "even": "E", "odd": "O"}
_BAUDS = frozenset({1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200})
_HOST = re.compile(r"[a-z0-9_-]{1,63}(\.[a-z0-9_-]{1,63})*\.?")
_WORDS = {
    "modbus-tcp": {"unit"},
    "modbus-rtu": {"unit", "baud", "parity", "stop"},
    "serial": {"baud", "parity", "stop"},
}


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
    unit = _whole(words, "unit", 1, 1, 247)  # Serial Line V1.02, 2.2: servers are 1 to 247
    return SerialAddress(
        modbus, path, unit, baud, _PARITIES[parity], _whole(words, "stop", 1, 1, 2)
    )


def _refuse_odd_host(host: str) -> None:
    """RFC 1123, 2.1, and RFC 1035, 2.3.4: what the resolver would raise over, not refuse."""
    if ":" in host:
        ipaddress.IPv6Address(host)  # says itself what is wrong
    elif not (len(host) <= 253 and _HOST.fullmatch(host)):
        raise ValueError(f"host {host[:60]!r} is no host name and no IP address")


def parse_address(text: str) -> Address:
    """The address in ``text``.  Raises ValueError with what is wrong and what to write."""
    parts = urlsplit(text)
    if parts.scheme not in _WORDS:
        raise ValueError(f"{text!r}: begin with modbus-tcp://, modbus-rtu:// or serial://")
    words = dict(parse_qsl(parts.query, keep_blank_values=True))
    if unknown := words.keys() - _WORDS[parts.scheme]:
        known = ", ".join(sorted(_WORDS[parts.scheme]))
        raise ValueError(f"{text!r}: {sorted(unknown)[0]} is not known here; known are {known}")
    try:
        if parts.scheme != "modbus-tcp":
            if parts.netloc:
                raise ValueError(f"write three strokes: {parts.scheme}:///{parts.netloc}...")
            return _serial(parts.scheme, parts.path, words)
        if not parts.hostname:
            raise ValueError("the host is missing: write modbus-tcp://192.0.2.7:502?unit=1")
        _refuse_odd_host(parts.hostname)
        port = 502 if parts.port is None else parts.port
        return TcpAddress(parts.hostname, port, _whole(words, "unit", 1, 0, 255))
    except ValueError as wrong:
        raise ValueError(f"{text!r}: {wrong}") from None
