"""Questions that an option answers, or a person at a terminal.

Without a terminal every missing answer is told at once, with the option that gives it.
"""

from __future__ import annotations

import argparse
import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from kiosk.mistakes import BadInput, Mistake

TAKE_BACK = "x"


@dataclass(frozen=True, slots=True)
class Question:
    """One question.  ``key`` is the option's name with underscores.

    kind     choice | number | whole | numbers | text
    allowed  words of a choice; low, high: bounds of numbers, longest: of text
    """

    key: str
    words: str
    kind: str
    allowed: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    longest: int = 0
    default: float | str | None = None

    @property
    def option(self) -> str:
        return "--" + self.key.replace("_", "-")

    def add_to(self, parser: argparse.ArgumentParser) -> None:
        """As an option of a command."""
        kinds = {"number": float, "whole": int, "numbers": float}
        names = {"text": "TEXT", "choice": "WORD"}
        parser.add_argument(
            self.option,
            type=kinds.get(self.kind, str),
            nargs="+" if self.kind == "numbers" else None,
            metavar=names.get(self.kind, "N"),
            help=self.words + (f" ({', '.join(self.allowed)})" if self.allowed else ""),
        )

    def trouble(self, value: Any) -> str | None:
        """What is wrong with an answer, and what to give instead."""
        if self.kind == "choice":
            return None if value in self.allowed else f"give one of {', '.join(self.allowed)}"
        if self.kind == "text":
            good = isinstance(value, str) and value.strip() and value.isprintable()
            return None if good and len(str(value)) <= self.longest else (
                f"give plain text of at most {self.longest} characters"
            )  # fmt: skip
        numbers: list[float] = list(value) if isinstance(value, list) else [value]
        if all(math.isfinite(n) and self.low <= n <= self.high for n in numbers):
            return None
        return f"give a number from {self.low:g} to {self.high:g}"


class Asker:
    """Gets answers.  ``read`` asks a person for a line; None where there is no terminal."""

    def __init__(
        self,
        args: argparse.Namespace,
        read: Callable[[str], str] | None,
        say: Callable[[str], None] = print,
    ) -> None:
        self.args = args
        self.say = say
        self._read = read
        self._mistakes: list[Mistake] = []

    @property
    def talks(self) -> bool:
        """True when a person is there to answer."""
        return self._read is not None

    def line(self, words: str) -> str:
        """One line from the person.  Raises ``BadInput`` when the answers end."""
        assert self._read is not None
        try:
            return self._read(words).strip()
        except EOFError:
            words = "the answers ended: nothing was kept; begin again"
            raise BadInput([Mistake("measure", None, words)]) from None

    def wrong(self, option: str, words: str) -> None:
        """Note what is wrong with an option."""
        self._mistakes.append(Mistake(option, None, words))

    def settle(self) -> None:
        """Raise ``BadInput`` with all that was wrong or missing so far."""
        if self._mistakes:
            raise BadInput(self._mistakes)

    def ask(self, question: Question) -> object:
        """The answer; a stand-in after noting what is wrong with an option or missing."""
        value = getattr(self.args, question.key, None)
        if value is not None:
            trouble = question.trouble(value)
            if trouble is not None:
                self.wrong(question.option, f"{trouble}: {question.words}")
            return value if trouble is None else _stand_in(question)
        if self._read is not None:
            return self._from_person(question)
        if question.default is not None:
            return question.default
        self.wrong(question.option, f"is missing: {question.words}")
        return _stand_in(question)

    def _from_person(self, question: Question) -> object:
        prompt = _prompt(question)
        while True:
            text = self.line(prompt)
            if not text and question.default is not None:
                return question.default
            value = _parsed(question, text)
            trouble = "give a number" if value is None else question.trouble(value)
            if trouble is None:
                return value
            self.say(f"  {trouble}")

    # The same, with the type that a kind has.
    def number(self, question: Question, known: float | None = None) -> float:
        """``known`` when it is not None and no option says otherwise."""
        if known is not None and getattr(self.args, question.key) is None:
            return known
        value = self.ask(question)
        assert isinstance(value, int | float)
        return value

    def word(self, question: Question, known: str | None = None) -> str:
        """``known`` when it is not None and no option says otherwise."""
        if known is not None and getattr(self.args, question.key) is None:
            return known
        return str(self.ask(question))

    def yes(self, key: str, words: str) -> bool:
        """Yes by the flag, or by the person; no without either."""
        if getattr(self.args, key):
            return True
        return self.talks and self.line(f"{words} (y/n): ").lower() in ("y", "yes")

    def readings(
        self, question: Question, told: Callable[[float], str], wanted: Callable[[list[float]], int]
    ) -> list[float]:
        """Readings one by one, until ``wanted`` says that no more are; each told as it comes."""
        given = getattr(self.args, question.key, None)
        if given is not None or self._read is None:
            values = self.ask(question)
            return [float(n) for n in values] if isinstance(values, list) else []
        found: list[float] = []
        self.say(f"({TAKE_BACK} takes the last reading back)")
        while wanted(found) > 0:
            text = self.line(f"{question.words}, number {len(found) + 1}: ")
            if text == TAKE_BACK:
                found = found[:-1]
                continue
            value = _parsed_number(text)
            if value is None or question.trouble(value) is not None:
                self.say(f"  give a number from {question.low:g} to {question.high:g}")
                continue
            found.append(value)
            self.say(f"  {told(value)}")
        return found


def _prompt(question: Question) -> str:
    words = question.words
    if question.allowed:
        listed = textwrap.fill(", ".join(question.allowed), 76, initial_indent="  ",
                               subsequent_indent="  ")  # fmt: skip
        return f"{words}:\n{listed}\n> "
    if question.default is not None:
        words += f" [{question.default}]"
    return f"{words}: "


def _parsed_number(text: str) -> float | None:
    """A number with a point or a comma; None when it is none."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


def _parsed(question: Question, text: str) -> object:
    """What a person typed; None when it is no number and should be."""
    if question.kind == "text":
        return text
    if question.kind == "choice":
        return _completed(question.allowed, text)
    value = _parsed_number(text)
    if question.kind == "whole" and value is not None:
        return int(value) if value == int(value) else None
    return value


def _completed(allowed: Sequence[str], text: str) -> str:
    """A word of the list from its beginning, when only one begins so."""
    if text in allowed:
        return text
    begun = [word for word in allowed if text and word.startswith(text)]
    return begun[0] if len(begun) == 1 else text


def _stand_in(question: Question) -> object:
    """Something harmless that has the right type, so that asking can go on."""
    if question.kind == "choice":
        return question.allowed[0]
    if question.kind == "text":
        return "-"
    if question.kind == "numbers":
        return []
    return int(question.low) if question.kind == "whole" else question.low
