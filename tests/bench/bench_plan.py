"""How fast a job is answered again when one cup is turned, against a full check of it.

Run: ``python tests/bench/bench_plan.py``.  The demonstration jobs; every cup is turned down once
and the slowest counts, against the quickest of three full checks in the same run.  Processor
time, one core.  Exit 1 when a full check does not take at least ``LEAST_TIMES`` as long.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked, resolve
from kiosk.site import load_site

ROOT = Path(__file__).parents[2]
JOBS = ("shelf-rail", "cover-panel", "bracket-pair")
LEAST_TIMES = 3.0
WANTED_MS = 100.0


def taken_ms(work: Callable[[], object]) -> float:
    """Processor time of one run."""
    begun_s = time.process_time()
    work()
    return (time.process_time() - begun_s) * 1e3


def slowest_turn_ms(worked: Worked) -> float:
    """Of all cups, the one that takes longest to be turned down."""
    up = worked.setup.seating.up
    return max(taken_ms(partial(resolve, worked, up - {seat})) for seat in up)


def main() -> int:
    """Measure, print, judge the ratio."""
    site, ratios = load_site(ROOT / "hardware" / "site" / "demo.site.toml"), []
    for name in JOBS:
        path = ROOT / "assets" / "jobs" / f"{name}.job.toml"
        full_ms = min(taken_ms(partial(work_out, path, site)) for _ in range(3))
        _, worked = work_out(path, site)
        slowest_ms, cases = slowest_turn_ms(worked), sum(len(body.rows) for body in worked.bodies)
        ratios.append(full_ms / slowest_ms)
        print(
            f"{name}: {len(worked.setup.seating.up)} cups, {cases} cases: full check "
            f"{full_ms:.0f} ms, one cup turned {slowest_ms:.0f} ms at most (wanted "
            f"{WANTED_MS:.0f}): {ratios[-1]:.1f} times as quick"
        )
    return 0 if min(ratios) >= LEAST_TIMES else 1


if __name__ == "__main__":
    sys.exit(main())
