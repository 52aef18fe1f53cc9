"""The page of ordinary jobs: what the tool says of each, and how sure its minimum is.

python -m tests.job.ordinary_page
"""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

from kiosk.job.plan import Plan
from kiosk.job.spread import spread_of
from tests.job.ordinary_jobs import BAD, DISPUTED, GOOD, Ordinary
from tests.job.ordinary_plans import plan_of, worked_of

PAGE = Path(__file__).resolve().parents[2] / "docs" / "ordinary-jobs.md"
TABLES = (
    ("Jobs that hold every day", GOOD),
    ("Jobs open to dispute", DISPUTED),
    ("Jobs that are known to fly", BAD),
)
_HEAD = """\
# Ordinary jobs, and what the tool says of them

Written by `python -m tests.job.ordinary_page`; a test compares it. Which jobs hold every day and
which are known to fly is common practice, no source. One machine: cups of 68 mm seal at 110 mm,
nitrile lips on clean boards, a pump of 40 m3/h that ends at 88 kPa, safety factor 2, used edges,
feeds in mm/min. The level is what the gauge must show to start, the force without the factor.
"""
_SPREAD = """\

## How sure the minima are

As `holdpoint check --spread` has it: the minimum at the cups before the site's floor, kPa, with
every number at its better end, typical, as it decides, and at its worse end (which nothing asks
for); with typical numbers and no factor of safety; the product of the cautions; and what moves it
most, with its grade. The gauge can reach 66 to 87 kPa here: what is known to fly is above that
with typical numbers and no factor already; what is open to dispute is far below it.

| job | better | typical | decides | worse | no factor | product | moved most by |
|---|---|---|---|---|---|---|---|
"""


def told(row: Ordinary, plan: Plan) -> str:
    """One line of a first table."""
    cups = sum(seat.state == "up" for seat in plan.seats)
    level = "none" if plan.start_kpa is None else f"{plan.start_kpa:.0f}"
    governed, why = plan.governed_by, [row.why] if row.why else []
    if governed is not None:
        push = math.hypot(*governed.force_n[:2])
        first = {"slip": "slides first", "lift": "lifts first", "floor": "floor decides"}
        why.append(f"{first[governed.mode]}: {push:.0f} N sideways, {governed.force_n[2]:.0f} N up")
    said = "holds" if plan.verdict == "holds" else "refused"
    return f"| {row.name}, feed {row.feed} | {cups} | {said} | {level} | {'; '.join(why)} |"


def spread_told(row: Ordinary, folder: Path) -> str:
    """One line of the table of spreads."""
    spread = spread_of(worked_of(row, folder)[1])
    minima = (
        spread.better_kpa, spread.typical_kpa, spread.decided_kpa, spread.worse_kpa,
        spread.bare_kpa,
    )  # fmt: skip
    cells = ["none" if kpa is None else f"{kpa:.0f}" for kpa in minima]
    first = spread.moved[0]
    cells += [f"{spread.caution.product:.1f}", f"{first.name} ({first.grade})"]
    return f"| {row.name} | {' | '.join(cells)} |"


def page(folder: Path) -> str:
    """The page but for its spreads, every job worked out anew."""
    parts = [_HEAD]
    for title, rows in TABLES:
        lines = [told(row, plan_of(row, folder)) for row in rows]
        head = "| job | cups | said | level, kPa | why |\n|---|---|---|---|---|"
        parts.append(f"\n## {title}\n\n{head}\n" + "\n".join(lines) + "\n")
    return "".join(parts)


def spreads(folder: Path) -> str:
    """The last section of the page, every job worked out anew."""
    lines = [spread_told(row, folder) for _, rows in TABLES for row in rows]
    return _SPREAD + "\n".join(lines) + "\n"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        PAGE.write_text(page(Path(scratch)) + spreads(Path(scratch)), encoding="utf-8")
