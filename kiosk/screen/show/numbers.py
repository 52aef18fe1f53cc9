"""Numbers as words.  A measured value is rounded down and a level to reach up, so that the digits
never claim that a level is reached before it is.
"""

from __future__ import annotations

import math

from kiosk.units import whole_percent
from kiosk.words import Words

NBSP = "\u00a0"
_TINY = 1e-6  # a level of exactly 61.0 stays 61 whatever the last bit says


def tied(text: str) -> str:
    """Number and unit kept on one line."""
    return text.replace(" ", NBSP)


def percent(words: Words, ratio: float | None) -> str:
    """R in whole per cent without the sign, never below 0; two dashes when unknown.

    At rest the gauge's own error takes R below nothing, which would mean nothing to a person.
    """
    if ratio is None:
        return tied(words.say("number.none"))
    return words.say("number.percent", value=whole_percent(ratio))


def measured(words: Words, vacuum_kpa: float | None) -> str:
    """A gauge value in whole kPa, rounded down."""
    if vacuum_kpa is None:
        return tied(words.say("number.kpa", value=words.say("number.none")))
    return tied(words.say("number.kpa", value=max(0, math.floor(vacuum_kpa + _TINY))))


def level(words: Words, vacuum_kpa: float | None) -> str:
    """A level to reach in whole kPa, rounded up."""
    if vacuum_kpa is None:
        return tied(words.say("number.kpa", value=words.say("number.none")))
    return tied(words.say("number.kpa", value=math.ceil(vacuum_kpa - _TINY)))


def about(words: Words, vacuum_kpa: float | None) -> str:
    """A forecast in whole kPa, to the nearest."""
    if vacuum_kpa is None:
        return tied(words.say("number.kpa", value=words.say("number.none")))
    return tied(words.say("number.kpa", value=round(vacuum_kpa)))


def duration(words: Words, seconds: float) -> str:
    """Time left in s below two minutes, else in whole minutes; rounded down."""
    if seconds < 120.0:
        return tied(words.say("number.seconds", value=max(0, math.floor(seconds))))
    return tied(words.say("number.minutes", value=math.floor(seconds / 60.0)))


def plain(value: float | None) -> str:
    """A number with at most three figures after what matters; empty when unknown."""
    if value is None:
        return ""
    places = 0 if abs(value) >= 20.0 or value == int(value) else 1 if abs(value) >= 2.0 else 2
    said = f"{value:.{places}f}"
    said = said.rstrip("0").rstrip(".") if "." in said else said
    return "0" if said == "-0" else said


def judged(words: Words, key: str, value: float | None, limit: float | None, unit: str) -> str:
    """The number something was judged by, with its limit; a ratio or share in per cent.

    ``key`` has the words without a limit, ``key`` + ``_limit`` those with one.
    """
    if value is None:
        return ""
    value, limit, unit = _in_percent(words, value, limit, unit)
    said = {"value": plain(value), "limit": plain(limit), "unit": unit}
    return words.say(key if limit is None else f"{key}_limit", **said)


def compared(words: Words, key: str, value: float | None, limit: float | None, unit: str) -> str:
    """The same, where the words of ``key`` have value and limit each with its unit."""
    if value is None:
        return ""
    value, limit, unit = _in_percent(words, value, limit, unit)
    with_unit, limit_with_unit = (tied(f"{plain(one)} {unit}") for one in (value, limit))
    return words.say(key, number=plain(value), value=with_unit, limit=limit_with_unit)


def _in_percent(
    words: Words, value: float, limit: float | None, unit: str
) -> tuple[float, float | None, str]:
    """A ratio or share in per cent, rounded down and never below 0; anything else as it is."""
    if unit not in ("ratio", "share"):
        return value, limit, unit
    percent = None if limit is None else limit * 100.0
    return whole_percent(value), percent, words.say("number.percent_sign")


def spoken(words: Words, names: list[str]) -> str:
    """Seat numbers as a person says them: "3 to 9", "1 and 10", "1, 3 to 5 and 9"."""
    parts = _runs(words, names)
    if not parts:
        return ""
    if len(parts) == 1:
        return parts[0]
    return words.say("setup.and", first=", ".join(parts[:-1]), last=parts[-1])


def _runs(words: Words, names: list[str]) -> list[str]:
    """Three or more numbers in a row become "first to last"."""
    parts: list[str] = []
    run: list[str] = []
    for name in [*names, ""]:
        if run and name.isdigit() and run[-1].isdigit() and int(name) == int(run[-1]) + 1:
            run.append(name)
            continue
        if len(run) >= 3:
            parts.append(tied(words.say("setup.to", first=run[0], last=run[-1])))
        else:
            parts.extend(run)
        run = [name]
    return parts
