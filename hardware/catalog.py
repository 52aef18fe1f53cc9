"""The kinds of gauge and interface there are, by address: the one place that chooses."""

from __future__ import annotations

from collections.abc import Callable

from hardware.frames import REGISTERS, WORD_ORDERS
from hardware.gauge import Gauge, Trace
from hardware.lines import Lines
from hardware.machine_io import MachineIO
from hardware.modbus_gauge import ModbusGauge
from hardware.modbus_io import ModbusIO
from hardware.modbus_link import Link
from hardware.serial_gauge import TEXT_LAYOUT, SerialGauge
from hardware.serial_text import open_text
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import GaugeSite, InputOutput, Layout
from kiosk.site.address import Address, TcpAddress, parse_address
from kiosk.site.textform import line_rule

Clock = Callable[[], float]


def _bad(where: str, text: str) -> BadInput:
    return BadInput([Mistake(where, None, text)])


def _address(where: str, text: str) -> Address:
    try:
        return parse_address(text)
    except ValueError as wrong:
        raise _bad(where, str(wrong)) from None


def _link(where: str, address: Address, lines: Lines) -> Link:
    try:
        return lines.link(address)
    except ValueError as wrong:
        raise _bad(where, str(wrong)) from None


def open_link(where: str, address: str, clock: Clock) -> Link:
    """A line to one Modbus device, for reading it register by register.

    Raises ``BadInput``, naming ``where``, when the address cannot be used.
    """
    return _link(where, _address(where, address), Lines(clock))


def _check_layout(where: str, layout: Layout, air_kpa: float | None) -> None:
    if layout.reference == "absolute" and air_kpa is None:
        raise _bad(where, f"layout {layout.name} is absolute: state altitude_m in [air]")


def _check_registers(where: str, layout: Layout) -> None:
    if layout.type not in REGISTERS:
        raise _bad(where, f"layout {layout.name}: type is one of {', '.join(REGISTERS)}")
    if layout.word_order not in WORD_ORDERS:
        raise _bad(where, f"layout {layout.name}: word_order is one of {', '.join(WORD_ORDERS)}")
    if layout.function not in (3, 4):
        raise _bad(where, f"layout {layout.name}: function is 3 or 4")


def open_gauge(
    gauge: GaugeSite,
    layout: Layout | None,
    clock: Clock,
    air_kpa: float | None = None,
    *,
    lines: Lines | None = None,
    trace: Trace | None = None,
) -> Gauge:
    """The gauge of a site file's row; nothing is sent before its first poll.

    layout   None for a gauge of kind "text" that sends vacuum in kPa by itself
    clock    monotonic seconds
    air_kpa  local air pressure; needed when the layout is absolute
    lines    the lines of the machine, the same for all gauges that may share one
    trace    is given the bytes of every answer, before they are judged

    Raises ``BadInput`` when the address or the layout cannot be used.
    """
    where = f"gauge {gauge.name}"
    address = _address(where, gauge.address)
    if gauge.kind == "text":
        layout = layout or TEXT_LAYOUT
        if layout.text is None:
            raise _bad(where, f'layout {layout.name}: kind "text" needs one of type "text"')
        _check_layout(where, layout, air_kpa)
        if isinstance(address, TcpAddress) or address.modbus:
            raise _bad(where, "a gauge of kind text needs a serial:// address")
        try:
            line_rule(layout.text, layout.unit)
        except ValueError as wrong:
            raise _bad(where, f"layout {layout.name}: {wrong}") from None
        port = open_text(address, layout.text, clock)
        return SerialGauge(gauge.name, layout, port, air_kpa, trace)
    if layout is None:
        raise _bad(where, f'kind "{gauge.kind}" needs a layout')
    _check_registers(where, layout)
    _check_layout(where, layout, air_kpa)
    if gauge.kind == "current" and layout.span is None:
        raise _bad(where, f"layout {layout.name}: state span, the values at 4 and at 20 mA")
    link = _link(where, address, lines or Lines(clock))
    return ModbusGauge(gauge.name, layout, link, air_kpa, trace)


def open_io(io: InputOutput, clock: Clock) -> MachineIO:
    """The interface of a site file's [io]; nothing is sent before the first call.

    Raises ``BadInput`` when the address cannot be used.
    """
    address = _address("[io]", io.address)
    return ModbusIO(io.inputs, io.outputs, _link("[io]", address, Lines(clock)), clock)
