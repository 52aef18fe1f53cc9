"""What the machine's signals, its output module and the machine itself can do."""

from __future__ import annotations

from functools import partial

from gauge_stories import SERIAL, good_again
from hands import SecondMaster
from machine import Bench
from story import HELD, OPEN, Story

CONTACT = "contacts_as_written"


def cleared(name: str, bench: Bench, _: object) -> None:
    """The fault is mended."""
    bench.fault(name, "io", on=False)


def signals_back(bench: Bench) -> bool:
    """Signals are known again and the contacts are what was written."""
    return not bench.unmet() & {"inputs_known", CONTACT}


def held(bench: Bench) -> bool:
    """The machine holds its feed because of the contact."""
    return bool(bench.status()["held_by_contact"])


def no_signals(name: str, title: str, *, serial: bool = False, quick: bool = False) -> Story:
    """Nothing is read and nothing is written: the module opens by itself, the machine holds."""
    return Story(
        title, "cut", lambda bench: bench.fault(name, "io"), OPEN, ("LOW HOLD", "HOLD LOST"),
        lambda bench: bench.alarm("A10") and held(bench),
        partial(cleared, name), signals_back, bench=SERIAL if serial else {}, quick=quick,
        note="the module opens its contacts when it is not written for 1 s",
    )  # fmt: skip


def slow_signals(name: str, title: str) -> Story:
    """No answer counts, but the module does what it was sent, now and then."""
    return Story(
        title, "cut", lambda bench: bench.fault(name, "io"), OPEN, ("LOW HOLD", "HOLD LOST"),
        lambda bench: bench.alarm("A10") and held(bench), partial(cleared, name), signals_back,
        flicker=True, timed=held,
        note="timed to the feed hold; some writes arrive: the contacts may close again",
    )  # fmt: skip


def restarted(bench: Bench) -> None:
    """Kill -9, and a new plant on the same ports: vacuum gone, module open."""
    bench.restart_all()


def masters(on: bool, bench: Bench) -> SecondMaster:
    """Another master begins to write both contacts."""
    return SecondMaster(bench.ready["io"], on)


def gone(_: Bench, master: object) -> None:
    """The other master goes away."""
    assert isinstance(master, SecondMaster)
    master.close()


STORIES = (
    no_signals("silent", "signals silent", quick=True),
    slow_signals("garbled", "signals garbled"),
    no_signals("exception", "signals reply with an exception"),
    slow_signals("wrong_unit", "signals come from another unit"),
    slow_signals("dribble", "signals dribble their bytes"),
    no_signals("reset", "signals break every connection off"),
    no_signals("closed", "wire of the signals pulled and put back"),
    no_signals("silent", "serial: signals silent", serial=True),
    no_signals("wrong_transaction", "serial: signals with a wrong CRC", serial=True),
    no_signals("closed", "serial: adapter of the signals pulled and put back", serial=True),
    Story(
        "signals lost before the start", "permit", lambda bench: bench.fault("silent", "io"), OPEN,
        ("CHECKING",), lambda bench: "inputs_known" in bench.unmet(),
        partial(cleared, "silent"), signals_back,
    ),
    Story(
        "wire of the input that a program runs is broken in the cut", "cut",
        lambda bench: bench.fault("running_lost"), HELD, ("PAUSED",), stays=5.0,
        end=lambda bench, _: bench.fault("running_lost", on=False), back=signals_back,
        note="reads as a pause: the hold is watched on, and the contacts open when the pause lasts",
    ),
    Story(
        "supply of all inputs fails in the cut", "cut",
        lambda bench: bench.fault("inputs_dead"), OPEN, ("CHECKING",),
        lambda bench: held(bench) and "stop_chain_closed" in bench.unmet(), stays=5.0,
        end=lambda bench, _: bench.fault("inputs_dead", on=False), back=signals_back,
    ),
    Story(
        "permit's contact stays closed", "permit",
        lambda bench: (bench.fault("permit_stuck"), bench.play.command("withdraw")),
        (True, False), ("CHECKING",), lambda bench: CONTACT in bench.unmet(),
        lambda bench, _: bench.fault("permit_stuck", on=False), signals_back,
        note="no output of the program can open a contact that is welded: the permit is withheld",
    ),
    Story(
        "contact reads back the opposite in the cut", "cut",
        lambda bench: bench.fault("feedback_wrong"), HELD, ("CUTTING",),
        lambda bench: bench.alarm("A12"),
        lambda bench, _: bench.fault("feedback_wrong", on=False), signals_back, stays=2.0,
    ),
    Story(
        "contact reads back the opposite before the start", "permit",
        lambda bench: bench.fault("feedback_wrong"), OPEN, ("CHECKING",),
        lambda bench: CONTACT in bench.unmet(),
        lambda bench, _: bench.fault("feedback_wrong", on=False), signals_back,
    ),
    Story(
        "hold contact does not open when it must", "cut",
        lambda bench: (bench.fault("hold_stuck"), bench.fault("silent")),
        (False, True), ("HOLD LOST",),
        lambda bench: bench.alarm("A03", "A12") and bench.alarm("A26"),
        lambda bench, _: (bench.fault("hold_stuck", on=False), bench.fault("silent", on=False)),
        signals_back,
        note="a welded contact: the pulse relay in series is for a dead guard, not for this",
    ),
    Story(
        "another master writes the contacts closed", "permit",
        lambda bench: (masters(True, bench), bench.play.command("withdraw"))[0],
        (True, True), ("CHECKING",), lambda bench: CONTACT in bench.unmet(), gone, signals_back,
        flicker=True,
        note="the guard opens them with each write, the other closes them; two masters on one "
        "module are a wiring fault: docs/wiring.md",
    ),
    Story(
        "another master writes the contacts open", "cut", partial(masters, False), OPEN,
        ("CUTTING", "LOW HOLD", "CHECKING", "PAUSED"),
        lambda bench: bench.alarm("A12") or CONTACT in bench.unmet(), gone, signals_back,
        flicker=True, timed=held,
        note="told; timed to the feed hold, and the pause ends by itself in a new check",
    ),
    Story(
        "machine restarted in the cut", "cut", restarted, OPEN,
        ("HOLD LOST", "CHECKING", "SET UP"),
        back=lambda bench: good_again(bench) and signals_back(bench),
        note="its program does not run any more, and the vacuum is gone: loss or new set-up",
    ),
    Story(
        "machine restarted before the start", "permit", restarted, OPEN, ("CHECKING", "SET UP"),
        back=lambda bench: good_again(bench) and signals_back(bench),
    ),
    slow_signals("slow", "signals answer too late"),
)  # fmt: skip
