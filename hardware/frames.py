"""The bytes that the Modbus library does not read for us: numbers wider than a register.

The Modbus specification defines nothing wider than 16 bits, so makers put the four bytes of a
32-bit number in either order of words and of bytes.  A is the most significant byte of the number;
``CDAB`` means that the first register holds C and D.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

REGISTERS: dict[str, int] = {"int16": 1, "uint16": 1, "int32": 2, "float32": 2}
_FORMATS = {"int16": ">h", "uint16": ">H", "int32": ">i", "float32": ">f"}
_PLACES = {order: [order.index(letter) for letter in "ABCD"] for order in
           ("ABCD", "CDAB", "BADC", "DCBA")}  # fmt: skip
WORD_ORDERS = tuple(_PLACES)


def number_of(registers: Sequence[int], type_name: str, word_order: str) -> float:
    """The number in ``registers``, as sent: may be NaN or infinite.

    registers   as many as ``REGISTERS[type_name]``, each 0 to 65535
    word_order  one of ``WORD_ORDERS``; counts for 32-bit types only

    Raises ValueError when the count of registers is wrong, KeyError for an unknown name.
    """
    if len(registers) != REGISTERS[type_name]:
        raise ValueError(f"{type_name} takes {REGISTERS[type_name]} registers")
    sent = b"".join(register.to_bytes(2, "big") for register in registers)
    if len(registers) == 2:
        sent = bytes(sent[place] for place in _PLACES[word_order])
    return float(struct.unpack(_FORMATS[type_name], sent)[0])


LONGEST_LINE = 256


class WholeLines:
    """Bytes of a text stream in, whole lines out.

    What comes before the first line end is dropped, since it may be the rest of a line, unless the
    stream is ``whole_from_start``.  A line longer than ``LONGEST_LINE`` bytes is dropped up to its
    end.  ``end`` ends a line; None: CR, LF or both.  Empty lines do not count.
    """

    def __init__(self, end: bytes | None = None, *, whole_from_start: bool = False) -> None:
        self._end = end
        self._dropping = not whole_from_start
        self.rest = b""  # what came after the last line end

    def resync(self) -> None:
        """Drop what is there, and what comes up to the next line end."""
        self.rest, self._dropping = b"", True

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that ``data`` completes, without their ends."""
        text = self.rest + data
        if self._end is None:
            text = text.replace(b"\r", b"\n")
        *whole, rest = text.split(self._end or b"\n")
        if whole and self._dropping:
            whole, self._dropping = whole[1:], False
        self.rest = rest
        if len(rest) > LONGEST_LINE:
            self.resync()
        return [line for line in whole if line and len(line) <= LONGEST_LINE]
