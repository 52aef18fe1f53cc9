"""What the steps of this command are given: a clock, a pause, and a person at a terminal."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bench:
    """A clock and a terminal.

    clock  monotonic seconds
    pause  waits so many seconds
    say    prints one line or more
    ask    prints a question and gives the person's line, stripped; None when there are no more
    """

    clock: Callable[[], float]
    pause: Callable[[float], None]
    say: Callable[[str], None]
    ask: Callable[[str], str | None]


def ask_line(question: str) -> str | None:
    """A person's next line on the standard input; None at its end."""
    try:
        return input(f"{question} > ").strip()
    except EOFError:
        return None


def say_now(text: str) -> None:
    """Print, and let it be seen at once even through a pipe."""
    print(text, flush=True)
