"""Registers of a device that nobody knows yet: as many of a block as it gives.

A device refuses a whole block when one register of it does not exist (exception 2, Modbus V1.1b3,
section 7), or when it cuts a number in two.  So a refused block is asked for again in halves.
"""

from __future__ import annotations

from hardware.modbus_link import Answer, Link, Request
from kiosk.interlock.reading import Fault, Why

LONGEST_BLOCK = 125  # Modbus V1.1b3, 6.3 and 6.4


def read_block(link: Link, function: int, first: int, count: int) -> dict[int, int] | Fault:
    """The registers by their zero-based number; without those that the device refuses.

    function  3 (holding registers) or 4 (input registers)
    count     1 to 125; ``first + count`` is at most 65,536

    Returns the fault when the device cannot be asked, and empty when it refuses them all.
    Raises ValueError for a block that no request can name.
    """
    if function not in (3, 4) or not 1 <= count <= LONGEST_BLOCK or first + count > 65536:
        raise ValueError(f"function {function}, registers {first} to {first + count - 1}")
    found = _halves(link, function, first, count)
    return found if isinstance(found, Fault) else dict(sorted(found.items()))


def _halves(link: Link, function: int, first: int, count: int) -> dict[int, int] | Fault:
    answer = link.ask(Request(function, first, count))
    if isinstance(answer, Answer):
        return dict(enumerate(answer.registers, first))
    if answer.why is not Why.REFUSED:
        return answer
    if count == 1:
        return {}
    # numbers of two registers mostly begin on an even one
    half = 1 if count == 2 else count // 2 + count // 2 % 2
    low = _halves(link, function, first, half)
    high = _halves(link, function, first + half, count - half)
    if isinstance(low, Fault) or isinstance(high, Fault):
        return low if isinstance(low, Fault) else high
    return low | high
