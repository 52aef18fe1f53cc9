"""Mutants that change nothing anyone can observe, each with the reason.

Key: module and the words of the change, as ``mutants.py`` prints them.
"""

from __future__ import annotations

EQUAL: dict[tuple[str, str], str] = {
    ("timer", "passed_s >= limit_s - TINY_S  ->  passed_s > limit_s - TINY_S"): (
        "equal: the edge stays within the microsecond that is forgiven"
    ),
}
