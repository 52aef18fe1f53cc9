"""What to wire where, in short lines, from a site file.  docs/wiring.md says why."""

from __future__ import annotations

from urllib.parse import urlsplit

from kiosk.site import InputOutput, Site

CAUTIONS = (
    "Work in the cabinet is for people qualified for it. Local codes, the machine maker's manual",
    "and licensed practice come first. This is an operating aid, not a safety device.",
    "Never wire a contact into an emergency stop chain, a guard interlock, a drive or spindle",
    "enable, a vacuum valve or a pump.",
)
_OUTPUTS = {
    "start_permit": "-> pulse relay's contact -> the maker's input for an external START INHIBIT. "
    "Closed permits; open forbids cycle start.",
    "hold_healthy": "-> pulse relay's contact -> the maker's input for an external FEED HOLD that "
    "acts in automatic only. Closed is healthy; open holds the feed.",
    "alive": "-> trigger of the pulse relay (retriggerable off-delay, 1.0 s, needs changes). "
    "Nothing else.",
    "beacon": "-> lamp or horn: an alarm is not acknowledged.",
}
_INPUTS = {
    "cycle_running": "<- an automatic program runs; off at rest after a feed hold, and in jog",
    "standstill": "<- axes AND spindle at rest, from the maker's own signal for it",
    "valve_open": "<- vacuum valve to the table is open",
    "stop_healthy": "<- emergency stop chain is closed (a copy of it, never the chain itself)",
    "key_bypass": "<- the maker's key for running without cups is on",
    "contact_feedback": "<- the START PERMIT contact is closed, from behind the pulse relay",
    "pump_running": "<- the vacuum pump's motor contactor is closed",
    "filter_loaded": "<- the pressure-difference switch across the inlet filter has tripped",
    "on_battery": "<- the panel runs from its battery supply: the mains have failed",
}


def connection_lines(site: Site) -> list[str]:
    """What to wire where at this machine."""
    lines = [f"{site.name}: what to wire where", "", *CAUTIONS, ""]
    for gauge in site.gauges:
        lines.append(f"gauge {gauge.name} ({gauge.role}): {gauge.address}")
    lines += [
        "  at the table, on the table's side of filter and check valve, farthest from the pump"
    ] * any(gauge.role == "table" for gauge in site.gauges)
    if not site.gauges:
        lines.append("no gauge in the file: find one with --gauge ADDRESS --write FILE")
    if site.io is None:
        return [*lines, "", "no [io] in the file: leave the contacts out; it gives advice only"]
    return [*lines, *_io_lines(site.io), *_link_lines(site, site.io)]


def _io_lines(io: InputOutput) -> list[str]:
    lines = ["", f"outputs, module at {io.address} (energised to permit; a broken wire is a no)"]
    lines += [f"  coil {at}  {name} {_OUTPUTS[name]}" for name, at in io.outputs.items()]
    lines += [
        f"  {name}: not in the file, not wired" for name in _OUTPUTS if name not in io.outputs
    ]
    if "alive" not in io.outputs:
        lines.append("  WITHOUT alive there is no pulse relay: a program that hangs holds the "
                     "contacts closed. Wire it.")  # fmt: skip
    lines += ["", "inputs (wire them so that energised is true)"]
    lines += [f"  input {at}  {name} {_INPUTS[name]}" for name, at in io.inputs.items()]
    return lines + [f"  {name}: not in the file" for name in _INPUTS if name not in io.inputs]


def _link_lines(site: Site, io: InputOutput) -> list[str]:
    lines = ["", "module: set its own communication watch to 1.0 s, all outputs off"]
    here = urlsplit(io.address)
    shared = [g.name for g in site.gauges if urlsplit(g.address).netloc == here.netloc != ""]
    if shared:
        names = ", ".join(shared)
        lines.append(
            f"link: gauge {names} is at the module's own address. Give the outputs a link of their "
            "own, or time them with the gauge unplugged."
        )
    else:
        lines.append("link: outputs on a link of their own, apart from every gauge")
    return lines
