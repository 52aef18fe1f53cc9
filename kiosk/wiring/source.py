"""A gauge at an address, before anybody knows its layout: everything that it gives."""

from __future__ import annotations

from dataclasses import replace
from typing import Protocol

from hardware.block import read_block
from hardware.catalog import open_gauge, open_link
from hardware.modbus_link import Link
from hardware.serial_gauge import TEXT_LAYOUT
from kiosk.interlock.reading import Fault, Why
from kiosk.site import GaugeSite, TextForm
from kiosk.wiring.bench import Bench
from kiosk.wiring.fit import Seen

TRIES = 4  # a serial line wants 0.35 s of quiet before it is asked at all
BETWEEN_S = 0.3
FUNCTIONS = (3, 4)


class Source(Protocol):
    """One device of unknown layout.  ``form`` is of its lines of text, None for registers."""

    @property
    def form(self) -> TextForm | None:
        """See above."""

    def read(self) -> Seen | Fault:
        """What it gives now, or what is wrong after several tries."""

    def close(self) -> None:
        """Let the line go."""


class Registers:
    """A Modbus device: the same block of holding and of input registers."""

    form = None

    def __init__(self, link: Link, first: int, count: int, bench: Bench) -> None:
        self._link = link
        self._first = first
        self._count = count
        self._bench = bench

    def read(self) -> Seen | Fault:
        """See ``Source``."""
        blocks: dict[int, dict[int, int]] = {}
        fault = Fault(Why.REFUSED, "no register of the block", self._bench.clock())
        for function in FUNCTIONS:
            block = self._block(function)
            if isinstance(block, Fault):
                fault = block
                if block.why is Why.CLOSED:
                    break
            elif block:
                blocks[function] = block
        return Seen(blocks) if blocks else fault

    def close(self) -> None:
        """See ``Source``."""
        self._link.close()

    def _block(self, function: int) -> dict[int, int] | Fault:
        block = read_block(self._link, function, self._first, self._count)
        for _ in range(TRIES - 1):
            if not isinstance(block, Fault):
                break
            self._bench.pause(BETWEEN_S)
            block = read_block(self._link, function, self._first, self._count)
        return block


class TextLines:
    """A gauge that sends lines of text: its newest line, whatever is on it."""

    def __init__(self, address: str, form: TextForm, bench: Bench) -> None:
        row = GaugeSite("gauge", "table", address, "text", "", 1.0)
        layout = replace(TEXT_LAYOUT, text=TextForm(None, form.line_end, form.request,
                                                    form.request_end))  # fmt: skip
        self.form = form
        self._lines: list[bytes] = []
        self._gauge = open_gauge(row, layout, bench.clock, trace=self._lines.append)
        self._bench = bench

    def read(self) -> Seen | Fault:
        """See ``Source``."""
        self._lines.clear()
        sample = self._gauge.poll()
        for _ in range(TRIES - 1):
            if self._lines:
                break
            self._bench.pause(BETWEEN_S)
            sample = self._gauge.poll()
        if self._lines:
            return Seen({}, self._lines[-1])
        return sample if isinstance(sample, Fault) else Seen({}, None)

    def close(self) -> None:
        """See ``Source``."""
        self._gauge.close()


def open_source(
    address: str, first: int, count: int, form: TextForm | None, bench: Bench
) -> Source:
    """The device at an address, with a form for lines of text.

    Raises ``BadInput`` when the address cannot be used.
    """
    if form is not None:
        return TextLines(address, form, bench)
    return Registers(open_link("--gauge", address, bench.clock), first, count, bench)
