"""Mutants that change nothing anyone can observe, each with the reason.

Key: module and the words of the change, as ``mutants.py`` prints them.
"""

from __future__ import annotations

EQUAL: dict[tuple[str, str], str] = {}
