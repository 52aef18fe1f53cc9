"""``check --table``: the program lines that need most vacuum, by tool.  And progress on stderr."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TextIO

from kiosk.job.plan import Governed, Plan

_HEAD = "tool  line   needs kPa   share  lost by   x mm     y mm     z mm   push N  towards  up N"
_QUIET_S = 0.5


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


class Told:
    """Tells progress on a terminal, in one line written over, once half a second has passed.

    A file or a pipe gets nothing.
    """

    def __init__(self, stream: TextIO, clock: Callable[[], float]) -> None:
        self._stream = stream
        self._clock = clock
        self._begun_s = clock()
        self._said = ""

    def __call__(self, share: float, words: str) -> None:
        said = f"{share:4.0%} {words}"
        early = self._clock() - self._begun_s < _QUIET_S
        if said == self._said or early or not self._stream.isatty():
            return
        self._stream.write(f"\r{said:<40}")
        self._stream.flush()
        self._said = said

    def done(self) -> None:
        """Clear the line, when one was written."""
        if self._said:
            self._stream.write(f"\r{'':<40}\r")
            self._stream.flush()
