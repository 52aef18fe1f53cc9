"""The serial lines of one machine: devices that share a port share its one owner."""

from __future__ import annotations

from collections.abc import Callable

from hardware.modbus_link import Link, TcpLink
from hardware.modbus_rtu_link import RtuLine, RtuLink
from kiosk.site.address import Address, SerialAddress, TcpAddress, real_port


class Lines:
    """Gives links; two units on one port get one line.  Used by one thread, its links by many."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lines: dict[str, tuple[SerialAddress, RtuLine]] = {}

    def link(self, address: Address) -> Link:
        """A link to the device at ``address``.

        Raises ValueError when it is no Modbus device, or when another device on the same port was
        given another baud rate, parity or count of stop bits.
        """
        if isinstance(address, TcpAddress):
            return TcpLink(address, self._clock)
        if not address.modbus:
            raise ValueError("a Modbus device needs a modbus-tcp:// or modbus-rtu:// address")
        return RtuLink(address, self._clock, line=self._line(address))

    def _line(self, address: SerialAddress) -> RtuLine:
        port = real_port(address) or address.port
        if port not in self._lines:
            self._lines[port] = (address, RtuLine(address, self._clock))
        first, line = self._lines[port]
        if first.settings != address.settings:
            raise ValueError(
                f"{address.port} is set in two ways: devices on one line need the same baud, "
                "parity and stop"
            )
        return line
