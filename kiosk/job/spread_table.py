"""``check --spread``: how sure the minimum is, as a table for a person and as one JSON object."""

from __future__ import annotations

from typing import Any

from kiosk.job.spread import Moved, Spread

_DIGITS = 6
_HEAD = "number                          low    typ   high  unit   at low at high  grade"


def spread_as_text(spread: Spread) -> str:
    """Minima, the product of the cautions, and what moves the minimum most first."""
    caution = spread.caution
    lines = [
        "The minimum at the cups before the site's floor, kPa:",
        _minimum("decides: the cautious end of each number", spread.decided_kpa),
        _minimum("all numbers at their better end", spread.better_kpa),
        _minimum("all numbers typical", spread.typical_kpa),
        _minimum("all numbers at their worse end, which is not asked for", spread.worse_kpa),
        _minimum("all numbers typical, and no factor of safety", spread.bare_kpa),
        "",
        f"Caution: cutting force {caution.force:.2f} x friction {caution.friction:.2f} x factor of "
        f"safety {caution.safety:g} = {caution.product:.1f}",
        "",
        "One number at its ends, the others typical; the minimum, kPa:",
        _HEAD,
        *(_row(row) for row in spread.moved),
    ]
    weakest = spread.weakest
    if weakest is not None:
        lines += ["", f"Weakest number that moves it: {weakest.name} ({weakest.grade})"]
    return "\n".join(lines)


def _minimum(words: str, kpa: float | None) -> str:
    return f"  {words:<58}{_kpa(kpa)}"


def _kpa(kpa: float | None) -> str:
    return f"{'none':>8}" if kpa is None else f"{kpa:8.1f}"


def _row(row: Moved) -> str:
    numbers = "".join(f"{value:7.4g}" for value in (row.low, row.typical, row.high))
    ends = f"{_kpa(row.at_low_kpa)}{_kpa(row.at_high_kpa)}"
    return f"{row.name:<30}{numbers} {row.unit:<6}{ends}{row.grade:>6}"


def spread_as_json(spread: Spread) -> dict[str, Any]:
    """The object that ``--spread --json`` prints; minima that do not exist are None."""
    caution, weakest = spread.caution, spread.weakest
    return {
        "format": 1,
        "decided_kpa": _number(spread.decided_kpa),
        "better_kpa": _number(spread.better_kpa),
        "typical_kpa": _number(spread.typical_kpa),
        "worse_kpa": _number(spread.worse_kpa),
        "bare_kpa": _number(spread.bare_kpa),
        "caution": {
            "force": _number(caution.force),
            "friction": _number(caution.friction),
            "safety": _number(caution.safety),
            "product": _number(caution.product),
        },
        "moved": [
            {
                "name": row.name,
                "low": _number(row.low),
                "typical": _number(row.typical),
                "high": _number(row.high),
                "unit": row.unit,
                "grade": row.grade,
                "source": row.source,
                "at_low_kpa": _number(row.at_low_kpa),
                "at_high_kpa": _number(row.at_high_kpa),
            }
            for row in spread.moved
        ],
        "weakest": None if weakest is None else weakest.name,
    }


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS)
