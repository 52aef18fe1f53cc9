"""Tries each contact once, at a person's typed word, and always leaves it open.

A contact is energised for ``LONGEST_HOLD_S`` at most and written off by ``finally``, whatever ends
the step.  What this cannot reach (a killed program, a cut line) is the module's own watch to do.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from hardware.catalog import open_io
from hardware.machine_io import MachineIO
from kiosk.interlock.reading import Fault, Signals, SignalSample
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import Site
from kiosk.wiring.bench import Bench
from kiosk.wiring.trial import Trial
from kiosk.wiring.trouble import fault_words
from kiosk.words import Words

USUAL_HOLD_S, LONGEST_HOLD_S = (
    4.0,
    5.0,
)  # long enough to look at a lamp, short enough to stand beside
EDGE_S = 0.25  # ALIVE changes so often when steps complete: docs/wiring.md, contacts
WATCH_S = 1.5  # a module's watch of 1.0 s has opened its outputs by then
LISTEN_S = 1.3  # somebody else's ALIVE has changed twice by then
OPEN_TRIES, ASK_TRIES = 10, 4
FIRST = (
    "Before any contact is tried:",
    "  - the machine is in a state that its maker allows for this: follow the maker's manual",
    "  - nobody is at the machine's moving parts, and nobody will press cycle start",
    "  - the spindle is off, and the maker's start and feed hold inputs are disconnected from the",
    "    contacts, or the machine cannot run: a meter or a lamp on the contact shows what it does",
    "  - whoever works in the cabinet is qualified for it; local codes come first",
    "Each contact is closed for a few seconds only, after you typed its name, and then opened.",
)
WATCH_WORD = "watch"
_PULSED = ("start_permit", "hold_healthy")  # behind the pulse relay, which needs ALIVE to change
# what ends a command; there is no SIGHUP on every platform
_ENDING = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
_ORDER = ("alive", "beacon", "start_permit", "hold_healthy")


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """SIGTERM and SIGHUP end the block as Ctrl-C does, so that ``finally`` is reached."""

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = [signal.signal(number, interrupt) for number in _ENDING]
    try:
        yield
    finally:
        for number, handler in zip(_ENDING, before, strict=True):
            signal.signal(number, handler)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """No signal interrupts the block: it opens contacts, and takes at most a few seconds."""
    before = [signal.signal(number, signal.SIG_IGN) for number in _ENDING]
    try:
        yield
    finally:
        for number, handler in zip(_ENDING, before, strict=True):
            signal.signal(number, handler)


@dataclass(slots=True)
class Contacts:
    """The trials of one machine's contacts."""

    site: Site
    io: MachineIO
    bench: Bench
    words: Words
    hold_s: float = USUAL_HOLD_S
    trials: list[Trial] = field(default_factory=list)

    def run(self) -> bool:
        """Every contact of the site in turn; True when all that were tried did as they should."""
        for line in FIRST:
            self.bench.say(line)
        if self.bench.ask('All of that is so? Type "ready"') != "ready":
            self.bench.say("Nothing was written.")
            return False
        why = self._objection() or self._stranger()
        if why is not None:
            self.bench.say(f"{why} Nothing was written.")
            return False
        try:
            self._each()
        finally:
            self._open(self.trials[-1] if self.trials else Trial("contacts"))
            for trial in self.trials:
                self.bench.say(trial.line)
        return bool(self.trials) and all(trial.good for trial in self.trials)

    def _each(self) -> None:
        outputs = self._outputs()
        for name in [n for n in _ORDER if n in outputs]:
            self.bench.say("")
            self.bench.say(self._beforehand(name))
            typed = self.bench.ask(
                f'Type "{name}" to close it for {self.hold_s:g} s, Enter to pass over'
            )
            if typed is None:
                return
            if typed == name:
                self._try(name)
            else:
                self.bench.say(f"{name} was passed over.")
        self._try_watch()

    def _outputs(self) -> dict[str, int]:
        return {} if self.site.io is None else self.site.io.outputs

    def _beforehand(self, name: str) -> str:
        number = self._outputs()[name]
        if name == "alive":
            return f"coil {number}, alive: pulses twice a second; the pulse relay closes by it."
        if name in _PULSED and "alive" in self._outputs():
            return (f"coil {number}, {name}: closes while alive pulses too, for the pulse relay in "
                    "series with it.")  # fmt: skip
        return f"coil {number}, {name}: closes."

    # -- may it be done ---------------------------------------------------------------------

    def _objection(self) -> str | None:
        """Why no contact may be closed now."""
        for _ in range(ASK_TRIES):  # a connection takes a moment
            inputs, told = self.io.read_inputs(), self.io.read_contacts()
            if isinstance(inputs, Signals) and isinstance(told, Signals):
                break
            self.bench.pause(EDGE_S)
        for sample in (inputs, told):
            if isinstance(sample, Fault):
                return fault_words(sample, self.words)
        return _moving(inputs)

    def _stranger(self) -> str | None:
        """Why somebody else may own the contacts: one is closed, or changes."""
        ends_s = self.bench.clock() + LISTEN_S
        while self.bench.clock() < ends_s:
            told = self.io.read_contacts()
            if isinstance(told, Signals) and (closed := [n for n, on in told.values.items() if on]):
                return (f"{closed[0]} is closed already: something else writes to this module. "
                        "Stop it first: each device has one owner.")  # fmt: skip
            self.bench.pause(EDGE_S / 2.0)
        return None

    # -- doing it ---------------------------------------------------------------------------

    def _try(self, name: str) -> None:
        trial = Trial(name)
        self.trials.append(trial)
        why = self._objection()
        if why is not None:
            trial.trouble = "not closed"
            self.bench.say(why)
            return
        self.bench.say(f"{name} CLOSED for {self.hold_s:g} s: look at the meter or lamp")
        try:
            self._hold(trial)
        finally:
            self._open(trial)
        self.bench.say(f"module says: {'closed' if trial.told_closed else 'DID NOT CLOSE'}, then "
                       f"{'opened' if trial.told_open else 'NOT TOLD OPEN'}")  # fmt: skip
        trial.seen = self._what_was_seen("Did the meter or lamp show it closed, then open?")

    def _hold(self, trial: Trial) -> None:
        ends_s, alive = self.bench.clock() + self.hold_s, False
        while self.bench.clock() < ends_s and not trial.trouble:
            alive = not alive
            closed = {trial.name: True}
            if trial.name == "alive" or (trial.name in _PULSED and "alive" in self._outputs()):
                closed["alive"] = alive
            self._write(trial, closed)
            self.bench.pause(EDGE_S)

    def _write(self, trial: Trial, closed: dict[str, bool]) -> None:
        """Write, read back, and look whether the machine began to run."""
        fault = self.io.write(closed)
        inputs = self.io.read_inputs() if fault is None else fault
        told = self.io.read_contacts() if fault is None else fault
        for sample in (inputs, told):
            if isinstance(sample, Fault):
                trial.trouble = fault_words(sample, self.words)
                return
        if isinstance(told, Signals):
            trial.told_closed |= told.values.get(trial.name, False)
        if moving := _moving(inputs):
            trial.trouble = f"opened at once: {moving}"

    def _open(self, trial: Trial) -> None:
        """Write every contact off until the module tells all of them open, a few seconds long."""
        with _undisturbed():
            for _ in range(OPEN_TRIES):
                if self._told_open():
                    trial.told_open = True
                    return
                self.bench.pause(EDGE_S)
        trial.told_open = False
        self.bench.say(
            "THE MODULE DOES NOT TELL ITS CONTACTS OPEN. Look at its lamps. Its own watch must "
            "have opened them after 1.0 s; if not, switch its supply off and mend that first."
        )

    def _told_open(self) -> bool:
        fault = self.io.write({})
        told = fault if fault is not None else self.io.read_contacts()
        return isinstance(told, Signals) and not any(told.values.values())

    # -- the module's own watch -------------------------------------------------------------

    def _try_watch(self) -> None:
        """Close a contact, say nothing for a while, and see whether the module opens it."""
        name = next((n for n in _ORDER if n in self._outputs() and n not in _PULSED), None)
        if name is None:
            return
        self.bench.say(f"\nThe module's own watch: {name} is closed, then nothing is said to the "
                       f"module for {WATCH_S:g} s. It must open by itself.")  # fmt: skip
        if self.bench.ask(f'Type "{WATCH_WORD}" to try it, Enter to pass over') != WATCH_WORD:
            return
        trial = Trial(f"module's watch ({name})")
        self.trials.append(trial)
        try:
            opened = self._watch_opens(trial, name)
        finally:
            self._open(trial)
        if not opened and not trial.trouble:
            trial.trouble = "it stayed closed: set the module's communication watch to 1.0 s"
        trial.seen = "yes" if opened else "no"
        self.bench.say("It opened by itself." if opened else f"Not right: {trial.trouble}.")

    def _watch_opens(self, trial: Trial, name: str) -> bool:
        why = self._objection()
        if why is not None:
            trial.trouble = why
            return False
        fault = self.io.write({name: True})
        told = fault if fault is not None else self.io.read_contacts()
        if isinstance(told, Fault):
            trial.trouble = fault_words(told, self.words)
            return False
        trial.told_closed = told.values.get(name, False)
        self.bench.pause(WATCH_S)
        told = self.io.read_contacts()
        return trial.told_closed and isinstance(told, Signals) and not told.values.get(name, True)

    def _what_was_seen(self, question: str) -> str:
        while (typed := self.bench.ask(f"{question} Type yes, or no and what you saw")) is not None:
            if typed == "yes" or typed.startswith("no"):
                return typed
        return ""


def _moving(inputs: SignalSample) -> str | None:
    """Why the machine is not at rest, as far as its inputs are wired; None when nothing says so."""
    values = inputs.values if isinstance(inputs, Signals) else {}
    if values.get("cycle_running"):
        return "the machine runs a program. End it first."
    if values.get("standstill") is False:
        return "the machine's axes or its spindle are not at rest. Wait for standstill."
    return None


def try_contacts(site: Site, bench: Bench, words: Words, hold_s: float) -> bool:
    """Every contact of a site in turn.

    Returns True when all did as they should.  Raises ``BadInput`` when the site has none.
    """
    if site.io is None or not site.io.outputs:
        where = str(site.file)
        raise BadInput([Mistake(where, None, "no contacts: add [io] and [io.outputs]")])
    io = open_io(site.io, bench.clock)
    try:
        with ended_by_signals():
            return Contacts(site, io, bench, words, hold_s).run()
    finally:
        io.close()
