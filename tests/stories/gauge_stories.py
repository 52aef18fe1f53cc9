"""What a gauge and its wire can do: each in the cut, over Modbus TCP or a serial line."""

from __future__ import annotations

from functools import partial

from machine import Bench
from story import HELD, OPEN, Story

LOST = ("HOLD LOST",)
SERIAL: dict[str, object] = {"serial": True}


def good_again(bench: Bench) -> bool:
    """The gauge has a value and nothing speaks against it."""
    gauge = bench.shown.gauges[0]
    return gauge.vacuum_kpa is not None and gauge.health == ""


def no_value(bench: Bench) -> bool:
    """The flag says so, and the alarm of the cut."""
    return "NO DATA" in bench.shown.flags and bench.alarm("A03")


def cleared(name: str, bench: Bench, _: object) -> None:
    """The fault is mended."""
    bench.fault(name, on=False)


def no_answer(name: str, title: str, *, quick: bool = False, serial: bool = False) -> Story:
    """The gauge gives no valid value any more: a loss, and latched."""
    return Story(
        title, "cut", lambda bench: bench.fault(name), OPEN, LOST, no_value,
        partial(cleared, name), good_again, bench=SERIAL if serial else {}, quick=quick,
    )  # fmt: skip


def still_cutting(name: str, title: str, note: str, stays: float) -> Story:
    """The fault is not seen, or does no harm."""
    return Story(
        title, "cut", lambda bench: bench.fault(name), HELD, ("CUTTING",), stays=stays,
        end=partial(cleared, name), back=good_again, note=note,
    )  # fmt: skip


def drifts_up(bench: Bench) -> bool:
    return bench.shown.gauges[0].health != ""


STORIES = (
    no_answer("silent", "gauge silent"),
    no_answer("slow", "gauge answers too late, and each time after the next question"),
    no_answer("garbled", "gauge garbled"),
    no_answer("wrong_function", "gauge answers another question"),
    no_answer("wrong_unit", "answers come from another unit"),
    no_answer("wrong_transaction", "answers carry another transaction"),
    no_answer("short", "answers two bytes short"),
    no_answer("long", "answers two bytes long"),
    no_answer("exception", "gauge replies with an exception"),
    no_answer("dribble", "gauge dribbles its bytes"),
    no_answer("reset", "gauge breaks every connection off"),
    no_answer("closed", "gauge's wire pulled and put back"),
    no_answer("not_a_number", "gauge says that it has no number"),
    no_answer("over_range", "gauge says 250 kPa"),
    no_answer("silent", "serial: gauge silent", serial=True),
    no_answer("slow", "serial: gauge answers too late", serial=True),
    no_answer("garbled", "serial: gauge garbled", serial=True),
    no_answer("wrong_transaction", "serial: wrong CRC", serial=True, quick=True),
    no_answer("wrong_unit", "serial: answers come from another unit", serial=True),
    no_answer("exception", "serial: gauge replies with an exception", serial=True),
    no_answer("dribble", "serial: gauge dribbles its bytes", serial=True),
    no_answer("closed", "serial: adapter pulled and put back", serial=True),
    Story(
        "gauge drifts down, 1 kPa/s", "cut", lambda bench: bench.fault("drifts_down"), OPEN, LOST,
        end=partial(cleared, "drifts_down"), back=good_again, within_s=90.0,
        note="told from a leak by nothing: the hold counts as lost",
    ),
    Story(
        "gauge drifts up, 1 kPa/s", "cut", lambda bench: bench.fault("drifts_up"), OPEN, LOST,
        drifts_up, partial(cleared, "drifts_up"), good_again, within_s=60.0,
        note="seen when it says more than the air can give; before that only by a second gauge",
    ),
    still_cutting(
        "stuck", "gauge stuck, pump unknown to the guard", stays=40.0,
        note="not doubted without an input for the pump; a second gauge would show it",
    ),
)  # fmt: skip
