"""A list to pick one from: causes of a reset, reasons of a bypass or a shelf."""

from __future__ import annotations

from collections.abc import Iterable

from kiosk.screen.show.shown import Button, Row
from kiosk.words import Words


def rows(words: Words, family: str, codes: Iterable[str], picked: str) -> tuple[Row, ...]:
    """A touch place for each code of a family of words; the picked one is marked."""
    return tuple(
        Row(
            words.say(f"{family}.{code}"),
            "picked" if code == picked else "",
            button=Button(words.say(f"{family}.{code}"), opens=f"cause:{code}"),
        )
        for code in codes
    )
