"""A fault of a device in words, and what to look at.  docs/wiring.md has the same table."""

from __future__ import annotations

from kiosk.interlock.reading import Fault, Why
from kiosk.words import Words

LOOK_AT = {
    Why.CLOSED: "plug, address, another program on the port",
    Why.SILENT: "unit number, baud rate, parity, power of the device, for text its request",
    Why.GARBLED: "wiring, termination, two masters on a line, baud rate",
    Why.REFUSED: "function and register numbers",
    Why.OUT_OF_RANGE: "layout (word order, scale, reference), gauge",
    Why.BROKEN: "transmitter, wire",
}


def fault_words(fault: Fault, words: Words) -> str:
    """What is wrong and what to look at, on one line."""
    said = words.say(f"why.{fault.why.value}")
    return f"{said} ({fault.detail}). Look at: {LOOK_AT[fault.why]}."
