"""Every gauge and input of a site file, live: raw, decoded, in kPa, how often, how old, or why not.

Nothing is written to the machine here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any

from hardware.catalog import open_gauge, open_io
from hardware.lines import Lines
from kiosk.interlock.reading import Fault, Reading, Signals, SignalSample
from kiosk.site import GaugeSite, Site
from kiosk.units import air_pressure_kpa
from kiosk.wiring.poller import IO_HZ, RATE_WINDOW_S, Poller, WatchedGauge, WatchedSignals
from kiosk.wiring.trouble import LOOK_AT, fault_words
from kiosk.words import Words

SLOW_HZ = 10.0  # below this the warning in the cut comes late: docs/wiring.md
JOIN_S = 2.0
ONCE_S = RATE_WINDOW_S + 0.5  # the first connection, then a whole window of readings


@dataclass(frozen=True, slots=True)
class Watched:
    """What is watched of one site."""

    site: Site
    gauges: tuple[WatchedGauge, ...]
    signals: WatchedSignals | None
    pollers: tuple[Poller, ...]

    def raise_failure(self) -> None:
        """Raise what ended a thread, if anything did."""
        for poller in self.pollers:
            if poller.failure is not None:
                raise poller.failure


@contextmanager
def watching(site: Site, clock: Callable[[], float]) -> Iterator[Watched]:
    """Threads that read every device of a site until the block ends."""
    watched = _opened(site, clock)
    with ExitStack() as ends:
        for poller in watched.pollers:
            ends.callback(poller.join, JOIN_S)
        for poller in watched.pollers:
            ends.callback(poller.stop)
            poller.start()
        yield watched


def _opened(site: Site, clock: Callable[[], float]) -> Watched:
    air_kpa, lines = air_pressure_kpa(site.altitude_m), Lines(clock)
    gauges, pollers = [], []
    for row in site.gauges:
        kept = WatchedGauge(row.name)
        layout = site.layouts.get(row.layout)
        gauge = open_gauge(row, layout, clock, air_kpa, lines=lines, trace=kept.traced)
        gauges.append(kept)
        pollers.append(Poller(_bound(kept.poll, gauge), gauge.close, row.rate_hz, clock))
    signals = None
    if site.io is not None:
        signals, io = WatchedSignals(), open_io(site.io, clock)
        pollers.append(Poller(_bound(signals.poll, io), io.close, IO_HZ, clock))
    return Watched(site, tuple(gauges), signals, tuple(pollers))


def _bound(work: Callable[[Any], None], device: Any) -> Callable[[], None]:
    return lambda: work(device)


# -- as lines --------------------------------------------------------------------------------


def table(watched: Watched, now_s: float, words: Words) -> list[str]:
    """One screen of lines."""
    site = watched.site
    lines = [f"{site.name}: gauges and inputs, nothing is written.  Ctrl-C ends.", ""]
    lines.append(f"{'gauge':<18}{'raw':<20}{'decoded':>12}{'kPa':>9}{'a second':>10}{'age s':>8}")
    for gauge, row in zip(watched.gauges, site.gauges, strict=True):
        lines += _gauge_lines(gauge, row, now_s, words)
    if not site.gauges:
        lines.append("none in the site file: find one with --gauge ADDRESS, keep it with --write")
    if site.io is None or watched.signals is None:
        return [*lines, "", "no [io] in the site file: no inputs, no contacts, advice only"]
    lines += ["", f"{'input':<18}", *_bit_lines(watched.signals.inputs, site.io.inputs,
                                                ("on", "off"), words)]  # fmt: skip
    lines += ["", "contact, as the module tells it (not what the wire does)"]
    return lines + _bit_lines(watched.signals.contacts, site.io.outputs, ("closed", "open"), words)


def raw_words(raw: bytes, kind: str) -> str:
    """What came: registers in hexadecimal, or a line of text."""
    if kind == "text":
        return repr(raw.decode("ascii", "backslashreplace"))
    return raw.hex(" ", 2).upper()


def _gauge_lines(gauge: WatchedGauge, row: GaugeSite, now_s: float, words: Words) -> list[str]:
    newest, rate_hz = gauge.newest, gauge.rate_hz(now_s)
    raw = raw_words(gauge.raw, row.kind)[:19]
    if newest is None:
        return [f"{gauge.name:<18}not asked yet"]
    age = f"{rate_hz:>10.1f}{max(0.0, now_s - newest.taken_s):>8.2f}"
    if isinstance(newest, Fault):
        head = f"{gauge.name:<18}{raw:<20}{'-':>12}{'-':>9}{age}"
        return [head, f"    {fault_words(newest, words)}"]
    lines = [f"{gauge.name:<18}{raw:<20}{newest.raw:>12.5g}{newest.vacuum_kpa:>9.2f}{age}"]
    if 0.0 < rate_hz < min(SLOW_HZ, row.rate_hz) - 0.5:
        lines.append(f"    slow: {rate_hz:.1f} a second; below {SLOW_HZ:g} the warning in the cut "
                     "comes late")  # fmt: skip
    return lines


def _bit_lines(
    sample: SignalSample | None, names: dict[str, int], said: tuple[str, str], words: Words
) -> list[str]:
    if not names:
        return ["none in the site file"]
    if sample is None:
        return ["not asked yet"]
    if isinstance(sample, Fault):
        return [f"    {fault_words(sample, words)}"]
    return [
        f"{name:<18}{said[0] if sample.values[name] else said[1]:<8}number {number}"
        for name, number in names.items()
    ]


# -- as data ---------------------------------------------------------------------------------


def data(watched: Watched, now_s: float) -> dict[str, Any]:
    """The same as plain data, for ``--json``; what is not known is null."""
    signals = watched.signals
    return {
        "site": watched.site.name,
        "gauges": [
            _gauge_data(gauge, row.kind, row.layout or None, now_s)
            for gauge, row in zip(watched.gauges, watched.site.gauges, strict=True)
        ],
        "inputs": None if signals is None else _bit_data(signals.inputs),
        "contacts": None if signals is None else _bit_data(signals.contacts),
    }


def all_good(watched: Watched) -> bool:
    """True when every device of the site answers."""
    samples: list[object] = [gauge.newest for gauge in watched.gauges]
    if watched.signals is not None:
        samples += [watched.signals.inputs, watched.signals.contacts]
    return bool(samples) and not any(s is None or isinstance(s, Fault) for s in samples)


def _fault_data(sample: object) -> dict[str, str] | None:
    if not isinstance(sample, Fault):
        return None
    return {"why": sample.why.value, "detail": sample.detail, "look_at": LOOK_AT[sample.why]}


def _gauge_data(gauge: WatchedGauge, kind: str, layout: str | None, now_s: float) -> dict[str, Any]:
    newest = gauge.newest
    good = newest if isinstance(newest, Reading) else None
    return {
        "name": gauge.name,
        "layout": layout,
        "raw": raw_words(gauge.raw, kind) if gauge.raw else None,
        "decoded": None if good is None else good.raw,
        "vacuum_kpa": None if good is None else good.vacuum_kpa,
        "rate_hz": gauge.rate_hz(now_s),
        "age_s": None if newest is None else max(0.0, now_s - newest.taken_s),
        "fault": _fault_data(newest),
    }


def _bit_data(sample: SignalSample | None) -> dict[str, Any]:
    values = dict(sample.values) if isinstance(sample, Signals) else {}
    return {"values": values, "fault": _fault_data(sample)}
