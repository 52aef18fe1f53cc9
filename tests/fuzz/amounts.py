"""How much is tried: a little in the quick suite, a great deal with ``-m long``."""

from __future__ import annotations

import pytest


def amounts(quick: float, long: float) -> list[object]:
    """Parameters for one test in both sizes."""
    return [pytest.param(quick, id="quick"), pytest.param(long, id="long", marks=pytest.mark.long)]
