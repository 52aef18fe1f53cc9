"""``check --table``: the program lines that need most vacuum, by tool."""

from __future__ import annotations

import math

from kiosk.job.plan import Governed, Plan

_HEAD = "tool  line   needs kPa   share  lost by   x mm     y mm     z mm   push N  towards  up N"


def governing(plan: Plan) -> list[Governed]:
    """The load that governs and the runners-up, the worst first."""
    first = [] if plan.governed_by is None else [plan.governed_by]
    return [*first, *plan.runners_up]


def as_table(plan: Plan) -> str:
    """A line for each of ``governing``, tool by tool; directions in degrees from x, part frame."""
    rows = governing(plan)
    if not rows or plan.model_kpa is None:
        return "No load of this job has a minimum."
    most = max(plan.model_kpa, 1e-9)
    ordered = sorted(rows, key=lambda row: -1 if row.tool is None else row.tool)
    return "\n".join([_HEAD, *(_row(row, most) for row in ordered)])


def _row(row: Governed, most_kpa: float) -> str:
    x, y, z = row.at_mm
    push_x, push_y, up = row.force_n
    push = math.hypot(push_x, push_y)
    towards = f"{math.degrees(math.atan2(push_y, push_x)) % 360.0:4.0f} deg" if push else "       -"
    tool, line = ("-" if number is None else str(number) for number in (row.tool, row.line))
    return (
        f"{tool:>4}  {line:>5}  {row.minimum_kpa:9.1f}  {row.minimum_kpa / most_kpa:5.0%}  "
        f"{row.mode:<7}{x:8.1f} {y:8.1f} {z:8.1f} {push:8.0f} {towards} {up:5.0f}"
    )
