"""Opening a serial port: exclusively, without changing what is on the wire."""

from __future__ import annotations

from typing import Any

import serial

from kiosk.site.address import SerialAddress

TerminalError: type[Exception] = OSError
try:
    import termios
except ImportError:  # no termios on this platform: everything is an OSError there
    pass
else:
    TerminalError = termios.error  # not an OSError


def open_port(address: SerialAddress, timeout_s: float) -> Any:
    """The port, locked against a second user; what was received before is thrown away.

    Raises OSError or ``TerminalError`` when it cannot be opened or set as the address says.
    """
    return serial.Serial(
        address.port,
        baudrate=address.baud,
        parity=address.parity,
        stopbits=address.stop_bits,
        timeout=timeout_s,
        exclusive=True,
    )
