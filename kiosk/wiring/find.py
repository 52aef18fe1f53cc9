"""Finding the layout of a gauge with a person who reads a dial.  The person chooses, always."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from kiosk.interlock.reading import Fault, Why
from kiosk.site import Layout, TextForm
from kiosk.units import KPA_PER, to_kpa
from kiosk.wiring import fit, shown
from kiosk.wiring.bench import Bench
from kiosk.wiring.fit import APART_KPA, Candidate, Dial, Seen
from kiosk.wiring.source import Source
from kiosk.wiring.trouble import fault_words
from kiosk.words import Words

SHOWN = 12  # of a list of candidates
_ALIKE_KPA = 0.05  # forms that never differ by more are one
_TYPED = re.compile(r"([+-]?\d{1,5}(?:[.,]\d{1,4})?)\s*([A-Za-z]*)")


def dial_kpa(typed: str) -> float | None:
    """The vacuum that a person typed, as ``60``, ``-60 kPa`` or ``17.7 inHg``; None if it is none.

    A minus means below the air, as many dials write it; a bare number is in kPa.
    """
    match = _TYPED.fullmatch(typed)
    units = {unit.lower(): unit for unit in KPA_PER}
    unit = units.get((match[2] or "kPa").lower()) if match else None
    if match is None or unit is None:
        return None
    return to_kpa(abs(float(match[1].replace(",", "."))), unit)


def tried_for(
    layouts: Iterable[Layout], seen: Seen, form: TextForm | None
) -> tuple[Candidate, ...]:
    """The candidates for what a device gave.  ``form``: of lines of text, None for registers."""
    if form is None:
        return fit.candidates(layouts, seen)
    return fit.text_candidates(layouts, form)


def no_answer(source: Source, fault: Fault, words: Words) -> str:
    """What is told of a device that gave nothing."""
    told = fault_words(fault, words)
    if source.form is None or source.form.request is not None or fault.why is not Why.SILENT:
        return told
    return f"{told}\nA gauge that must be asked first: add --request TEXT --request-end '\\r'."


def first_look(seen: Seen, tried: Sequence[Candidate], air_kpa: float) -> list[str]:
    """What came and what every ready layout makes of it."""
    read = [c for c in tried if fit.line_number(c.layout, seen) is not None]
    ready = [c for c in tried if c.ready] if seen.line is None else read
    elsewhere = [c for c in tried if not (c.ready or c.text)]
    likely = sum(fit.plausible(fit.vacuum_of(c, seen, air_kpa), air_kpa) for c in elsewhere)
    lines = [*shown.register_lines(seen), "", shown.HEAD.rstrip()]
    lines += [shown.candidate_line(c, seen, air_kpa) for c in ready]
    if elsewhere:
        lines.append(f"The same forms at other registers: {len(elsewhere)}, of them {likely} "
                     "likely at this moment.")  # fmt: skip
    if seen.line is not None and not read:
        lines.append("No number was found on the line. Show where it stands with --pattern, as in "
                     "--pattern 'P= # kPa'.")  # fmt: skip
    lines.append(f"likely: between 0 and the air, taken as {air_kpa:.1f} kPa. That proves nothing.")
    return lines


@dataclass(slots=True)
class Search:
    """One search: the device, the person, and what was read so far."""

    source: Source
    layouts: Sequence[Layout]
    air_kpa: float
    tolerance_kpa: float
    bench: Bench
    words: Words
    dials: list[Dial] = field(default_factory=list)

    def run(self) -> Candidate | None:
        """The layout that the person chose; None when it was not found."""
        seen = self._read()
        if seen is None:
            return None
        tried = tried_for(self.layouts, seen, self.source.form)
        for line in first_look(seen, tried, self.air_kpa):
            self.bench.say(line)
        self.bench.say(
            "\nRead a dial on the same pipe: kPa below the air, or with its unit as in 17.7 inHg. "
            "Enter ends."
        )
        while self._take_reading():
            chosen = self._judge(tried)
            if chosen is not None:
                return chosen
        self.bench.say("Nothing was chosen.")
        return None

    def _read(self) -> Seen | None:
        seen = self.source.read()
        if isinstance(seen, Fault):
            self.bench.say(no_answer(self.source, seen, self.words))
            return None
        return seen

    def _take_reading(self) -> bool:
        """One more reading; False when the person wants no more."""
        while typed := self.bench.ask(self._question()):
            vacuum_kpa = dial_kpa(typed)
            if vacuum_kpa is None or vacuum_kpa > 110.0:
                self.bench.say("Type a vacuum from 0 to the air, such as 60 or 17.7 inHg.")
                continue
            seen = self._read()
            if seen is not None:
                self.dials.append(Dial(seen, vacuum_kpa))
                return True
        return False

    def _question(self) -> str:
        if not self.dials:
            return "What does the dial show now?"
        if not fit.told(self.dials):
            return (f"Change the vacuum by {APART_KPA:g} kPa or more, wait until the dial stands "
                    "still. What does it show?")  # fmt: skip
        return "One more reading? What does the dial show?"

    def _judge(self, tried: Sequence[Candidate]) -> Candidate | None:
        stay = fit.fitting(tried, self.dials, self.air_kpa, self.tolerance_kpa)
        groups = alike(stay, self.air_kpa)
        self.bench.say(
            f"{len(groups)} of {len(tried)} agree within {self.tolerance_kpa:g} kPa with the "
            f"{len(self.dials)} taken so far."
        )
        if any(c.layout.reference == "absolute" for c in stay):
            within_kpa = self.tolerance_kpa + fit.WEATHER_KPA
            self.bench.say(
                f"Absolute ones within {within_kpa:g} kPa, since the weather moves the air."
            )
        if not groups:
            self._tell_none(tried)
            return None
        if not fit.told(self.dials):
            self.bench.say("Readings so near to each other prove nothing yet.")
            return None
        self._list(groups)
        for line in advice([group[0] for group in groups], self.air_kpa, self.tolerance_kpa):
            self.bench.say(line)
        return self._choice(groups)

    def _tell_none(self, tried: Sequence[Candidate]) -> None:
        self.bench.say(
            "No ready layout agrees. Read the dial again from the start, or look in the maker's "
            "list of registers: --first N --count N read another block, and a [[layout]] row in a "
            "site file given by --site is tried as well."
        )
        newest = self.dials[-1]
        near = sorted(
            (abs(vacuum_kpa - newest.vacuum_kpa), c.layout.name, vacuum_kpa)
            for c in tried
            if (vacuum_kpa := fit.vacuum_of(c, newest.seen, self.air_kpa)) is not None
        )
        for _, name, vacuum_kpa in near[:3]:
            self.bench.say(f"  near the newest reading: {name} says {vacuum_kpa:.2f} kPa")
        self.dials.clear()

    def _list(self, groups: Sequence[Sequence[Candidate]]) -> None:
        seen = self.dials[-1].seen
        self.bench.say(f"     {shown.HEAD.rstrip()}")
        for number, group in enumerate(groups[:SHOWN], 1):
            self.bench.say(f"{number:>3}  {shown.candidate_line(group[0], seen, self.air_kpa)}")
            if len(group) > 1:
                same = ", ".join(c.layout.name for c in group[1:])
                self.bench.say(f"     never told apart from it: {same}")
        if len(groups) > SHOWN:
            self.bench.say(f"     and {len(groups) - SHOWN} more: take another reading")

    def _choice(self, groups: Sequence[Sequence[Candidate]]) -> Candidate | None:
        """What the person chose by its number; None for another reading."""
        most = min(len(groups), SHOWN)
        numbers = "1" if most == 1 else f"1 to {most}"
        while typed := self.bench.ask(f"Type {numbers} to choose it, Enter for another reading"):
            if typed.isascii() and typed.isdigit() and 1 <= int(typed) <= most:
                return groups[int(typed) - 1][0]
            self.bench.say(f"Type {numbers}, or nothing.")
        return None


def alike(stay: Sequence[Candidate], air_kpa: float) -> list[list[Candidate]]:
    """Candidates in groups of those that no vacuum can tell apart; ready ones first."""
    groups: list[list[Candidate]] = []
    for candidate in sorted(stay, key=lambda c: not c.ready):
        home = next(
            (g for g in groups if fit.same_everywhere(g[0], candidate, air_kpa, _ALIKE_KPA)), None
        )
        if home is None:
            groups.append([candidate])
        else:
            home.append(candidate)
    return groups


def advice(stay: Sequence[Candidate], air_kpa: float, tolerance_kpa: float) -> list[str]:
    """What would tell those apart that are left."""
    if len(stay) < 2:
        return ["One is left. Compare it with the maker's list of registers before you choose it."]
    lines = ["Several agree. What tells them apart:"]
    first = stay[0]
    for number, other in enumerate(stay[1:SHOWN], 2):
        apart = fit.best_reading(first, other, air_kpa)
        if not first.text and first.place != other.place:
            continue
        if apart is not None and apart[1] > 2.0 * tolerance_kpa:
            lines.append(f"  1 and {number}: a reading near {apart[0]:.0f} kPa; there they are "
                         f"{apart[1]:.0f} kPa apart.")  # fmt: skip
        elif apart is not None:
            lines.append(f"  1 and {number}: no dial; they differ by {apart[1]:.1f} kPa at most. "
                         "The maker's list says which.")  # fmt: skip
    if any(not c.text and c.place != first.place for c in stay[1:]):
        lines.append(
            "  different registers (r): a reading half way between those taken. If they still "
            "agree, each carries the vacuum: take the one that the maker's list names."
        )
    if any(_share_a_register(one, other) for one, other in itertools.combinations(stay, 2)):
        lines.append(
            "  registers that overlap: one of them takes half of its number from its neighbour's. "
            "No dial is fine enough; the maker's list says which register comes first."
        )
    return lines


def _share_a_register(one: Candidate, other: Candidate) -> bool:
    """True when two candidates overlap without being at the same place."""
    if one.text or one.place == other.place or one.place[0] != other.place[0]:
        return False
    return max(one.place[1], other.place[1]) < min(sum(one.place[1:]), sum(other.place[1:]))
