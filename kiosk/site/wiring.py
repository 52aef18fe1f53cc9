"""Gauges and machine signals, from a site file."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from kiosk.site.address import (
    EXAMPLES,
    SerialAddress,
    is_simulated,
    parse_address,
    real_port,
)
from kiosk.site.types import GaugeSite, InputOutput, Layout
from kiosk.site.upkeep import read_date
from kiosk.toml_lines import Table

INPUTS = ("cycle_running", "standstill", "valve_open", "stop_healthy", "key_bypass",
          "contact_feedback", "pump_running", "filter_loaded", "on_battery")  # fmt: skip
OUTPUTS = ("start_permit", "hold_healthy", "alive", "beacon")
ROLES = ("table", "pump")
KINDS = ("register", "text", "current")


def read_address(row: Table, simulated: bool, schemes: Iterable[str]) -> str:
    """An address, judged for its form and for real or simulated."""
    text: str = row.text("address")
    if not text:
        return ""
    if not text.startswith(tuple(f"{scheme}:" for scheme in schemes)):
        example = " or ".join(EXAMPLES[scheme] for scheme in schemes)
        row.wrong(f'address "{text}" is of no kind that this device can have: write {example}',
                  "address")  # fmt: skip
        return text
    try:
        _refuse_wrong_side(row, text, is_simulated(parse_address(text)), simulated)
    except ValueError as wrong:
        row.wrong(f"address {wrong}", "address")
    return text


def _refuse_wrong_side(row: Table, text: str, leads_here: bool, simulated: bool) -> None:
    if simulated and not leads_here:
        row.wrong(
            f'address "{text}" is no loopback or pty address, but the file says simulated = '
            "true: write simulated = false for a real machine",
            "address",
        )
    elif leads_here and not simulated:
        row.wrong(
            f'address "{text}" is a loopback or pty address: write simulated = true, or the '
            "address of the real device",
            "address",
        )


def read_gauges(site: Table, layouts: dict[str, Layout], simulated: bool) -> tuple[GaugeSite, ...]:
    """The ``[[gauge]]`` rows."""
    gauges: dict[str, GaugeSite] = {}
    for row in site.rows("gauge"):
        gauge = _read_gauge(row, layouts, simulated)
        if gauge.name in gauges:
            row.wrong(f'a gauge named "{gauge.name}" exists: give this one another name', "name")
        gauges[gauge.name] = gauge
    return tuple(gauges.values())


def kind_for(layout: Layout) -> str:
    """The one kind of gauge that a layout suits."""
    if layout.text is not None:
        return "text"
    return "register" if layout.span is None else "current"


def _read_gauge(row: Table, layouts: dict[str, Layout], simulated: bool) -> GaugeSite:
    kind = row.choice("kind", KINDS)
    schemes = ("serial",) if kind == "text" else ("modbus-tcp", "modbus-rtu")
    layout = row.text("layout", "") if kind == "text" else row.text("layout")
    if layout and layout not in layouts:
        near = ", ".join(difflib.get_close_matches(layout, layouts, n=4, cutoff=0.0))
        text = (
            f'layout "{layout}" is unknown: the nearest of {len(layouts)} are {near}; or add a '
            "[[layout]] row with this name"
        )
        row.wrong(text, "layout")
    if layout in layouts and kind_for(layouts[layout]) != kind:
        row.wrong(
            f'layout "{layout}" does not suit kind "{kind}": it is for kind '
            f'"{kind_for(layouts[layout])}"',
            "layout",
        )
    gauge = GaugeSite(
        name=row.text("name", longest=40),
        role=row.choice("role", ROLES),
        address=read_address(row, simulated, schemes),
        kind=kind,
        layout=layout,
        error_kpa=row.number("error_kpa", 0.01, 20.0),
        rate_hz=row.number("rate_hz", 1.0, 200.0, 20.0),
        frozen_s=row.number("frozen_s", 10.0, 3600.0, 30.0),
        calibration_due=read_date(row, "calibration_due", "2027-01-31"),
    )
    row.done()
    return gauge


def read_io(site: Table, simulated: bool) -> InputOutput | None:
    """The ``[io]`` table, or None: the guard then gives advice only."""
    table = site.table("io", required=False)
    if table is None:
        return None
    address = read_address(table, simulated, ("modbus-tcp", "modbus-rtu"))
    inputs, outputs = _read_lines(table, "inputs", INPUTS), _read_lines(table, "outputs", OUTPUTS)
    table.done()
    return InputOutput(address, inputs, outputs)


def _read_lines(table: Table, key: str, names: tuple[str, ...]) -> dict[str, int]:
    inside = table.table(key, required=False)
    if inside is None:
        return {}
    lines: dict[str, int] = {}
    for name in names:
        number = inside.whole(name, 0, 65535, None)
        if number is None:
            continue
        taken = next((other for other, n in lines.items() if n == number), None)
        if taken is not None:
            inside.wrong(f"{name} has the number of {taken}: write its own", name)
        lines[name] = number
    inside.done()
    return lines


def _serial(text: str) -> SerialAddress | None:
    """The serial port of an address; None for a network, and for what is no address."""
    try:
        address = parse_address(text)
    except ValueError:
        return None
    return address if isinstance(address, SerialAddress) else None


def refuse_shared_ports(site: Table, gauges: tuple[GaugeSite, ...], io: InputOutput | None) -> None:
    """Only Modbus gauges set alike may share a serial port: contacts never wait for a gauge."""
    on: dict[str, tuple[GaugeSite, SerialAddress]] = {}
    for at, gauge in enumerate(gauges):
        address = _serial(gauge.address)
        if address is None:
            continue
        first, its = on.setdefault(real_port(address) or "", (gauge, address))
        why = "" if first is gauge else _why_apart(first, its, gauge, address)
        if why:
            words = f'gauge "{gauge.name}" is on the port of gauge "{first.name}", {why}'
            site.wrong(words, "gauge", at, "address")
    contacts = None if io is None else _serial(io.address)
    port = None if contacts is None else real_port(contacts)
    if port is not None and port in on:
        site.wrong(
            f'the contacts are on the port of gauge "{on[port][0].name}", and would wait for it: '
            "give the module a line of its own",
            "io", "address",
        )  # fmt: skip


def _why_apart(
    first: GaugeSite, its: SerialAddress, gauge: GaugeSite, address: SerialAddress
) -> str:
    """Why two gauges cannot share a port; empty when they can."""
    if "text" in (first.kind, gauge.kind):
        return "and a gauge that sends text needs a port of its own: write another port"
    if its.settings != address.settings:
        return "with another baud, parity or stop: write the same for all devices of one line"
    return ""
