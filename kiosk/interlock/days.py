"""Whole days between dates, from the wall clock's label of a step.

A clock that has lost its battery starts in the past: a date before this program was made is not
known, and what is not known keeps nothing in date.
"""

from __future__ import annotations

from datetime import date

MADE = date(2026, 1, 1)


def today(utc: str) -> date | None:
    """The date of an RFC 3339 label; None when it is none, or earlier than can be."""
    try:
        day = date.fromisoformat(utc[:10])
    except ValueError:
        return None
    return day if day >= MADE else None


def days_until(due: str | None, utc: str) -> int | None:
    """Days from a label's date to an ISO date; negative when it has passed; None: not known."""
    day = today(utc)
    if due is None or day is None:
        return None
    return (date.fromisoformat(due) - day).days
