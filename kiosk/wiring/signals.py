"""Which input and coil is which: shown live to a person, who types the numbers."""

from __future__ import annotations

from hardware.catalog import open_link
from hardware.modbus_link import Answer, Link, Request
from kiosk.interlock.reading import Fault
from kiosk.site import InputOutput
from kiosk.site.wiring import INPUTS, OUTPUTS
from kiosk.wiring.bench import Bench
from kiosk.wiring.source import BETWEEN_S, TRIES
from kiosk.wiring.trouble import fault_words
from kiosk.words import Words

_DISCRETE = 2  # Modbus V1.1b3, 6.2: read discrete inputs
COUNT = 16


def name_signals(address: str, bench: Bench, words: Words) -> InputOutput | None:
    """What a person says of the module at an address; None when it cannot be read.

    Inputs are shown before each question, with those that changed since the one before.  Coils are
    not read and not written here.  Raises ``BadInput`` when the address cannot be used.
    """
    link = open_link("--io", address, bench.clock)
    try:
        inputs = _inputs(link, bench, words)
    finally:
        link.close()
    if inputs is None:
        return None
    bench.say("Coils, zero based, from the module's manual. Try them afterwards with --contacts.")
    return InputOutput(address, inputs, _numbers(OUTPUTS, "coil", bench))


def _inputs(link: Link, bench: Bench, words: Words) -> dict[str, int] | None:
    bench.say("Make each signal true in turn, if the machine's maker allows; Enter looks again.")
    found: dict[str, int] = {}
    now = _bits(link, bench)
    for name in INPUTS:
        if isinstance(now, Fault):
            break
        bench.say(_shown(now, None))
        now = _ask_input(name, now, link, bench, found)
    if isinstance(now, Fault):
        bench.say(fault_words(now, words))
        return None
    return found


def _ask_input(
    name: str, now: tuple[bool, ...], link: Link, bench: Bench, found: dict[str, int]
) -> tuple[bool, ...] | Fault:
    """Ask for the number of one input, which goes into ``found``; the newest bits or a fault."""
    while (typed := bench.ask(f'Number of {name}, or "none"')) not in (None, "none"):
        number = _judged(typed or "", found) if typed else ""
        if isinstance(number, int):
            found[name] = number
            break
        before, newest = now, _bits(link, bench)
        if isinstance(newest, Fault):
            return newest
        now = newest
        bench.say(number or _shown(now, before))
    return now


def _numbers(names: tuple[str, ...], what: str, bench: Bench) -> dict[str, int]:
    found: dict[str, int] = {}
    for name in names:
        while (typed := bench.ask(f'Number of the {what} of {name}, or "none"')) not in (
            None,
            "none",
        ):
            number = _judged(typed or "", found)
            if isinstance(number, int):
                found[name] = number
                break
            bench.say(number)
    return found


def _judged(typed: str, taken: dict[str, int]) -> int | str:
    """A free number, or what is wrong with it."""
    if not (typed.isascii() and typed.isdigit() and int(typed) <= 65535):
        return 'Type a whole number from 0 to 65535, or "none".'
    other = next((name for name, number in taken.items() if number == int(typed)), None)
    return f"{other} has that number: type another." if other is not None else int(typed)


def _bits(link: Link, bench: Bench) -> tuple[bool, ...] | Fault:
    """As many of the first inputs as the module gives."""
    answer: Answer | Fault = link.ask(Request(_DISCRETE, 0, COUNT))
    for count in (COUNT, COUNT // 2, 6, 4, 2, 1) if isinstance(answer, Fault) else ():
        for _ in range(TRIES):
            answer = link.ask(Request(_DISCRETE, 0, count))
            if isinstance(answer, Answer):
                return answer.bits
            if answer.why.value == "refused":
                break
            bench.pause(BETWEEN_S)
        if isinstance(answer, Fault) and answer.why.value != "refused":
            break
    return answer if isinstance(answer, Fault) else answer.bits


def _shown(now: tuple[bool, ...], before: tuple[bool, ...] | None) -> str:
    on = [str(at) for at, bit in enumerate(now) if bit]
    line = f"inputs 0 to {len(now) - 1}: on {', '.join(on) or 'none'}"
    if before is None or len(before) != len(now):
        return line
    changed = [str(at) for at, bit in enumerate(now) if bit != before[at]]
    return f"{line}; changed: {', '.join(changed) or 'none'}"
